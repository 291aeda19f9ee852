"""Places where people's corrections and a newer hearing differ, until somebody decides. Times and places of words, no words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, func, select, update

from archive.db.rows import add, one
from archive.db.tables import conflict
from archive.domain.merging import Conflict


def keep(connection: Connection, recording_id: int, version_id: int, found: Sequence[Conflict], at: str) -> None:
    """Keep what one hearing brought. Where an older one waits at the same place the newer takes over."""
    waiting = open_ones(connection, recording_id)
    for made in found:
        for row in waiting:
            if row.start_ms < made.end_ms and made.start_ms < row.end_ms:
                decide(connection, row.id, "newer", "machine", at)
        add(
            connection, conflict, recording_id=recording_id, start_ms=made.start_ms, end_ms=made.end_ms, version_id=version_id,
            spans=[list(s) for s in made.spans], speaker_id=made.speaker_id, at=at,
        )  # fmt: skip


def open_ones(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Those of a recording that nobody decided, in order of time."""
    return list(connection.execute(select(conflict).where(*_open(recording_id)).order_by(conflict.c.start_ms, conflict.c.id)))


def count_open(connection: Connection, recording_id: int) -> int:
    """How many of a recording nobody decided."""
    return int(connection.execute(select(func.count()).select_from(conflict).where(*_open(recording_id))).scalar_one())


def by_id(connection: Connection, conflict_id: int) -> Row[Any] | None:
    """One of them, or None."""
    return one(connection, conflict, id=conflict_id)


def decide(connection: Connection, conflict_id: int, decided: str, by: str, at: str) -> None:
    """Put on record what was decided: ours | theirs | newer."""
    values = {"decided": decided, "decided_by": by, "decided_at": at}
    connection.execute(update(conflict).where(conflict.c.id == conflict_id).values(**values))


def _open(recording_id: int) -> tuple[Any, ...]:
    return conflict.c.recording_id == recording_id, conflict.c.decided == ""
