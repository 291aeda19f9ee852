"""Readings: quotes read aloud by somebody else."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, delete, select

from archive.db.rows import add, one
from archive.db.tables import master, spoken_by


def add_reading(connection: Connection, taken: dict[str, Any], **values: Any) -> int:
    """Keep a reading, its bytes on the list of masters so that they are read again like any other; returns its id."""
    if one(connection, master, sha256=taken["sha256"]) is None:
        add(connection, master, **taken)
    return add(connection, spoken_by, master_sha256=taken["sha256"], extension=taken["extension"], **values)


def readings(connection: Connection, excerpt_id: int) -> list[Row[Any]]:
    """Readings of an excerpt, newest first, of whatever wording."""
    return list(connection.execute(select(spoken_by).where(spoken_by.c.excerpt_id == excerpt_id).order_by(spoken_by.c.id.desc())))


def drop(connection: Connection, excerpt_id: int) -> int:
    """Take all readings of an excerpt off the record; returns how many there were. Their files stay."""
    return connection.execute(delete(spoken_by).where(spoken_by.c.excerpt_id == excerpt_id)).rowcount


def is_reading(connection: Connection, sha256: str) -> bool:
    """True where these bytes are on record as a reading."""
    return one(connection, spoken_by, master_sha256=sha256) is not None
