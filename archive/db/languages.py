"""Which language is spoken in a recording and in stretches of it, as people said it. Append-only: the last word counts."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, select

from archive.db.rows import add
from archive.db.tables import recording, spoken_language
from archive.domain.languages import Spoken, Told, spoken


def say(connection: Connection, recording_id: int, told: Told, by: str, at: str) -> None:
    """Put on record what somebody said about a recording or a stretch of it."""
    add(
        connection, spoken_language, recording_id=recording_id, start_ms=told.start_ms, end_ms=told.end_ms, language=told.tag, by=by, at=at
    )


def said(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Everything that was said, oldest first."""
    query = select(spoken_language).where(spoken_language.c.recording_id == recording_id).order_by(spoken_language.c.id)
    return list(connection.execute(query))


def of(connection: Connection, recording_id: int) -> Spoken:
    """What counts today. Until somebody says another, a recording is in the language that it came with."""
    came_with = str(connection.execute(select(recording.c.language).where(recording.c.id == recording_id)).scalar_one())
    return spoken(came_with, (Told(r.start_ms, r.end_ms, r.language) for r in said(connection, recording_id)))
