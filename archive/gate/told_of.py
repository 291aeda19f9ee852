"""What is on record beside a told date that does not agree with it: the calendar, a birth date, another telling of the same event.

It is said beside the passage and changes nothing. Another telling is named only where this viewer may read it; a birth date
only to those who may see names.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from archive.db import describing, people
from archive.db.session import Connection, Row
from archive.domain.cleared import GATE_TOKEN, ShownOnRecord
from archive.domain.phrases import clock, told
from archive.domain.values import Role, Stretch, Viewer
from archive.gate.reading import Reading
from archive.rules.memory import AGE, BIRTH, EVENT, disagrees, noted

MOST_TOLD = 5  # other tellings that are named beside one
MOST_LOOKED_AT = 200
Reads = Callable[[Reading, Viewer, Row[Any]], bool]


def on_record(reading: Reading, viewer: Viewer, about: Sequence[Row[Any]], reads: Reads) -> dict[int, tuple[ShownOnRecord, ...]]:
    """tag id → what does not agree with it. `about`: tags that are told of something; `reads`: whether the viewer may read a
    tag's words."""
    connection = reading.connection
    rows = describing.tags_of(connection, reading.recording_id)
    calendar = {r.name: r.edtf for r in describing.events(connection)}
    found: dict[int, tuple[ShownOnRecord, ...]] = {}
    for row in about:
        if row.kind != "date" or row.state == "rejected":
            continue
        if row.about.startswith(EVENT):
            name = row.about.removeprefix(EVENT)
            lines = _of_event(reading, viewer, row, name, calendar.get(name, ""), rows, reads)
        else:
            lines = _of_life(connection, reading, row) if viewer.role != Role.READER else []
        if lines:
            found[row.id] = tuple(lines)
    return found


def _of_event(
    reading: Reading, viewer: Viewer, row: Row[Any], name: str, edtf: str, rows: Sequence[Row[Any]], reads: Reads
) -> list[ShownOnRecord]:
    lines = []
    another = any(r.state == "rejected" and r.value == edtf and r.start_ms < row.end_ms and row.start_ms < r.end_ms for r in rows)
    may_know = viewer.role != Role.READER or reading.readings.matcher.first_hit(name) is None
    if edtf and may_know and not another and disagrees(row.value, edtf):
        lines.append(_line(f"the calendar has {told(edtf)} for {name}", edtf, note=noted(row.value, edtf)))
    if another:
        return lines  # a person said that it is not this event
    return lines + _other_tellings(reading, viewer, row, reads)


def _other_tellings(reading: Reading, viewer: Viewer, row: Row[Any], reads: Reads) -> list[ShownOnRecord]:
    """What others tell of the same event and this viewer may read: a few are enough, of an event that everybody tells of."""
    lines: list[ShownOnRecord] = []
    others = [r for r in describing.told_alike(reading.connection, row.about) if r.id != row.id and disagrees(row.value, r.value)]
    for first in range(0, min(len(others), MOST_LOOKED_AT), MOST_TOLD):
        some = others[first : first + MOST_TOLD]
        near = reading.readings.near(Stretch(r.recording_id, r.start_ms, r.end_ms) for r in some)
        for other in some:
            if len(lines) < MOST_TOLD and reads(near[other.recording_id], viewer, other):
                code = near[other.recording_id].row.code
                lines.append(_line(f"{code} at {clock(other.start_ms)} tells {told(other.value)}", other.value, code, other.start_ms))
        if len(lines) == MOST_TOLD:
            break
    return lines


def _of_life(connection: Connection, reading: Reading, row: Row[Any]) -> list[ShownOnRecord]:
    """A birth date told otherwise than it is on record, and a year told with an age that was not that of the year."""
    if row.about.startswith(AGE):
        edtf = row.about.removeprefix(AGE)
        return [_line(f"by the birth date on record that age was {told(edtf)}", edtf)] if disagrees(row.value, edtf) else []
    if row.about != BIRTH:
        return []
    born = [b for p in reading.people_in(row.start_ms, row.end_ms) if (b := people.born(connection, p))]
    if len(born) != 1 or not disagrees(row.value, born[0]):
        return []
    return [_line(f"on record as born {told(born[0])}", born[0])]


def _line(words: str, edtf: str, recording: str = "", start_ms: int = 0, note: str = "") -> ShownOnRecord:
    return ShownOnRecord(token=GATE_TOKEN, words=words, edtf=edtf, recording=recording, start_ms=start_ms, note=note)
