"""Runs of the speech engine: which model, options and vocabulary made which words."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, select

from archive.db.rows import add
from archive.db.tables import run


def add_run(connection: Connection, **values: Any) -> int:
    """Keep one run, frozen; returns its id."""
    return add(connection, run, **values)


def newest_run(connection: Connection, recording_id: int) -> Row[Any] | None:
    """The last run on a recording, or None."""
    return connection.execute(select(run).where(run.c.recording_id == recording_id).order_by(run.c.id.desc()).limit(1)).first()
