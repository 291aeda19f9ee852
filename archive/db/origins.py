"""What files told about themselves when they came, and the files that lay beside them."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import companion, interview, master, measurement, origin, recording

_CAME = (
    recording.c.id, recording.c.code, recording.c.original_name, recording.c.interview_id, recording.c.position,
    interview.c.code.label("interview_code"), master.c.sha256, master.c.extension, origin.c.started_ms, origin.c.exact,
    origin.c.closed_ms, measurement.c.codec, measurement.c.rate_hz, measurement.c.bit_depth, measurement.c.channels,
    measurement.c.duration_ms,
)  # fmt: skip


def came(connection: Connection) -> list[Row[Any]]:
    """Every recording as far as its neighbours on a card are told by it."""
    query = (
        select(*_CAME)
        .join(master, master.c.id == recording.c.master_id)
        .join(origin, origin.c.recording_id == recording.c.id)
        .join(measurement, measurement.c.recording_id == recording.c.id)
        .outerjoin(interview, interview.c.id == recording.c.interview_id)
        .order_by(recording.c.id)
    )
    return list(connection.execute(query))


def add_origin(connection: Connection, **values: Any) -> None:
    """Keep what a file told about itself."""
    add(connection, origin, **values)


def origin_of(connection: Connection, recording_id: int) -> Row[Any] | None:
    """What this recording's file told about itself; None for what came before that was read."""
    return one(connection, origin, recording_id=recording_id)


def put_beside(connection: Connection, recording_id: int, other_id: int, offset_ms: int) -> None:
    """Note that a recording was made at the same time as another, beginning so many ms after it."""
    connection.execute(update(origin).where(origin.c.recording_id == recording_id).values(beside_id=other_id, beside_ms=offset_ms))


def beside(connection: Connection, recording_id: int) -> list[str]:
    """Codes of the recordings that were made at the same time by other microphones."""
    mine = select(origin.c.beside_id).where(origin.c.recording_id == recording_id, origin.c.beside_id.is_not(None))
    heads = [recording_id, *connection.execute(mine).scalars()]
    same = select(origin.c.recording_id).where(origin.c.beside_id.in_(heads))
    query = select(recording.c.code).where(recording.c.id != recording_id, or_(recording.c.id.in_(heads), recording.c.id.in_(same)))
    return list(connection.execute(query.order_by(recording.c.code)).scalars())


def undated(connection: Connection) -> list[Row[Any]]:
    """Recordings of which nobody said when they were made, with what their clocks say (`day`, `time`, `doubt`; None: nothing)."""
    query = (
        select(recording.c.code, recording.c.duration_ms, recording.c.original_name, origin.c.day, origin.c.time, origin.c.doubt)
        .outerjoin(origin, origin.c.recording_id == recording.c.id)
        .where(recording.c.recorded_on.is_(None), recording.c.erased_at.is_(None))
        .order_by(recording.c.code)
    )
    return list(connection.execute(query))


def add_companion(connection: Connection, **values: Any) -> bool:
    """Keep a file that lay beside a recording; False where it is kept already."""
    if one(connection, companion, recording_id=values["recording_id"], sha256=values["sha256"]) is not None:
        return False
    add(connection, companion, **values)
    return True


def companions(connection: Connection, recording_id: int | None = None) -> list[Row[Any]]:
    """Files that lay beside one recording, or beside any, by name."""
    query = select(companion).order_by(companion.c.name, companion.c.id)
    return list(connection.execute(query if recording_id is None else query.where(companion.c.recording_id == recording_id)))


def same_time(connection: Connection, recording_id: int) -> list[tuple[int, int]]:
    """(recording id, ms by which that one began later) of the files of other microphones at the same time."""
    query = select(origin.c.recording_id, origin.c.beside_id, origin.c.beside_ms)
    rows = connection.execute(query.where(or_(origin.c.recording_id == recording_id, origin.c.beside_id == recording_id), origin.c.beside_id.is_not(None)))
    return [(r.beside_id, -(r.beside_ms or 0)) if r.recording_id == recording_id else (r.recording_id, r.beside_ms or 0) for r in rows]
