"""One recording as the gate sees it inside one transaction: its words, who is heard where, what is closed and masked.

A `Reading` has raw words: nothing outside gate/ touches one (a test of the walls). The three doors build what may pass.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, NamedTuple

from archive.audio.edges import widened
from archive.db import (
    consent_rows,
    describing,
    excerpts,
    facts,
    languages,
    mentions,
    people,
    recordings,
    runs,
    uses,
    words,
)
from archive.db.mentions import Mention
from archive.db.session import Connection, Row
from archive.domain import consent
from archive.domain.agreements import Asked, Policy, Standing, Wish
from archive.domain.attribution import PersonName, attribution_line, shown_names
from archive.domain.cleared import ForbiddenName
from archive.domain.consent import Decision
from archive.domain.editing import Line
from archive.domain.languages import Spoken
from archive.domain.letters import without_possessive
from archive.domain.masking import under_masks
from archive.domain.passages import Utterance
from archive.domain.quoting import Span, text_tokens, word_tokens
from archive.domain.silence import MARGIN_MS, hidden_stretches
from archive.domain.values import MIN_WORD_MS, Attribution, LineState, Role, Stretch, Use, Viewer, Way, Word
from archive.domain.values import Decision as Decided
from archive.gate.carried import counting
from archive.gate.forbidden import Hidden, forbidden_names, forbidden_words
from archive.gate.scan_match import Matcher
from archive.rules.carrying import Said
from archive.rules.names import NameFinder, PersonNames

HEARD_BY_A_PERSON = (LineState.CORRECTED, LineState.CHECKED, LineState.AGREED)
PAUSE_MS = 600  # where captions are parted (render/captions.py)
MOST_AHEAD = 300  # people whose records are read in one go; more come as they are asked about


@dataclass(frozen=True, slots=True)
class Context:
    """What every decision needs beside the records: the day, the exhibition, and how far a mute reaches beyond a name."""

    on: date
    exhibition: str
    margin_ms: int = MARGIN_MS


class Run(NamedTuple):
    """Words of an utterance that stand in a row and are open: the index of the first one in its block, and the words."""

    first: int
    words: tuple[Word, ...]


def called(names: Iterable[PersonName], wish: Attribution, code: str, viewer: Viewer | None) -> str:
    """What to call a person: as they wish; to keeper and editor with the code beside it, to the keeper by full name."""
    known = list(names)
    line = attribution_line(known, wish)
    if viewer is None or viewer.role == Role.READER:
        return line
    if viewer.role == Role.KEEPER:
        line = next((n.text for n in known if n.kind == "full"), line)
    return f"{code} · {line}"


class Kept:
    """Consent records read once and kept for the questions that follow, until consent moves (`consent_revision`).

    For read transactions alone: what a writer sees may be rolled back, and the next writer raises the same number.
    """

    def __init__(self) -> None:
        self._at: tuple[int, dict[int, Standing]] = (-1, {})

    def standings(self, connection: Connection) -> dict[int, Standing]:
        """person id → what is on record, as far as it was asked for at this revision; to be added to."""
        revision = facts.consent_revision(connection)
        if self._at[0] != revision:
            self._at = (revision, {})
        return self._at[1]


class Readings:
    """The recordings that one transaction looks at, each read once. After a write, make a new one.

    Services may hold it, to hand it from one door to the next; what it holds is the gate's alone.
    """

    def __init__(self, connection: Connection, context: Context, kept: Kept | None = None) -> None:
        self.connection, self.context = connection, context
        self._known: dict[tuple[int, int | None], Reading] = {}
        self._today: dict[int, int | None] = {}
        self._about: dict[int, tuple[Row[Any], dict[int, str], tuple[int, ...]]] = {}
        self._anew: set[int] = set()
        self._hidden_here: dict[int, tuple[Hidden, ...]] = {}
        self._standings: dict[int, Standing] = kept.standings(connection) if kept is not None else {}

    def standings_of(self, people_heard: Iterable[int]) -> list[Standing]:
        """What is on record about each of these people. The first question reads it for all who take part anywhere."""
        wanted = sorted(set(people_heard))
        missing = set(wanted) - self._standings.keys()
        if missing:
            beside = people.taking_part(self.connection, MOST_AHEAD) if not self._standings else set()
            self._standings.update(consent_rows.load_standings(self.connection, missing | beside))
        return [self._standings[p] for p in wanted]

    def of(self, recording_id: int, version_id: int | None = None) -> Reading:
        """The recording in this version; in today's where none is named."""
        self.ahead([recording_id])
        key = (recording_id, version_id or self._today[recording_id])
        if key not in self._known:
            self._known[key] = Reading(self, *key)
        return self._known[key]

    def near(self, stretches: Iterable[Stretch]) -> dict[int, Reading]:
        """recording id → a reading of today's version that has what is said in these stretches and nothing else: an
        answer of Find needs a minute of three hours."""
        pieces: dict[int, set[tuple[int, int]]] = {}
        for stretch in stretches:
            pieces.setdefault(stretch.recording_id, set()).add((stretch.start_ms, stretch.end_ms))
        self.ahead(pieces)
        asked = {today: pieces[r] for r in pieces if (today := self._today[r]) is not None}
        said = words.utterances_near(self.connection, asked) if asked else {}
        found = {}
        for recording_id in pieces:
            today = self._today[recording_id]
            found[recording_id] = Reading(self, recording_id, today)
            found[recording_id].utterances = said[today] if today is not None else []
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
        roles = people.participants_of(self.connection, {r.interview_id for r in rows if r.interview_id is not None})
        for row in rows:
            self._about[row.id] = (row, roles.get(row.interview_id, {}), edges[row.id])
            self._today[row.id] = newest.get(row.id)

    @cached_property
    def names(self) -> dict[int, list[PersonName]]:
        """person id → names, of everybody on record."""
        return people.names(self.connection)

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
        return consent_rows.load_policy(self.connection)

    @cached_property
    def forbidden(self) -> tuple[ForbiddenName, ...]:
        """What may be read nowhere unless something lets it stand there: every name on record, and what somebody decided to
        hide of people who are not, wherever it was said."""
        said = [h for r in sorted(mentions.recordings_hiding(self.connection)) for h in self.hidden_here(r) if h.decided]
        return (*forbidden_names(self.names), *forbidden_words(said, self.places))

    @cached_property
    def matcher(self) -> Matcher:
        """The last scan's own eyes, for these."""
        return Matcher(self.forbidden)

    @cached_property
    def places(self) -> frozenset[str]:
        """Folded words of the gazetteer: looked for alone they name nobody."""
        others = describing.place_names(self.connection)
        named = [t for p in describing.places(self.connection) for t in (p.name, *(text for text, _ in others.get(p.id, ())))]
        return frozenset(token for text in named for token in text_tokens(text))

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


def _stands_alone(words: Sequence[Word], first: int, last: int) -> bool:
    """True where words may be a caption of their own: between sentences or pauses on both sides."""
    starts = first == 0 or words[first - 1].text.endswith((".", "!", "?", "…")) or words[first].start_ms - words[first - 1].end_ms >= PAUSE_MS
    ends = last + 1 == len(words) or words[last].text.endswith((".", "!", "?", "…")) or words[last + 1].start_ms - words[last].end_ms >= PAUSE_MS
    return starts and ends


class Reading:
    """A recording and its consent in one transaction. Decisions are remembered per set of people and piece."""

    def __init__(self, readings: Readings, recording_id: int, version_id: int | None) -> None:
        self.readings, self.recording_id, self.version_id = readings, recording_id, version_id
        self.connection, self.context = readings.connection, readings.context
        self.row, self.roles, self.edges = readings.about(recording_id)
        self._blocks: dict[int, tuple[str, tuple[Word, ...]]] = {}
        self._judged: dict[tuple[object, ...], Decision] = {}
        self._given: tuple[frozenset[str], int] | None = None
        self._ticked: dict[int, set[int]] | None = None
        self._masks: list[tuple[int, int]] | None = None
        self._instead: dict[tuple[int, int], str] | None = None
        self._tokens: dict[int, frozenset[str]] = {}
        self._mutes: dict[int, list[tuple[int, int]]] = {}
        self._hushed: dict[int, list[tuple[int, int]]] = {}

    @cached_property
    def utterances(self) -> list[Utterance]:
        """Everything that is said, in order."""
        return words.utterances(self.connection, self.version_id) if self.version_id else []

    @cached_property
    def words(self) -> list[Word]:
        """Every word, in order of utterances."""
        return [w for u in self.utterances for w in u.words]

    @cached_property
    def mentions(self) -> list[Mention]:
        """Who is named where in these words, as decided today. Decisions about another transcript count where its words are here."""
        known = mentions.current(self.connection, self.recording_id)
        if not self.readings.written_anew(self.recording_id):
            return known
        today = self.readings.of(self.recording_id)
        if self.version_id == today.version_id:
            return counting(known, self.said)
        if self.words == today.words:
            return today.mentions
        return counting(known, self.said, (today.mentions, today.said))

    @cached_property
    def languages(self) -> Spoken:
        """Which language is spoken where."""
        return languages.of(self.connection, self.recording_id)

    @cached_property
    def said(self) -> Said:
        """The words by their times."""
        return Said(self.words)

    @property
    def names(self) -> dict[int, list[PersonName]]:
        """person id → names, of everybody on record."""
        return self.readings.names

    @cached_property
    def _starts(self) -> list[int]:
        return [u.start_ms for u in self.utterances]

    @cached_property
    def _longest_ms(self) -> int:
        return max((u.end_ms - u.start_ms for u in self.utterances), default=0)

    # -- who is heard ------------------------------------------------------------------------------------------
    def overlapping(self, start_ms: int, end_ms: int) -> list[Utterance]:
        """Utterances that share time with this stretch."""
        first = bisect_left(self._starts, start_ms - self._longest_ms)
        last = bisect_left(self._starts, end_ms)
        return [u for u in self.utterances[first:last] if u.end_ms > start_ms]

    def expand(self, speakers: Iterable[int | None]) -> frozenset[int]:
        """People heard: an unassigned utterance (None) counts as everybody who took part (invariant 3)."""
        heard: set[int] = set()
        for speaker in speakers:
            heard |= {speaker} if speaker is not None else set(self.roles)
        return frozenset(heard)

    def people_in(self, start_ms: int, end_ms: int) -> frozenset[int]:
        """Everybody heard in this stretch. Where no words are, it counts as everybody: silence is only the machine's word."""
        found = self.overlapping(start_ms, end_ms)
        return self.expand(u.speaker_id for u in found) if found else frozenset(self.roles)

    # -- decisions ---------------------------------------------------------------------------------------------
    def judge(
        self, stretch: tuple[int, int], people_heard: frozenset[int], use: str, way: Way, viewer: Viewer | None = None
    ) -> Decision:
        """The decision for these people in this stretch, without a wording (showing, finding)."""
        piece = (bisect_right(self.edges, stretch[0]), bisect_left(self.edges, stretch[1]))
        key = (piece, people_heard, use, way, viewer is not None and viewer.opened and viewer.role)
        if key not in self._judged:
            asked = self._asked(stretch, use, way, viewer, None)
            self._judged[key] = consent.judge(asked, self.standings_of(people_heard), self.readings.policy)
        return self._judged[key]

    def decide(
        self, stretch: tuple[int, int], people_heard: frozenset[int], use: str, way: Way, wording_sha256: str | None
    ) -> Decision:
        """The whole decision with its re-check day, for exactly this wording."""
        asked = self._asked(stretch, use, way, None, wording_sha256)
        return consent.decide(asked, self.standings_of(people_heard), self.readings.policy)

    def _asked(
        self, stretch: tuple[int, int], use: str, way: Way, viewer: Viewer | None, wording_sha256: str | None
    ) -> Asked:
        return Asked(
            Stretch(self.recording_id, *stretch), self.row.interview_id, self.readings.uses[use], way, self.context.on,
            self.context.exhibition, wording_sha256, viewer,
        )  # fmt: skip

    def standings_of(self, people_heard: frozenset[int]) -> list[Standing]:
        """What is on record about each of these people."""
        return self.readings.standings_of(people_heard)

    def runs(self, utterance: Utterance, viewer: Viewer, use: str = "team") -> list[Run]:
        """The words of an utterance that are open to this viewer: all, none, or what a closed stretch leaves of them."""
        people_heard = self.expand([utterance.speaker_id])
        words = utterance.words
        if not any(utterance.start_ms < e < utterance.end_ms for e in self.edges):
            whole = self.judge((utterance.start_ms, utterance.end_ms), people_heard, use, Way.WORDS, viewer).allowed
            return [Run(0, tuple(words))] if whole else []
        found: list[Run] = []
        for index, word in enumerate(words):
            if not self.judge((word.start_ms, word.end_ms), people_heard, use, Way.WORDS, viewer).allowed:
                continue
            if found and found[-1].first + len(found[-1].words) == index:
                found[-1] = Run(found[-1].first, (*found[-1].words, word))
            else:
                found.append(Run(index, (word,)))
        return found

    def open_pieces(self, viewer: Viewer | None, use: str, way: Way) -> list[tuple[int, int]]:
        """Stretches (ms) of the whole recording that are open, merged; the rest is closed."""
        marks = {0, self.row.duration_ms}
        for edge in self.edges:  # a word that an edge cuts is closed whole, in sound as on the page
            cut = [w for u in self.overlapping(edge, edge + 1) for w in u.words if w.start_ms < edge < w.end_ms]
            marks |= {m for w in cut for m in (w.start_ms, w.end_ms)} or {edge}
        for utterance in self.utterances:
            marks |= {utterance.start_ms, utterance.end_ms}
        ordered = sorted(m for m in marks if 0 <= m <= self.row.duration_ms)
        pieces: list[tuple[int, int]] = []
        for start_ms, end_ms in zip(ordered, ordered[1:], strict=False):
            if not self.judge((start_ms, end_ms), self.people_in(start_ms, end_ms), use, way, viewer).allowed:
                continue
            if pieces and pieces[-1][1] == start_ms:
                pieces[-1] = (pieces[-1][0], end_ms)
            else:
                pieces.append((start_ms, end_ms))
        return pieces

    # -- names -------------------------------------------------------------------------------------------------
    def masks(self) -> list[tuple[int, int]]:
        """Stretches (ms) with a name that is hidden or undecided. What was decided to show, and participants named as
        they themselves wish to be named, are not masked."""
        if self._masks is None:
            self._masks = [(m.stretch.start_ms, m.stretch.end_ms) for m in self._hidden]
        return self._masks

    @cached_property
    def _hidden(self) -> list[Mention]:
        return [m for m in self.mentions if not self.shows(m)]

    def masks_in(self, start_ms: int, end_ms: int) -> list[tuple[int, int]]:
        """The masks that share time with this stretch."""
        masks, (starts, longest_ms) = self.masks(), self._mask_starts
        first, last = bisect_left(starts, start_ms - longest_ms), bisect_left(starts, end_ms)
        return [m for m in masks[first:last] if start_ms < m[1]]

    @cached_property
    def _mask_starts(self) -> tuple[list[int], int]:
        masks = self.masks()  # in order of their starts, as mentions are
        return [s for s, _ in masks], max((e - s for s, e in masks), default=0)

    @cached_property
    def undecided(self) -> frozenset[tuple[int, int]]:
        """Those masks about which nobody has decided yet."""
        return frozenset((m.stretch.start_ms, m.stretch.end_ms) for m in self.mentions if m.decision == Decided.UNDECIDED) & frozenset(self.masks())

    def instead(self) -> dict[tuple[int, int], str]:
        """mask (ms) → its own words, where all that hide there agree on them; other masks have the usual words."""
        if self._instead is None:
            said: dict[tuple[int, int], set[str]] = {}
            for m in self._hidden:
                said.setdefault((m.stretch.start_ms, m.stretch.end_ms), set()).add(m.instead if m.decision == Decided.HIDE else "")
            self._instead = {mask: words.pop() for mask, words in said.items() if len(words) == 1 and "" not in words}
        return self._instead

    def mutes(self, margin_ms: int | None = None) -> list[tuple[int, int]]:
        """What to silence where names are withheld, ms of the recording: the margin (the archive's own, where none is given)
        around every hidden word, and on to where the sound itself says that the name begins and ends."""
        wide_ms = self.context.margin_ms if margin_ms is None else margin_ms
        if wide_ms not in self._mutes:
            self._mutes[wide_ms] = self._widened(hidden_stretches(self.utterances, self.masks()), wide_ms)
        return self._mutes[wide_ms]

    def hushed(self, margin_ms: int | None = None) -> list[tuple[int, int]]:
        """What to silence beside words that are closed to everybody, ms: their times are guesses too, and what is open could
        begin with the end of one. Widened like a name's mute; the closed words themselves are not played anyway."""
        wide_ms = self.context.margin_ms if margin_ms is None else margin_ms
        if wide_ms not in self._hushed:
            pieces = self.open_pieces(None, "team", Way.VOICE)
            closed: list[tuple[int, int]] = []
            if pieces != [(0, self.row.duration_ms)]:
                starts = [s for s, _ in pieces]
                for word in self.words:
                    at = bisect_right(starts, word.start_ms) - 1
                    if at < 0 or word.end_ms > pieces[at][1]:
                        closed.append((word.start_ms, word.end_ms))
            self._hushed[wide_ms] = self._widened(closed, wide_ms)
        return self._hushed[wide_ms]

    def _widened(self, stretches: list[tuple[int, int]], margin_ms: int) -> list[tuple[int, int]]:
        levels = recordings.levels_of(self.connection, self.recording_id) if stretches else b""
        return widened(levels, stretches, margin_ms, self.row.duration_ms)

    def shown_mentions(self, start_ms: int, end_ms: int) -> list[str]:
        """The words of names in this stretch that may be read there (the last scan lets exactly these stand).

        What was decided to stand there and nowhere else ("keep") comes with a word beside it, so that the same name in a
        title or a file name is still found. Where something else hides any of these words, nothing lets them stand.
        """
        found: list[str] = []
        for m in self.mentions:
            if m.stretch.start_ms < end_ms and start_ms < m.stretch.end_ms and self.shows(m) and not self._masked(m.stretch):
                found += self._in_place(m.stretch, start_ms, end_ms) if m.decision == Decided.KEEP else [self.words_in(m.stretch)]
        return found

    def _masked(self, stretch: Stretch) -> bool:
        spoken = [w for u in self.overlapping(stretch.start_ms, stretch.end_ms) for w in u.words]
        mine = under_masks(spoken, [(stretch.start_ms, stretch.end_ms)])
        masked = under_masks(spoken, self.masks_in(stretch.start_ms, stretch.end_ms + MIN_WORD_MS))
        return any(a and b for a, b in zip(mine, masked, strict=True))

    def _in_place(self, stretch: Stretch, start_ms: int, end_ms: int) -> list[str]:
        """Words with the nearest word that is read before them, and with that after them, inside start_ms–end_ms; alone where there is neither."""
        found: list[str] = []
        for utterance in self.overlapping(stretch.start_ms, stretch.end_ms):
            inside = [w for w in utterance.words if start_ms <= w.start_ms < end_ms]
            under = under_masks(inside, [(stretch.start_ms, stretch.end_ms)])
            hits = [n for n, hit in enumerate(under) if hit]
            if not hits:
                continue
            masked = under_masks(inside, self.masks_in(start_ms, end_ms))
            said = " ".join(inside[n].text for n in hits)
            before = next((n for n in range(hits[0] - 1, -1, -1) if word_tokens(inside[n].text)), None)
            after = next((n for n in range(hits[-1] + 1, len(inside)) if word_tokens(inside[n].text)), None)
            found += [f"{inside[before].text} {said}"] if before is not None and not masked[before] else []
            found += [f"{said} {inside[after].text}"] if after is not None and not masked[after] else []
            found += [said] if _stands_alone(inside, hits[0], hits[-1]) else []
        return found or [self.words_in(stretch)]

    def shows(self, mention: Mention) -> bool:
        """True where a name may be read. "Keep" is about these very words and stands; what was cleared or is of public
        record is hidden again once its person withdraws, pauses or objects, or wishes later not to be named so."""
        person = mention.person_id
        if person is None or mention.decision == Decided.KEEP:
            return mention.decision.shows
        if mention.decision == Decided.HIDE or self.held(person):
            return False
        allowed = self._open_tokens(person)
        said = [without_possessive(t) for t in text_tokens(self.words_in(mention.stretch))]
        as_wished = bool(said) and all(t in allowed for t in said)
        if mention.decision.shows:
            return as_wished or self._wish(person).at <= mention.at
        return as_wished and person in self.roles

    def held(self, person_id: int) -> bool:
        """True while a hold on all of somebody's speech, or on this interview, is in force."""
        (standing,) = self.standings_of(frozenset({person_id}))
        return any(
            r.person_id == person_id and r.recording_id is None and r.use is None
            and r.interview_id in (None, self.row.interview_id) and r.holds_on(self.context.on)
            for r in standing.restraints
        )  # fmt: skip

    def words_in(self, stretch: Stretch) -> str:
        """What is said there, as one line."""
        found = [
            w.text
            for u in self.overlapping(stretch.start_ms, stretch.end_ms)
            for w, under in zip(u.words, under_masks(u.words, [(stretch.start_ms, stretch.end_ms)]), strict=True)
            if under
        ]
        return " ".join(found)

    def _open_tokens(self, person_id: int) -> frozenset[str]:
        if person_id not in self._tokens:
            self._tokens[person_id] = frozenset(t for name in self.open_names(person_id) for t in text_tokens(name))
        return self._tokens[person_id]

    def open_names(self, person_id: int) -> frozenset[str]:
        """The names of a person that may be read, as they wish to be called today."""
        return shown_names(self.names.get(person_id, []), self.attribution(person_id))

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

    def attribution(self, person_id: int) -> Attribution:
        """How this person wishes to be called today."""
        return self._wish(person_id).attribution

    def _wish(self, person_id: int) -> Wish:
        (standing,) = self.standings_of(frozenset({person_id}))
        return standing.wish_on(self.context.on)

    def called(self, person_id: int, viewer: Viewer | None) -> str:
        """What to call a speaker: as they wish; the team's keeper and editors see the code beside it, a keeper the name."""
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
