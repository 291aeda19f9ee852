"""Sittings and their edits: what somebody changes in a transcript, kept at once; and the versions that it becomes.

Lines here have keys (block ids), speakers, times and states, and no words: those are the gate's (`words.py`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, func, select, update

from archive.db.rows import add, one
from archive.db.tables import edit, sitting, version
from archive.domain.editing import Change, Entry, Line
from archive.domain.values import LineState


def versions_of(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Every version of a recording, in order."""
    return list(connection.execute(select(version).where(version.c.recording_id == recording_id).order_by(version.c.id)))


def waiting(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """The edits that are in no version yet, in order."""
    return list(connection.execute(select(edit).where(*_in_no_version(recording_id)).order_by(edit.c.id)))


def count_waiting(connection: Connection, recording_id: int) -> int:
    """How many edits are in no version yet; none of them is read."""
    return int(connection.execute(select(func.count()).select_from(edit).where(*_in_no_version(recording_id))).scalar_one())


def recordings_waiting(connection: Connection) -> set[int]:
    """Ids of the recordings with edits that are in no version yet."""
    kept = select(version.c.recording_id, func.max(version.c.edits_to).label("to")).group_by(version.c.recording_id).subquery()
    query = select(edit.c.recording_id).join(kept, kept.c.recording_id == edit.c.recording_id).where(edit.c.id > kept.c.to).distinct()
    return {int(r) for r in connection.execute(query).scalars()}


def _in_no_version(recording_id: int) -> tuple[ColumnElement[bool], ...]:
    kept = select(func.coalesce(func.max(version.c.edits_to), 0)).where(version.c.recording_id == recording_id).scalar_subquery()
    return edit.c.recording_id == recording_id, edit.c.id > kept


def newest_edit(connection: Connection, recording_id: int) -> int:
    """The newest edit of a recording, 0 where there is none."""
    return int(connection.execute(select(func.coalesce(func.max(edit.c.id), 0)).where(edit.c.recording_id == recording_id)).scalar_one())


def sit_down(connection: Connection, recording_id: int, by: str, at: str) -> int:
    """The open sitting of this person at this recording; begun where there is none. Returns its id."""
    query = select(sitting.c.id).where(sitting.c.recording_id == recording_id, sitting.c.by == by, sitting.c.ended_at.is_(None))
    found = connection.execute(query).scalar()
    return int(found) if found is not None else add(connection, sitting, recording_id=recording_id, by=by, at=at)


def stand_up(connection: Connection, recording_id: int, by: str, at: str) -> None:
    """End the open sitting of this person at this recording."""
    mine = (sitting.c.recording_id == recording_id, sitting.c.by == by, sitting.c.ended_at.is_(None))
    connection.execute(update(sitting).where(*mine).values(ended_at=at))


def at_it(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Open sittings of a recording."""
    return list(connection.execute(select(sitting).where(sitting.c.recording_id == recording_id, sitting.c.ended_at.is_(None))))


def edits_between(connection: Connection, recording_id: int, after: int, to: int) -> list[str]:
    """Who made the edits with these ids (`after` exclusive), each once, in the order of their first one."""
    query = select(edit.c.by).where(edit.c.recording_id == recording_id, edit.c.id > after, edit.c.id <= to).order_by(edit.c.id)
    return list(dict.fromkeys(connection.execute(query).scalars()))


def changed_by(connection: Connection, recording_id: int, by: str, keys: Collection[int]) -> list[int]:
    """Those of these lines that this person's open sitting made, in the order in which they were made."""
    query = (
        select(edit.c.new)
        .join(sitting, sitting.c.id == edit.c.sitting_id)
        .where(edit.c.recording_id == recording_id, sitting.c.by == by, sitting.c.ended_at.is_(None))
        .order_by(edit.c.id)
    )
    made = [line[0] for new in connection.execute(query).scalars() for line in new]
    return [key for key in dict.fromkeys(made) if key in keys]


def add_edit(
    connection: Connection, sitting_id: int, recording_id: int, mark: str, change: Change, undoes: int, by: str, at: str
) -> int:
    """Keep one edit; returns its id."""
    return add(
        connection, edit, sitting_id=sitting_id, recording_id=recording_id, mark=mark, undoes=undoes,
        old=[_plain(line) for line in change.old], new=[_plain(line) for line in change.new], after=change.after, by=by, at=at,
    )  # fmt: skip


def by_mark(connection: Connection, mark: str) -> Row[Any] | None:
    """The edit that a page sent under this mark, or None."""
    return one(connection, edit, mark=mark)


def by_id(connection: Connection, edit_id: int) -> Row[Any] | None:
    """One edit, or None."""
    return one(connection, edit, id=edit_id)


def journal(connection: Connection, sitting_id: int) -> list[Entry]:
    """What was done in a sitting, in order."""
    query = select(edit.c.id, edit.c.undoes).where(edit.c.sitting_id == sitting_id).order_by(edit.c.id)
    return [Entry(r.id, r.undoes) for r in connection.execute(query)]


def change_of(row: Row[Any]) -> Change:
    """The change that an edit is."""
    return Change(tuple(map(_line, row.old)), tuple(map(_line, row.new)), row.after)


def _plain(line: Line) -> list[Any]:
    return [line.key, line.speaker_id, line.start_ms, line.end_ms, line.state.value, line.state_by, line.verbatim, line.overlap]


def _line(data: Sequence[Any]) -> Line:
    key, speaker_id, start_ms, end_ms, state, state_by, verbatim, overlap = data
    return Line(key, speaker_id, start_ms, end_ms, LineState(state), state_by, verbatim, overlap)
