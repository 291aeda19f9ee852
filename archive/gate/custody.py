"""The third door: machinery. Raw words for transcribing, describing and indexing, each time with a reason; and choosing
words for an excerpt, which reads the transcript of whoever may.

What comes out of here is for a machine's next step, never for a page, a file or a log.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import islice
from typing import NamedTuple

from archive.db import describing, mentions, people, sittings, words
from archive.db.session import Connection
from archive.db.words import SPEAKERS, Line
from archive.domain import editing
from archive.domain.agreements import TEAM, Standing
from archive.domain.attribution import hidden_names, name_parts
from archive.domain.consent import Decision, machine_allowed, told
from archive.domain.letters import in_a_row, without_possessive
from archive.domain.passages import Utterance
from archive.domain.quoting import Span, choose, text_tokens, word_tokens
from archive.domain.values import MIN_WORD_MS, Attribution, LineState, Role, Scan, Stretch, Viewer, Way, Word
from archive.domain.values import Decision as Decided
from archive.errors import BadInput, Refused
from archive.gate.carried import keep_version
from archive.gate.merged import keep_merged, kept_line, newest_corrected
from archive.gate.reading import Context, Reading, Readings
from archive.gate.spelled import Spelled, may_prime

_CLOSED = "[closed]\ue000"  # the private letter makes it a word that nobody writes


class Errand(StrEnum):
    """Why machinery needs raw words."""

    DESCRIBE = "describe"
    MEASURE = "measure against a script"
    NAMES = "hear names"  # also in closed speech: a name that nobody noted would not be hidden


@dataclass(frozen=True, slots=True)
class Spoken:
    """A recording's words for one errand, with who asked which questions and what is on record about names in these words."""

    utterances: tuple[Utterance, ...]
    interviewers: frozenset[int]
    roles: Mapping[int, str]
    version_id: int | None
    noted: tuple[mentions.Mention, ...]


def take(connection: Connection, recording_id: int, errand: Errand, context: Context) -> Spoken:
    """Raw words for an errand. Raises Refused where our own computer may not listen to this recording today."""
    reading = Readings(connection, context).of(recording_id)
    if errand not in (Errand.MEASURE, Errand.NAMES):
        require_machine(reading)
    asking = frozenset(p for p, role in reading.roles.items() if role == "interviewer")
    return Spoken(tuple(reading.utterances), asking, reading.roles, reading.version_id, tuple(reading.mentions))


def require_machine(reading: Reading) -> None:
    """Raises Refused unless the use “machine” is allowed for everybody who takes part, for the whole recording."""
    decision = _machine(reading, 0, reading.row.duration_ms)
    if not decision.allowed:
        raise Refused(
            "Our own computer may not listen to this recording.",
            told(decision.reasons, Role.EDITOR),
            "Record an agreement that allows the use “machine”, then start again.",
        )


def machine_may(connection: Connection, recording_id: int, start_ms: int, end_ms: int, context: Context) -> Decision:
    """May our own computer listen to this stretch today? Asked before every job and every chunk."""
    return _machine(Readings(connection, context).of(recording_id), start_ms, end_ms)


def may_listen(reading: Reading, start_ms: int, end_ms: int) -> bool:
    """True where our own computer may listen to a stretch of what is read in this transaction."""
    return _machine(reading, start_ms, end_ms).allowed


def _machine(reading: Reading, start_ms: int, end_ms: int) -> Decision:
    heard = frozenset(reading.roles) | reading.people_in(start_ms, end_ms)
    standings: list[Standing] = reading.standings_of(heard)
    stretch = Stretch(reading.recording_id, start_ms, max(end_ms, start_ms + 1))
    return machine_allowed(stretch, reading.row.interview_id, standings, reading.context.on, reading.readings.policy, Way.VOICE)


def keep_machine_text(
    connection: Connection, recording_id: int, run_id: int, lines: Sequence[tuple[int | None, Sequence[Word]]], by: str, at: str
) -> int:
    """Write the machine's transcript as a version: (speaker or None, words) an utterance. Returns the version that counts then:
    where people corrected what was heard before, one of its own, merged of both, with places to decide."""
    settle(connection, recording_id, by, at)
    kept = [Line(speaker, words=tuple(spoken)) for speaker, spoken in lines if spoken]
    mine = newest_corrected(connection, recording_id)
    if mine is None:
        return keep_version(connection, recording_id, "machine", kept, run_id, by, at)
    heard = keep_version(connection, recording_id, "machine", kept, run_id, by, at, beside=True)
    return keep_merged(connection, recording_id, mine, heard, by, at)


def keep_imported(
    connection: Connection, recording_id: int, lines: Sequence[tuple[int | None, Sequence[Word]]], by: str, at: str
) -> int:
    """Write a transcript that somebody brought as a version: (speaker or None, words) an utterance. Returns the version.

    It is no machine text, so it is in work; and nobody has heard it: ticks are not carried over to it. Edits that wait are
    written as a version of their own first.
    """
    settle(connection, recording_id, by, at)
    kept = [Line(speaker, words=tuple(spoken), state=LineState.IN_WORK, state_by=by) for speaker, spoken in lines if spoken]
    return keep_version(connection, recording_id, "imported", kept, None, by, at)


def heard_by_machine(connection: Connection, recording_id: int, context: Context) -> tuple[int, list[Word]]:
    """The newest machine transcript and its words, to put a typed one to the sound; (0, []) where there is none.
    Raises Refused where our own computer may not listen to this recording today."""
    require_machine(Readings(connection, context).of(recording_id))
    version_id = words.newest_of_kind(connection, recording_id, "machine")
    return version_id or 0, [w for u in words.utterances(connection, version_id) for w in u.words] if version_id else []


def newest_version(connection: Connection, recording_id: int) -> int | None:
    """The version that counts today, None where there is none: whoever writes another one looks whether it still is."""
    return words.newest_version(connection, recording_id)


class Origin(NamedTuple):
    """Where the words of today come from: machine or imported, who brought them (an account or a code), when (ISO 8601)."""

    kind: str
    by: str
    at: str


def origin(connection: Connection, recording_id: int) -> Origin | None:
    """Where a recording's words come from; None where it has none."""
    row = words.origin(connection, recording_id)
    return Origin(str(row.kind), str(row.by), str(row.at)) if row is not None else None


def keep_speakers(
    connection: Connection, recording_id: int, speakers: Mapping[int, int | None], by: str, at: str
) -> int:
    """Write a version in which these blocks have these speakers (None: unassigned); returns how many changed."""
    if words.newest_version(connection, recording_id) is None:
        raise BadInput("This recording has no transcript yet.", "Transcribe it first.")
    settle(connection, recording_id, by, at)
    before = words.lines_now(connection, recording_id)
    unknown = set(speakers) - {line.key for line in before}
    if unknown:
        raise BadInput("Some of these utterances are not in the newest transcript.", "Load the page again.")
    lines = [replace(line, speaker_id=speakers.get(line.key, line.speaker_id)) for line in before]
    changed = sum(a.speaker_id != b.speaker_id for a, b in zip(lines, before, strict=True))
    if changed:
        keep_version(connection, recording_id, SPEAKERS, [kept_line(line) for line in lines], None, by, at)
    return changed


def settle(connection: Connection, recording_id: int, by: str, at: str) -> int | None:
    """Write what people changed since the newest version as a version of its own, where anything waits. Returns it."""
    if not sittings.count_waiting(connection, recording_id):
        return None
    lines = [kept_line(line) for line in words.lines_now(connection, recording_id)]
    return keep_version(connection, recording_id, "sitting", lines, None, by, at)


def keep_again(connection: Connection, recording_id: int, version_id: int, by: str, at: str) -> int:
    """Write the lines of an older version as the newest one; returns it."""
    lines = [kept_line(line) for line in words.lines_of(connection, version_id)]
    return keep_version(connection, recording_id, "back", lines, None, by, at)


def times_of_utterances(connection: Connection, recording_id: int) -> list[tuple[int, int, int, int | None]]:
    """(block id, start_ms, end_ms, speaker) of the newest version: times alone, no words."""
    version_id = words.newest_version(connection, recording_id)
    return [(n.key, n.start_ms, n.end_ms, n.speaker_id) for n in words.lines_of(connection, version_id)] if version_id else []


def utterances_to_compare(connection: Connection, recording_id: int, context: Context) -> tuple[Utterance, ...]:
    """Whole utterances whose voice our own computer may compare today: it may listen to them, and they are closed to nobody of the team.

    Raises Refused where there is none because it may not listen.
    """
    reading = Readings(connection, context).of(recording_id)
    if not reading.utterances:
        return ()
    refused = _machine(reading, 0, reading.row.duration_ms)
    heard = reading.utterances
    if not refused.allowed:  # perhaps only because of some stretch
        heard = [u for u in heard if _machine(reading, u.start_ms, u.end_ms).allowed]
        if not heard:
            require_machine(reading)
    team = reading.open_pieces(Viewer("machine", Role.EDITOR), TEAM, Way.VOICE)
    return tuple(u for u in heard if any(s <= u.start_ms and u.end_ms <= e for s, e in team))


def choose_spans(
    connection: Connection, viewer: Viewer, recording_id: int, quote: str, context: Context
) -> tuple[int, list[Span]]:
    """The newest version and the spans a quote consists of, among the words this viewer may read.

    Raises NotFaithful with the differing words; words that are closed to the viewer count as not there.
    """
    reading = Readings(connection, context).of(recording_id)
    if reading.version_id is None:
        raise BadInput("This recording has no transcript yet.", "Transcribe it first.")
    pieces = _open_pieces(reading, viewer)
    chosen = choose(quote, [(n, words) for n, (_, words) in enumerate(pieces)], reading.masks(), reading.instead())
    spans = []
    for span in chosen:
        place = pieces[span.block_id][0]
        spans.append(Span(place[0], place[1] + span.first, place[1] + span.last))
    return reading.version_id, spans


def _open_pieces(reading: Reading, viewer: Viewer) -> list[tuple[tuple[int, int], tuple[Word, ...]]]:
    """((block id, index of its first word), words) of everything this viewer may read, in order. Where words are closed a
    word stands that nobody can quote, so that no quote runs over the gap without […]."""
    pieces: list[tuple[tuple[int, int], tuple[Word, ...]]] = []
    closed = (Word(_CLOSED, 0, MIN_WORD_MS),)
    for utterance in reading.utterances:
        at = 0
        for run in reading.runs(utterance, viewer):
            if run.first > at:
                pieces.append(((utterance.block_id, at), closed))
            pieces.append(((utterance.block_id, run.first), run.words))
            at = run.first + len(run.words)
        if at < len(utterance.words):
            pieces.append(((utterance.block_id, at), closed))
    return pieces


def range_in_time(
    connection: Connection, viewer: Viewer, recording_id: int, first: tuple[int, int], last: tuple[int, int], context: Context
) -> tuple[int, int]:
    """Where the words from one to another lie (ms), each given as (block id, word index). Raises Refused where any is closed."""
    version_id, spans = choose_range(connection, viewer, recording_id, first, last, context)
    reading = Readings(connection, context).of(recording_id, version_id)
    stretches = [reading.span_stretch(span) for span in spans]
    return min(s for s, _ in stretches), max(e for _, e in stretches)


def choose_range(
    connection: Connection, viewer: Viewer, recording_id: int, first: tuple[int, int], last: tuple[int, int], context: Context
) -> tuple[int, list[Span]]:
    """The spans from one word to another, each given as (block id, word index). Raises Refused where any is closed."""
    reading = Readings(connection, context).of(recording_id)
    order = reading.order()
    if reading.version_id is None or first[0] not in order or last[0] not in order:
        raise BadInput("These words are not in the newest transcript.", "Load the page again and choose anew.")
    a, b = order.index(first[0]), order.index(last[0])
    if (a, first[1]) > (b, last[1]):
        (a, first), (b, last) = (b, last), (a, first)
    spans = []
    for utterance in reading.utterances[a : b + 1]:
        start = first[1] if utterance.block_id == first[0] else 0
        end = last[1] if utterance.block_id == last[0] else len(utterance.words) - 1
        if not 0 <= start <= end < len(utterance.words):
            raise BadInput("These words are not in the newest transcript.", "Load the page again and choose anew.")
        if not any(r.first <= start and end < r.first + len(r.words) for r in reading.runs(utterance, viewer)):
            raise Refused("Some of these words are closed.", (), "Choose words outside the closed stretch.")
        spans.append(Span(utterance.block_id, start, end))
    return reading.version_id, spans


def snap_outwards(connection: Connection, stretch: Stretch) -> Stretch:
    """A stretch rounded outwards to whole words, so that no seal or mask leaves half a word."""
    version_id = words.newest_version(connection, stretch.recording_id)
    start_ms, end_ms = stretch.start_ms, stretch.end_ms
    for utterance in words.utterances(connection, version_id) if version_id else []:
        for word in utterance.words:
            if word.start_ms < stretch.end_ms and stretch.start_ms < word.end_ms:
                start_ms, end_ms = min(start_ms, word.start_ms), max(end_ms, word.end_ms)
    return Stretch(stretch.recording_id, start_ms, end_ms)


def utterances_naming(connection: Connection, person_id: int, context: Context) -> list[Stretch]:
    """Every utterance in which a person is named and that was not decided to be about something else."""
    found: dict[Stretch, None] = {}
    for recording_id in sorted(mentions.recordings_of(connection, person_id)):
        reading = Readings(connection, context).of(recording_id)
        for mention in reading.mentions:
            if mention.person_id == person_id and mention.decision != Decided.KEEP:
                for said in reading.overlapping(mention.stretch.start_ms, mention.stretch.end_ms):
                    found[Stretch(recording_id, said.start_ms, said.end_ms)] = None
    return list(found)


def vocabulary(
    connection: Connection, recording_id: int, places: Sequence[str], most: int, context: Context, spelled: Sequence[Spelled] = ()
) -> list[str]:  # fmt: skip
    """Words that prime the engine, at most so many: `places`, then participants by the name they are called by (the full or the
    first one), then the archive's own list of spellings.

    What a primed engine drops is heard again without them (speech/whisper.py). Never a name that is hidden, not as part
    of a place either ("Marsh's field"): an unnamed narrator's would come back from silence. A name that is noted as
    being a word or a place as well may stand in a place. Never the name of somebody who withdrew, paused or objected, of
    whom a person decided here that they are hidden, nor a place that is hidden like a name; of the list of spellings none that
    holds a name which is hidden or undecided anywhere, or that is said in closed speech alone.
    """
    readings = Readings(connection, context)
    reading = readings.of(recording_id)
    decided = {m.person_id for m in mentions.current(connection, recording_id) if m.decision == Decided.HIDE}
    gone = {p for p in reading.roles if p in decided or reading.held(p)}
    hidden = {
        token
        for person_id, known in reading.names.items()
        for text, scan in hidden_names(known, Attribution.UNNAMED if person_id in gone else reading.attribution(person_id))
        if scan == Scan.ALWAYS or person_id in gone
        for part in name_parts(text) or [text]  # "the Duchess" hides no "the"
        for token in text_tokens(part)
    }
    closed = readings.hidden_places
    spoken = [(p, [without_possessive(t) for t in text_tokens(p)]) for p in places]
    free = [p for p, tokens in spoken if hidden.isdisjoint(tokens) and not any(in_a_row(tokens, c) for c in closed)]
    names = [
        n.text
        for person_id in reading.roles
        if person_id not in gone
        for n in reading.names.get(person_id, [])
        if (n.kind, reading.attribution(person_id)) in (("full", Attribution.FULL), ("first", Attribution.FIRST))
    ]
    first = [*dict.fromkeys([*free, *names])][:most]
    others = [s for s in spelled if s.text not in first]
    return [*first, *islice(may_prime(readings, recording_id, others), most - len(first))]


def stretches_of(
    connection: Connection, viewer: Viewer, recording_id: int, said: str, context: Context
) -> list[Stretch]:
    """Every place where these words stand, one after another, among those that this viewer may read."""
    reading = Readings(connection, context).of(recording_id)
    if reading.version_id is None:
        raise BadInput("This recording has no transcript yet.", "Transcribe it first.")
    spoken = [
        (token, word) for _, piece in _open_pieces(reading, viewer) for word in piece for token in word_tokens(word.text)
    ]
    wanted = list(text_tokens(said))
    found = []
    for at in range(len(spoken) - len(wanted) + 1):
        run = spoken[at : at + len(wanted)]
        if wanted and [t for t, _ in run] == wanted:
            found.append(Stretch(recording_id, run[0][1].start_ms, max(w.end_ms for _, w in run)))
    return found


def transcribed(connection: Connection) -> set[int]:
    """Ids of recordings that have words."""
    return set(words.recordings_with_words(connection))


def only_participant(connection: Connection, interview_id: int | None) -> int | None:
    """The person, where exactly one took part; else None: nobody is guessed."""
    found = list(people.participants(connection, interview_id))
    return found[0] if len(found) == 1 else None


@dataclass(frozen=True, slots=True)
class Counted:
    """Numbers about a recording that tell nobody what was said."""

    words: int
    far: editing.Progress
    suggestions: int

    @property
    def unassigned(self) -> int:
        """Utterances without a speaker."""
        return self.far.unassigned


def count(connection: Connection, recording_id: int) -> Counted:
    """How many words, utterances without a speaker, and suggestions that wait. Counted where they lie: no word is read."""
    version_id = words.newest_version(connection, recording_id)
    spoken = words.counted(connection, version_id) if version_id else 0
    far = words.progress(connection, version_id) if version_id else editing.progress(())
    return Counted(spoken, far, describing.count_suggested(connection, recording_id))
