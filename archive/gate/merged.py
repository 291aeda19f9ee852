"""Another hearing of a recording that people corrected: kept as it is, and merged with their corrections into today's version.

What is to be decided afterwards is listed for whoever sits at the desk, as far as they may read it: a part of the first door.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from archive.db import conflicts, recordings, sittings, words
from archive.db.session import Connection, Row
from archive.db.words import Line
from archive.domain import editing
from archive.domain.cleared import GATE_TOKEN, ShownConflict
from archive.domain.editing import Change
from archive.domain.merging import merge
from archive.domain.values import Viewer, Word
from archive.errors import Refused
from archive.gate.carried import keep_version
from archive.gate.reading import Reading, Readings
from archive.gate.typing import is_open, kept, must_be_open, with_words


def kept_line(line: editing.Line) -> Line:
    """A line at a desk as it is written into a version; its words where they are in no block yet."""
    block_id = line.key or None
    return Line(line.speaker_id, block_id, () if block_id else line.words, line.state, line.state_by, line.verbatim, line.overlap)


def newest_corrected(connection: Connection, recording_id: int) -> int | None:
    """Today's version where a person changed anything in it; None where it is as it was heard, or not there."""
    today = words.newest_version(connection, recording_id)
    if today is None:
        return None
    heard = _grown_from(connection, recording_id, today)
    as_heard = heard is not None and heard.kind == "machine" and words.lines_of(connection, today) == words.lines_of(connection, heard.id)
    return None if as_heard else today


def keep_merged(connection: Connection, recording_id: int, mine: int, heard: int, by: str, at: str) -> int:
    """Write the version in which people's corrections (version `mine`) stand in the newer hearing (version `heard`); returns it.

    Where today's words were brought from elsewhere, somebody typed each of them, and they stay as they are.
    """
    grown = _grown_from(connection, recording_id, mine)
    if grown is not None and grown.kind == "machine":
        old, own, new = (_lines(connection, version) for version in (int(grown.id), mine, heard))
        merged, found = merge(old, own, new, recordings.by_id(connection, recording_id).duration_ms)
    else:
        merged, found = words.lines_of(connection, mine), []
    made = keep_version(connection, recording_id, "merged", [kept_line(n) for n in merged], None, by, at, since=mine)
    conflicts.keep(connection, recording_id, heard, found, at)
    return made


def _lines(connection: Connection, version_id: int) -> list[editing.Line]:
    said = words.utterances(connection, version_id)
    return [replace(line, words=u.words) for line, u in zip(words.lines_of(connection, version_id), said, strict=True)]


def _grown_from(connection: Connection, recording_id: int, version_id: int) -> Row[Any] | None:
    """The hearing, or the file, that a version was made of by hand: the nearest one before it. Of an older version that was taken
    up again: of that one."""
    every = {v.id: v for v in sittings.versions_of(connection, recording_id)}
    at = every.get(version_id)
    while at is not None and at.kind not in ("machine", "imported"):
        before: int | None = at.parent_id
        if at.kind == "back":
            lines = words.lines_of(connection, at.id)
            before = next((v for v in sorted(every, reverse=True) if v < at.id and words.lines_of(connection, v) == lines), before)
        at = every.get(before) if before is not None else None
    return at


# --- what is to be decided ------------------------------------------------------------------------------------------
def show_conflicts(readings: Readings, viewer: Viewer, recording_id: int, lines: Sequence[editing.Line]) -> tuple[ShownConflict, ...]:
    """What nobody decided yet: how it stands in these lines now, and how the newer hearing has it; neither where any of it is closed."""
    rows = conflicts.open_ones(readings.connection, recording_id)
    near = [_near(row, lines) for row in rows]
    some = [line for line in lines if line.key in {n.key for there in near for n in there}]
    reading = readings.lines(recording_id, with_words(readings, some))
    said = {u.block_id: u for u in reading.utterances}
    found = []
    for row, there in zip(rows, near, strict=True):
        theirs = _heard(readings, viewer, row)
        mine = [said[n.key] for n in there]
        closed = theirs is None or not all(is_open(reading, viewer, u) for u in mine)
        found.append(
            ShownConflict(
                token=GATE_TOKEN, id=row.id, start_ms=row.start_ms, end_ms=row.end_ms, closed=closed,
                speaker=reading.called(row.speaker_id, viewer) if row.speaker_id is not None else "",
                keys=() if closed else tuple(n.key for n in there),
                ours="" if closed else " ".join(w.text for u in mine for w in u.words if row.start_ms <= _middle(w) < row.end_ms),
                theirs="" if closed else " ".join(w.text for w in theirs or ()),
            )
        )  # fmt: skip
    return tuple(found)


def decided(readings: Readings, viewer: Viewer, row: Row[Any], lines: Sequence[editing.Line], take: bool, by: str) -> Change | None:
    """The change that puts the newer hearing's words in the place of what stands there now (`take`); None where nothing changes.
    Raises Refused where any of it is not this viewer's to read."""
    theirs = _heard(readings, viewer, row)
    old = with_words(readings, _near(row, lines))
    most_ms = must_be_open(readings, viewer, row.recording_id, old).row.duration_ms
    if theirs is None:
        raise Refused("Something is closed here.", (), "It can be decided when it is open again.")
    if not take:
        return None
    made: list[editing.Line] = []
    for n, line in enumerate(old):
        before = [w for w in line.words if _middle(w) < row.start_ms]
        after = [w for w in line.words if _middle(w) >= row.end_ms]
        made += editing.heard(line, (*before, *(theirs if n == 0 else ()), *after), by, most_ms)
    if not old:
        made += editing.heard(editing.Line(0, row.speaker_id, row.start_ms, row.end_ms), theirs, by, most_ms)
    if not old and not made:
        return None
    first = editing.place_of(lines, [n.key for n in old]) if old else sum(n.start_ms <= row.start_ms for n in lines)
    return kept(readings, Change(tuple(old), tuple(made), lines[first - 1].key if first else 0))


def _heard(readings: Readings, viewer: Viewer, row: Row[Any]) -> tuple[Word, ...] | None:
    """The newer hearing's words at a place; None where any of them is not this viewer's to read."""
    reading: Reading = readings.of(row.recording_id, row.version_id)
    said = {u.block_id: u for u in reading.overlapping(row.start_ms, row.end_ms)}
    found: list[Word] = []
    for block_id, first, last in row.spans:
        runs = reading.runs(said[block_id], viewer)
        if not any(r.first <= first and last < r.first + len(r.words) for r in runs):
            return None
        found += said[block_id].words[first : last + 1]
    return tuple(found)


def _near(row: Row[Any], lines: Sequence[editing.Line]) -> list[editing.Line]:
    """Neighbouring lines that share time with a place: those of who speaks there, where it has any."""
    there = [n for n, line in enumerate(lines) if line.start_ms < row.end_ms and row.start_ms < line.end_ms]
    own = [n for n in there if lines[n].speaker_id == row.speaker_id] or there
    return [lines[n] for k, n in enumerate(own) if n - own[0] == k]


def _middle(word: Word) -> int:
    return (word.start_ms + word.end_ms) // 2
