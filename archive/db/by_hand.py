"""Passages that a person made: stretches, no words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, delete, func, select, update

from archive.db.rows import add
from archive.db.tables import passage_by_hand


def passages(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Those of a recording that are in force, in order of time."""
    query = select(passage_by_hand).where(passage_by_hand.c.recording_id == recording_id, passage_by_hand.c.ended_by_act.is_(None))
    return list(connection.execute(query.order_by(passage_by_hand.c.start_ms, passage_by_hand.c.id)))


def ever(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Those in force and those that another act ended, which come back where it is undone."""
    return list(connection.execute(select(passage_by_hand).where(passage_by_hand.c.recording_id == recording_id)))


def make(connection: Connection, recording_id: int, stretches: Sequence[tuple[int, int]], how: str, by: str, at: str) -> None:
    """Make each of these stretches (ms) a passage, in the place of those in force that they touch. One act."""
    query = select(func.coalesce(func.max(passage_by_hand.c.act), 0)).where(passage_by_hand.c.recording_id == recording_id)
    act = int(connection.execute(query).scalar_one()) + 1
    touched = [r.id for r in passages(connection, recording_id) if any(r.start_ms < e and s < r.end_ms for s, e in stretches)]
    connection.execute(update(passage_by_hand).where(passage_by_hand.c.id.in_(touched)).values(ended_by_act=act))
    for start_ms, end_ms in stretches:
        add(connection, passage_by_hand, recording_id=recording_id, start_ms=start_ms, end_ms=end_ms, act=act, how=how, by=by, at=at)


def newest(connection: Connection, recording_id: int) -> Row[Any] | None:
    """A row of the newest act that was not undone; None where there is none."""
    query = select(passage_by_hand).where(passage_by_hand.c.recording_id == recording_id).order_by(passage_by_hand.c.act.desc(), passage_by_hand.c.start_ms)
    return connection.execute(query.limit(1)).first()


def undo(connection: Connection, recording_id: int, act: int) -> None:
    """Take an act back: what it made is gone, what it ended is in force."""
    mine = passage_by_hand.c.recording_id == recording_id
    connection.execute(delete(passage_by_hand).where(mine, passage_by_hand.c.act == act))
    connection.execute(update(passage_by_hand).where(mine, passage_by_hand.c.ended_by_act == act).values(ended_by_act=None))


def move(connection: Connection, row_id: int, start_ms: int, end_ms: int) -> None:
    """Put one where its words are now (ms)."""
    connection.execute(update(passage_by_hand).where(passage_by_hand.c.id == row_id).values(start_ms=start_ms, end_ms=end_ms))
