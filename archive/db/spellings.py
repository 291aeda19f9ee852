"""The archive's own list of spellings: only ever added to, the newest row of a spelling counts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, func, select

from archive.db.rows import add
from archive.db.tables import spelling


def everything(connection: Connection) -> list[Row[Any]]:
    """What counts of every spelling that ever was on the list, in the order in which they were put there first."""
    newest = select(func.max(spelling.c.id).label("id"), func.min(spelling.c.id).label("first")).group_by(spelling.c.key).subquery()
    return list(connection.execute(select(spelling).join(newest, newest.c.id == spelling.c.id).order_by(newest.c.first)))


def by_key(connection: Connection, key: str) -> Row[Any] | None:
    """What counts of one spelling, or None."""
    return connection.execute(select(spelling).where(spelling.c.key == key).order_by(spelling.c.id.desc()).limit(1)).first()


def write(
    connection: Connection, key: str, text: str, kind: str, heard_as: Sequence[str], note: str, off: bool, by: str, at: str
) -> int:  # fmt: skip
    """Add what counts of a spelling from now on; returns the row."""
    return add(connection, spelling, key=key, text=text, kind=kind, heard_as=list(heard_as), note=note, off=off, by=by, at=at)
