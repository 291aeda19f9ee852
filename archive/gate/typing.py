"""At the desk: lines of a transcript as an editor types at them, and the changes they make. A part of the first door.

A line of which anything is closed to the viewer is shown as closed and cannot be touched. Who the viewer is was asked by the
service: only keeper and editor sit here, and they read the full wording.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from rapidfuzz.distance import Levenshtein

from archive.db import words
from archive.db.session import Connection
from archive.domain import editing
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, ShownDifference, ShownLine
from archive.domain.editing import Change, Line
from archive.domain.marks import written_words
from archive.domain.masking import under_masks
from archive.domain.passages import Utterance
from archive.domain.values import MIN_WORD_MS, LineState, Viewer, Way
from archive.errors import BadInput, Refused
from archive.gate.reading import Reading, Readings
from archive.rules.spelled import instead

MOST_LETTERS = 20_000  # of one line: an hour of speech without a pause


@dataclass(frozen=True, slots=True)
class LineAct:
    """What a person asks for at their desk. `keys`: the lines they see it about, neighbours in order.

    `act`: type (`text`) · part (before the word number `at`) · join · speaker (`person_id`) · state (`state`) · verbatim, overlap (`on`) ·
    add (`text` between `start_ms` and `end_ms`) · spell (`text` in the place of the words of each of `runs`, first and last).
    """

    act: str
    keys: tuple[int, ...] = ()
    text: str = ""
    at: int = 0
    person_id: int | None = None
    state: str = ""
    on: bool = False
    start_ms: int = 0
    end_ms: int = 0
    runs: tuple[tuple[int, int], ...] = ()


def lines_now(connection: Connection, recording_id: int) -> list[Line]:
    """The lines of a recording as they stand now, without their words: the newest version and every edit since."""
    return words.lines_now(connection, recording_id)


def show_lines(readings: Readings, viewer: Viewer, recording_id: int, lines: Sequence[Line], doubtful_below: float) -> tuple[ShownLine, ...]:
    """These lines as this viewer may type at them; their words are read here."""
    whole = with_words(readings, lines)
    reading = readings.lines(recording_id, whole)
    return tuple(_shown(reading, viewer, line, n, doubtful_below) for n, line in enumerate(whole))


def with_words(readings: Readings, lines: Sequence[Line]) -> list[Line]:
    """The same lines with their words."""
    said = words.blocks(readings.connection, {line.key for line in lines})
    return [replace(line, words=said[line.key][1]) for line in lines]


def _shown(reading: Reading, viewer: Viewer, line: Line, n: int, doubtful_below: float) -> ShownLine:
    utterance = reading.utterances[n]
    speaker = line.speaker_id
    open_whole = is_open(reading, viewer, utterance)
    told: list[tuple[str, int, int, str]] = []
    if open_whole:
        unsure = reading.unsure(utterance, doubtful_below)
        hides = under_masks(line.words, reading.masks_in(line.start_ms, line.end_ms + MIN_WORD_MS))
        told = [
            (w.text, w.start_ms, w.end_ms, ("u" if w.start_ms in unsure else "") + ("h" if hidden else ""))
            for w, hidden in zip(line.words, hides, strict=True)
        ]
    return ShownLine(
        token=GATE_TOKEN, key=line.key, speaker=reading.called(speaker, viewer) if speaker is not None else "",
        speaker_code=reading.readings.codes[speaker] if speaker is not None and speaker not in reading.readings.reach(viewer).people else "", start_ms=line.start_ms, end_ms=line.end_ms,
        state=line.state.value, state_by=line.state_by, verbatim=line.verbatim, overlap=line.overlap, words=tuple(told), closed=not open_whole,
    )  # fmt: skip


def change_for(readings: Readings, viewer: Viewer, recording_id: int, lines: Sequence[Line], asked: LineAct, by: str) -> Change:
    """The change that is asked for, its new words kept as blocks. Raises Clash where the lines are not there any more,
    Refused where they are not this viewer's to read, BadInput where it cannot be done."""
    if asked.act == "add":
        return kept(readings, _added(readings, viewer, recording_id, lines, asked, by))
    if not asked.keys:
        raise BadInput("Nothing is chosen.", "Put the cursor into a line first.")
    first = editing.place_of(lines, asked.keys)
    old = with_words(readings, lines[first : first + len(asked.keys)])
    new = _new(must_be_open(readings, viewer, recording_id, old), old, asked, by)
    after = lines[first - 1].key if first else 0
    return kept(readings, Change(tuple(old), tuple(new), after))


def require_open(readings: Readings, viewer: Viewer, recording_id: int, change: Change) -> None:
    """Raises Refused where a line that is taken away or comes back is not this viewer's to read today."""
    must_be_open(readings, viewer, recording_id, with_words(readings, (*change.old, *change.new)))


def must_be_open(readings: Readings, viewer: Viewer, recording_id: int, lines: Sequence[Line]) -> Reading:
    """A reading of these lines, which have their words. Raises Refused where any is not this viewer's to read today."""
    reading = readings.lines(recording_id, lines)
    if not all(is_open(reading, viewer, utterance) for utterance in reading.utterances):
        raise Refused("Something is closed here.", (), "It can be corrected when it is open again.")
    return reading


def is_open(reading: Reading, viewer: Viewer, utterance: Utterance) -> bool:
    """True where this viewer may read every word of it."""
    told = reading.names_beyond(viewer, utterance.start_ms, utterance.end_ms)  # no mask can stand in what is typed
    return not told and [len(run.words) for run in reading.runs(utterance, viewer)] == [len(utterance.words)]


def _new(reading: Reading, old: Sequence[Line], asked: LineAct, by: str) -> Sequence[Line]:
    line = old[0]
    if asked.act == "type":
        if len(asked.text) > MOST_LETTERS:
            raise BadInput("That is too much for one line.", "Part it first; what was there before is kept.")
        return editing.typed(line, written_words(asked.text), by, reading.row.duration_ms)
    if asked.act == "spell":
        if any(not 0 <= first <= last < len(line.words) for first, last in asked.runs):
            raise BadInput("These words are not in the line.", "Load the page again.")
        runs = [(first, last, instead(line.words, first, last, asked.text)) for first, last in sorted(asked.runs)]
        return editing.replaced(line, runs, by, reading.row.duration_ms)
    if asked.act == "part":
        return editing.split(line, asked.at, by)
    if asked.act == "join":
        if len(old) != 2:
            raise BadInput("There is nothing to join here.", "Two lines that follow each other become one.")
        return [editing.join(old[0], old[1], by)]
    if asked.act == "speaker":
        if asked.person_id is not None and asked.person_id not in reading.roles:
            raise BadInput("Somebody named did not take part in this interview.", "Add them to the interview first.")
        return [replace(o, speaker_id=asked.person_id) for o in old]
    if asked.act == "state":
        if asked.state not in set(LineState):
            raise BadInput("There is no such state.")
        return [editing.with_state(o, LineState(asked.state), by) for o in old]
    if asked.act == "verbatim":
        return [replace(o, verbatim=asked.on) for o in old]
    if asked.act == "overlap":
        return [replace(o, overlap=asked.on) for o in old]
    raise BadInput("This cannot be done to a line.", "Load the page again.")


def _added(readings: Readings, viewer: Viewer, recording_id: int, lines: Sequence[Line], asked: LineAct, by: str) -> Change:
    """A new line where nothing was heard."""
    reading = readings.of(recording_id)
    start_ms, end_ms = asked.start_ms, min(asked.end_ms, reading.row.duration_ms)
    if not 0 <= start_ms < end_ms:
        raise BadInput("A line needs a beginning and an end inside the recording.", "Choose a stretch of the sound.")
    if not any(s <= start_ms and end_ms <= e for s, e in reading.open_pieces(viewer, TEAM, Way.VOICE)):
        raise Refused("Something is closed here.", (), "It can be written when it is open again.")
    texts = written_words(asked.text)
    if not texts:
        raise BadInput("There are no words to add.", "Type what is said.")
    spoken = editing.fitted((), texts, start_ms, end_ms, reading.row.duration_ms)
    line = Line(0, asked.person_id if asked.person_id in reading.roles else None, spoken[0].start_ms, spoken[-1].end_ms, LineState.IN_WORK, by, words=spoken)
    before = [n for n in lines if n.start_ms <= line.start_ms]
    return Change((), (line,), before[-1].key if before else 0)


def kept(readings: Readings, change: Change) -> Change:
    """The change with its new words in blocks; lines without their words, as they are kept in the journal."""
    new = [
        replace(line, key=words.add_block(readings.connection, line.words)) if line.key == 0 else line for line in change.new
    ]
    bare = tuple(replace(line, words=()) for line in new)
    return Change(tuple(replace(line, words=()) for line in change.old), bare, change.after)


# --- comparing ------------------------------------------------------------------------------------------------------
def show_differences(readings: Readings, viewer: Viewer, recording_id: int, before: int, after: int) -> tuple[ShownDifference, ...]:
    """Where two versions differ, word by word, in what this viewer may read of both. Lines that both have are passed over."""
    old, new = (readings.of(recording_id, version) for version in (before, after))
    found: list[ShownDifference] = []
    first, second = ([(u.block_id, u.speaker_id) for u in r.utterances] for r in (old, new))
    for a, b, c, d in _apart(first, second):
        found += _differing(_open_words(old, viewer, a, b), _open_words(new, viewer, c, d))
    return tuple(found)


def _apart(before: Sequence[Hashable], after: Sequence[Hashable]) -> list[tuple[int, int, int, int]]:
    """Where two sequences differ, neighbouring differences as one: (from, to) in the first and in the second."""
    found: list[tuple[int, int, int, int]] = []
    for op in Levenshtein.opcodes(before, after):
        if op.tag == "equal":
            continue
        if found and (found[-1][1], found[-1][3]) == (op.src_start, op.dest_start):
            found[-1] = (found[-1][0], op.src_end, found[-1][2], op.dest_end)
        else:
            found.append((op.src_start, op.src_end, op.dest_start, op.dest_end))
    return found


def _open_words(reading: Reading, viewer: Viewer, first: int, last: int) -> list[tuple[str, int, str]]:
    """(text, start, speaker) of every word in these utterances that this viewer may read."""
    return [
        (w.text, w.start_ms, reading.called(u.speaker_id, viewer) if u.speaker_id is not None else "")
        for u in reading.utterances[first:last]
        for run in reading.runs(u, viewer)
        for w in run.words
    ]


def _differing(old: list[tuple[str, int, str]], new: list[tuple[str, int, str]]) -> list[ShownDifference]:
    found = []
    for a, b, c, d in _apart([(t, s) for t, _, s in old], [(t, s) for t, _, s in new]):
        was, now = old[a:b], new[c:d]
        found.append(
            ShownDifference(
                token=GATE_TOKEN, start_ms=(was or now)[0][1], before=" ".join(t for t, _, _ in was), after=" ".join(t for t, _, _ in now),
                speaker_before=was[0][2] if was else "", speaker_after=now[0][2] if now else "",
            )
        )  # fmt: skip
    return found
