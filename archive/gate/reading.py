"""One recording as the gate sees it inside one transaction: its words, who is heard where, what is closed and masked.

A `Reading` has raw words: nothing outside gate/ touches one (a test of the walls). The three doors build what may pass.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property, lru_cache, partial
from typing import Any

from archive.db import (
    consent_rows,
    excerpts,
    gazetteer,
    languages,
    mentions,
    people,
    reach,
    recordings,
    runs,
    uses,
    words,
    works,
)
from archive.db.decided import Kept, Known
from archive.db.session import Connection, Row
from archive.domain.agreements import Policy, Standing, Work
from archive.domain.attribution import WITHHELD, PersonName, attribution_line
from archive.domain.cleared import ForbiddenName
from archive.domain.consent import not_refused
from archive.domain.editing import Line
from archive.domain.languages import Spoken
from archive.domain.letters import without_possessive
from archive.domain.passages import Utterance
from archive.domain.quoting import Span, text_tokens, word_tokens
from archive.domain.reach import EVERYTHING, Reach
from archive.domain.silence import MARGIN_MS
from archive.domain.values import MIN_WORD_MS, Attribution, LineState, Naming, Role, Stretch, Use, Viewer, Way, Word
from archive.domain.values import Decision as Decided
from archive.gate.forbidden import Hidden, forbidden_names, forbidden_words
from archive.gate.masked import Masked
from archive.gate.scan_match import Matcher
from archive.rules.names import NameFinder, PersonNames

HEARD_BY_A_PERSON = (LineState.CORRECTED, LineState.CHECKED, LineState.AGREED)
MOST_AHEAD = 300  # people whose records are read in one go; more come as they are asked about


@dataclass(frozen=True, slots=True)
class Context:
    """What every decision needs beside the records: the day, the exhibition, how far a mute reaches beyond a name, and the pause
    before use in days."""

    on: date
    exhibition: str
    margin_ms: int = MARGIN_MS
    cooling_off_days: int = 0


def called(names: Iterable[PersonName], wish: Attribution, code: str, viewer: Viewer | None) -> str:
    """What to call a person: as they wish; to keeper and editor with the code beside it, to the keeper by full name."""
    known = list(names)
    line = attribution_line(known, wish)
    if viewer is None or viewer.role == Role.READER:
        return line
    if viewer.role == Role.KEEPER:
        line = next((n.text for n in known if n.kind == "full"), line)
    return f"{code} · {line}"


@lru_cache(maxsize=2)  # names change seldom, and making it of four hundred costs more than most questions
def _matcher(forbidden: tuple[ForbiddenName, ...]) -> Matcher:
    return Matcher(forbidden)


class Readings:
    """The recordings that one transaction looks at, each read once. After a write, make a new one.

    Services may hold it, to hand it from one door to the next; what it holds is the gate's alone. `kept`: what was read of consent before.
    """

    def __init__(self, connection: Connection, context: Context, kept: Kept | None = None) -> None:
        self.connection, self.context = connection, context
        self._known: dict[tuple[int, int | None], Reading] = {}
        self._today: dict[int, int | None] = {}
        self._about: dict[int, tuple[Row[Any], dict[int, str], tuple[int, ...]]] = {}
        self._anew: set[int] = set()
        self._works: dict[int, tuple[Work, ...]] = {}
        self._interviewed_on: dict[int, date] = {}
        self._hidden_here: dict[int, tuple[Hidden, ...]] = {}
        self._not_refused: dict[int, frozenset[tuple[str, Way]]] = {}
        self.known = kept.at(connection) if kept is not None else Known()
        self._reach: dict[Viewer, Reach] = {}
        self._standings: dict[int, Standing] = self.known.once("standings", dict)

    def reach(self, viewer: Viewer | None) -> Reach:
        """How far an account reaches; what leaves, or no account asks for, has no such limit."""
        if viewer is None:
            return EVERYTHING
        if viewer not in self._reach:
            self._reach[viewer] = reach.of(self.connection, viewer)
        return self._reach[viewer]

    def reads_names(self, viewer: Viewer) -> bool:
        """Whoever knows who is who reads the full wording, everybody else the shown one, with its masks. So does an account by which somebody
        is not to be opened: others name them as well."""
        return viewer.role != Role.READER and not self.reach(viewer).people

    def standings_of(self, people_heard: Iterable[int]) -> list[Standing]:
        """What is on record about each of these people. The first question reads it for all who take part anywhere."""
        wanted = sorted(set(people_heard))
        missing = set(wanted) - self._standings.keys()
        if missing:
            beside = people.taking_part(self.connection, MOST_AHEAD) if not self._standings else set()
            self._standings.update(consent_rows.load_standings(self.connection, missing | beside))
        return [self._standings[p] for p in wanted]

    def may_be_put_to(self, people_heard: Iterable[int], use: str, way: Way) -> bool:
        """False where somebody never answered anything but no for this use and way: judging could only refuse."""
        for person_id in people_heard:
            if person_id not in self._not_refused:
                (standing,) = self.standings_of([person_id])
                self._not_refused[person_id] = not_refused(standing)
            if (use, way) not in self._not_refused[person_id]:
                return False
        return True

    def of(self, recording_id: int, version_id: int | None = None) -> Reading:
        """The recording in this version; in today's where none is named."""
        self.ahead([recording_id])
        key = (recording_id, version_id or self._today[recording_id])
        if key not in self._known:
            self._known[key] = Reading(self, *key)
        return self._known[key]

    def in_outline(self, recording_id: int) -> None:
        """From here on this transaction reads today's version in outline: who speaks when, and the words where anything may be closed or
        a name is noted. More come by `read_words`. A page of three hours needs no more. What was read whole before stays so."""
        self.ahead([recording_id])
        today = self._today[recording_id]
        if (recording_id, today) in self._known:
            return
        reading = Reading(self, recording_id, today)
        listed = words.lines_of(self.connection, today) if today is not None else []
        reading.utterances = [Utterance(n.key, n.speaker_id, n.start_ms, n.end_ms, (), n.state) for n in listed]
        reading.read_words((edge, edge + 1) for edge in reading.edges)
        reading.read_words((m.stretch.start_ms - MIN_WORD_MS, m.stretch.end_ms + MIN_WORD_MS) for m in reading.noted)
        self._known[recording_id, today] = reading

    def near(self, stretches: Iterable[Stretch]) -> dict[int, Reading]:
        """recording id → a reading of today's version that has what is said in these stretches and nothing else: an
        answer of Find needs a minute of three hours."""
        pieces: dict[int, set[tuple[int, int]]] = {}
        for stretch in stretches:
            pieces.setdefault(stretch.recording_id, set()).add((stretch.start_ms, stretch.end_ms))
        self.ahead(pieces)
        asked = {today: pieces[r] for r in pieces if (today := self._today[r]) is not None}
        said = words.utterances_near(self.connection, asked) if asked else {}
        noted = mentions.current_in(self.connection, pieces)
        found = {}
        for recording_id in pieces:
            today = self._today[recording_id]
            found[recording_id] = Reading(self, recording_id, today)
            found[recording_id].utterances = said[today] if today is not None else []
            found[recording_id].noted = noted[recording_id]
        return found

    def lines(self, recording_id: int, lines: Iterable[Line]) -> Reading:
        """A reading of these lines as they stand at somebody's desk, with the consent of today."""
        reading = Reading(self, recording_id, self.of(recording_id).version_id)
        reading.mentions = mentions.current(self.connection, recording_id)  # of whatever transcript: who types sees all words
        reading.utterances = [Utterance(n.key, n.speaker_id, n.start_ms, n.end_ms, n.words, n.state) for n in lines]
        return reading

    def about(self, recording_id: int) -> tuple[Row[Any], dict[int, str], tuple[int, ...]]:
        """A recording's row, who takes part in which role, and the times at which an answer could change (ms)."""
        self.ahead([recording_id])
        return self._about[recording_id]

    def works_of(self, recording_id: int) -> tuple[Work, ...]:
        """Other people's works inside a recording."""
        self.ahead([recording_id])
        return self._works.get(recording_id, ())

    def interviewed_on(self, recording_id: int) -> date:
        """The last day of its interview, as somebody said it; else the day on which it came in."""
        self.ahead([recording_id])
        return self._interviewed_on[recording_id]

    def written_anew(self, recording_id: int) -> bool:
        """True where a recording has had other words before: then not every decision is about today's."""
        self.ahead([recording_id])
        return recording_id in self._anew

    def ahead(self, recording_ids: Iterable[int]) -> None:
        """Read in one go what is asked about these recordings again and again."""
        new = set(recording_ids) - self._about.keys()
        if not new:
            return
        newest = words.recordings_with_words(self.connection, new)
        self._anew |= words.with_other_words(self.connection, new)
        edges = consent_rows.cut_edges(self.connection, new)
        rows = recordings.by_ids(self.connection, new)
        self._works |= works.of_recordings(self.connection, new)
        self._interviewed_on |= recordings.last_days(self.connection, rows)
        roles = people.participants_of(self.connection, {r.interview_id for r in rows if r.interview_id is not None})
        for row in rows:
            self._about[row.id] = (row, roles.get(row.interview_id, {}), edges[row.id])
            self._today[row.id] = newest.get(row.id)

    @cached_property
    def names(self) -> dict[int, list[PersonName]]:
        """person id → names, of everybody on record."""
        return self.known.once("names", partial(people.names, self.connection))

    @cached_property
    def codes(self) -> dict[int, str]:
        """person id → code."""
        return people.codes_by_id(self.connection)

    @cached_property
    def uses(self) -> dict[str, Use]:
        """The archive's uses, by code."""
        return uses.every_use(self.connection)

    @cached_property
    def policy(self) -> Policy:
        """What the archive decided at `init`."""
        return consent_rows.load_policy(self.connection, self.context.cooling_off_days)

    @cached_property
    def forbidden(self) -> tuple[ForbiddenName, ...]:
        """What may be read nowhere unless something lets it stand there: every name on record, and what somebody decided to
        hide of people who are not, wherever it was said."""
        said = [h for r in sorted(mentions.recordings_hiding(self.connection)) for h in self.hidden_here(r) if h.decided]
        on_record = self.known.once("forbidden names", lambda: forbidden_names(self.names))
        return (*on_record, *forbidden_words(said, self.places))

    @cached_property
    def matcher(self) -> Matcher:
        """The last scan's own eyes, for these."""
        return _matcher(self.forbidden)

    @cached_property
    def places(self) -> frozenset[str]:
        """Folded words of the gazetteer: looked for alone they name nobody."""
        others = gazetteer.place_names(self.connection)
        named = [t for p in gazetteer.places(self.connection) for t in (p.name, *(text for text, _ in others.get(p.id, ())))]
        return frozenset(token for text in named for token in text_tokens(text))

    @cached_property
    def hidden_places(self) -> tuple[tuple[str, ...], ...]:
        """The words of places that are hidden like names, or not decided yet, wherever they were said, in older transcripts too:
        today's may have another word there."""
        found: dict[tuple[str, ...], None] = {}
        for recording_id in sorted(mentions.recordings_with(self.connection, Naming.PLACE)):
            for version_id in words.versions_with_words(self.connection, recording_id):
                reading = self.of(recording_id, version_id)
                for mention in reading.mentions:
                    if mention.kind == Naming.PLACE and not mention.decision.shows:
                        found[tuple(without_possessive(t) for t in text_tokens(reading.words_in(mention.stretch)))] = None
        return tuple(found)

    def hidden_here(self, recording_id: int) -> tuple[Hidden, ...]:
        """What is hidden in a recording of people who are not on record, with its words; read once."""
        if recording_id not in self._hidden_here:
            found = [m for m in mentions.current(self.connection, recording_id) if m.person_id is None and not m.decision.shows]
            reading = self.near(m.stretch for m in found)[recording_id] if found else None
            self._hidden_here[recording_id] = tuple(
                Hidden(reading.words_in(m.stretch), m.kind, m.decision == Decided.HIDE) for m in found if m in reading.mentions
            ) if reading is not None else ()
        return self._hidden_here[recording_id]

    @cached_property
    def finder(self) -> NameFinder:
        """Every name on record, to be found in words."""
        known = self.names.items()
        return NameFinder([PersonNames(p, tuple((n.text, n.kind, n.scan.value) for n in names)) for p, names in known])


class Reading(Masked):
    """A recording as the gate reads it in one transaction."""

    def __init__(self, readings: Readings, recording_id: int, version_id: int | None) -> None:
        super().__init__(readings, recording_id, version_id)
        self._blocks: dict[int, tuple[str, tuple[Word, ...]]] = {}
        self._given: tuple[frozenset[str], int] | None = None
        self._ticked: dict[int, set[int]] | None = None

    @cached_property
    def languages(self) -> Spoken:
        """Which language is spoken where."""
        return languages.of(self.connection, self.recording_id)

    def unsure(self, utterance: Utterance, doubtful_below: float) -> frozenset[int]:
        """Starts (ms) of the words that a person should hear: the machine was unsure, or they may be an echo of a name
        that it was given. What was ticked as heard against the sound, or corrected, is not unsure any more."""
        if utterance.state in HEARD_BY_A_PERSON:
            return frozenset()
        found = {n for n, w in enumerate(utterance.words) if w.probability < doubtful_below}
        primed, longest = self._primed()
        tokens = [(without_possessive(t), n) for n, w in enumerate(utterance.words) for t in word_tokens(w.text)] if primed else []
        for at in range(len(tokens)):
            joined = ""  # "Rope Walk" and "Ropewalk" are one echo
            for end in range(at, min(at + longest, len(tokens))):
                joined += tokens[end][0]
                if joined in primed:
                    found |= {n for _, n in tokens[at : end + 1]}
        heard = self._heard().get(utterance.block_id, set())
        return frozenset(utterance.words[n].start_ms for n in found - heard)

    def names_beyond(self, viewer: Viewer, start_ms: int, end_ms: int) -> list[tuple[int, int]]:
        """The stretches (ms) within these times that name somebody who is not to be opened by this account."""
        shut = self.readings.reach(viewer).people
        named = (m.stretch for m in self.mentions if m.person_id in shut) if shut else ()
        return [(s.start_ms, s.end_ms) for s in named if s.start_ms < end_ms and start_ms < s.end_ms]

    def _primed(self) -> tuple[frozenset[str], int]:
        """What the engine was given when it made this transcript, written together, and how many words the longest may
        be heard as; of people every part alone as well."""
        if self._given is None:
            run = runs.newest_run(self.connection, self.recording_id)
            listed = {text_tokens(text) for text in (run.vocabulary if run is not None else ())}
            of_people = {text_tokens(n.text) for known in self.names.values() for n in known}
            every = listed | {(part,) for parts in listed & of_people for part in parts}
            self._given = frozenset("".join(parts) for parts in every if parts), max((len(p) for p in every), default=0) + 1
        return self._given

    def _heard(self) -> dict[int, set[int]]:
        """block id → words that somebody ticked as heard against the sound."""
        if self._ticked is None:
            self._ticked = {}
            for block_id, first, last in excerpts.heard_spans(self.connection, self.recording_id):
                self._ticked.setdefault(block_id, set()).update(range(first, last + 1))
        return self._ticked

    def called(self, person_id: int, viewer: Viewer | None) -> str:
        """What to call a speaker: as they wish; the team's keeper and editors see the code beside it, a keeper the name. Nothing is told to an
        account by which they are not to be opened."""
        if person_id in self.readings.reach(viewer).people:
            return WITHHELD
        (standing,) = self.standings_of(frozenset({person_id}))
        wish = self.attribution(person_id)
        return called(self.names.get(person_id, []), wish, standing.code, viewer)

    # -- spans of an excerpt -----------------------------------------------------------------------------------
    def block(self, block_id: int) -> tuple[str, tuple[Word, ...]]:
        """A block's checksum and words."""
        if block_id not in self._blocks:
            self._blocks.update(words.blocks(self.connection, [block_id]))
        return self._blocks[block_id]

    def block_words(self, block_id: int) -> tuple[Word, ...]:
        """A block's words."""
        return self.block(block_id)[1]

    def order(self) -> list[int]:
        """The block ids of this version, in order."""
        return [u.block_id for u in self.utterances]

    def speakers_of_block(self, block_id: int) -> list[int | None]:
        """Who speaks in this block in this version."""
        return [u.speaker_id for u in self.utterances if u.block_id == block_id]

    def span_stretch(self, span: Span) -> tuple[int, int]:
        """Where a span lies, ms."""
        chosen = self.block_words(span.block_id)[span.first : span.last + 1]
        return chosen[0].start_ms, max(w.end_ms for w in chosen)

    def span_speakers(self, span: Span, today: Reading) -> tuple[int | None, ...]:
        """Who speaks a span as today's version has it. Where its block was corrected since, the pinned version's, if
        today's has the same people there; () where it has others."""
        now = today.speakers_of_block(span.block_id)
        if now:
            return tuple(dict.fromkeys(now))
        pinned = tuple(dict.fromkeys(self.speakers_of_block(span.block_id)))
        there = {u.speaker_id for u in today.overlapping(*self.span_stretch(span))}
        return pinned if there == set(pinned) else ()

    def span_heard(self, span: Span, today: Reading) -> tuple[tuple[int, int], frozenset[int]]:
        """A span's stretch (ms) and the people whose consent it needs: those of the pinned version and of today's."""
        stretch = self.span_stretch(span)
        now = today.speakers_of_block(span.block_id)
        heard = self.expand(self.speakers_of_block(span.block_id))
        return stretch, heard | (today.expand(now) if now else today.people_in(*stretch))
