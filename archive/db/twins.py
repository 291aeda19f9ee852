"""What was said once and recorded by several microphones: which of the units found are the same moment of another recording."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, select

from archive.db.columns import Mask
from archive.db.tables import find_unit, origin

_SHARE = 2  # the same moment: together for at least half of the shorter one


@dataclass(frozen=True, slots=True)
class Moment:
    """A unit on the clock that its group of recordings has in common."""

    unit_id: int
    recording_id: int
    start_ms: int
    end_ms: int
    later_ms: int  # how much later its recording began

    @property
    def begins(self) -> int:
        """Its start on the common clock."""
        return self.start_ms + self.later_ms

    def same_as(self, other: Moment) -> bool:
        """Whether two recordings have this moment."""
        together = min(self.end_ms + self.later_ms, other.end_ms + other.later_ms) - max(self.begins, other.begins)
        return self.recording_id != other.recording_id and together * _SHARE >= min(self.end_ms - self.start_ms, other.end_ms - other.start_ms)


@dataclass(frozen=True, slots=True)
class Twin:
    """The same moment in another recording, on that one's clock."""

    unit_id: int
    recording_id: int
    at_ms: int


def twins(connection: Connection, found: Mask, shown: Sequence[tuple[int, int, int, int]]) -> dict[int, tuple[Twin, ...]]:
    """Unit → the same moment in other recordings, of those in `found` alone: what may not be read is not in it.

    `shown`: (unit, recording, start ms, end ms) of the units that are asked about.
    """
    groups = _groups(connection)
    if not groups.keys() & {recording_id for _, recording_id, *_ in shown}:
        return {}
    heads = {groups[recording_id][0] for _, recording_id, *_ in shown if recording_id in groups}
    members = [recording_id for recording_id, (head, _) in groups.items() if head in heads]
    query = select(find_unit.c.id, find_unit.c.recording_id, find_unit.c.start_ms, find_unit.c.end_ms)
    query = query.where(find_unit.c.recording_id.in_(members)).order_by(find_unit.c.recording_id, find_unit.c.start_ms)
    by_group: dict[int, list[Moment]] = defaultdict(list)
    for unit in (u for u in connection.execute(query) if found[u.id]):
        by_group[groups[unit.recording_id][0]].append(Moment(*unit, groups[unit.recording_id][1]))
    answer = {}
    for unit_id, recording_id, start_ms, end_ms in shown:
        if recording_id in groups:
            head, later_ms = groups[recording_id]
            own = Moment(unit_id, recording_id, start_ms, end_ms, later_ms)
            same = [m for m in by_group[head] if m.same_as(own)]
            answer[unit_id] = tuple(Twin(m.unit_id, m.recording_id, max(m.start_ms, own.begins - m.later_ms)) for m in same)
    return answer


def _groups(connection: Connection) -> dict[int, tuple[int, int]]:
    """Recording → (the first of those made at the same time, how much later it began); of those alone that others stood beside."""
    query = select(origin.c.recording_id, origin.c.beside_id, origin.c.beside_ms).where(origin.c.beside_id.is_not(None))
    beside = {r.recording_id: (r.beside_id, r.beside_ms or 0) for r in connection.execute(query)}
    found: dict[int, tuple[int, int]] = {}
    for recording_id in {*beside, *(other for other, _ in beside.values())}:
        head, later_ms, seen = recording_id, 0, {recording_id}
        while head in beside and beside[head][0] not in seen:
            head, later = beside[head]
            later_ms += later
            seen.add(head)
        found[recording_id] = (head, later_ms)
    return found
