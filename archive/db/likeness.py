"""What voices are like, kept from listening until it is decided who speaks: personal data, deleted, never added to another interview.

Whatever holds speech back deletes it in the same transaction (consent_rows.add_restraint), and an erasure must call `forget`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import Connection, Row, delete, func, select

from archive.db.rows import add
from archive.db.tables import participation, recording, voice_heard


def keep(connection: Connection, recording_id: int, windows: Sequence[tuple[int, int]], vectors: bytes, at: str) -> None:
    """Keep some windows (ms) of a recording with their vectors: float16 little endian, row by row."""
    start_ms, end_ms = min(s for s, _ in windows), max(e for _, e in windows)
    told = [list(w) for w in windows]
    add(connection, voice_heard, recording_id=recording_id, start_ms=start_ms, end_ms=end_ms, windows=told, vectors=vectors, at=at)


def of(connection: Connection, recording_ids: Collection[int]) -> list[Row[Any]]:
    """Everything kept of these recordings, in order of time."""
    query = select(voice_heard).where(voice_heard.c.recording_id.in_(recording_ids))
    return list(connection.execute(query.order_by(voice_heard.c.recording_id, voice_heard.c.start_ms)))


def recordings_with(connection: Connection) -> set[int]:
    """Ids of the recordings of which anything is kept."""
    return set(connection.execute(select(voice_heard.c.recording_id).distinct()).scalars())


def forget(connection: Connection, recording_ids: Collection[int]) -> int:
    """Delete all that is kept of these recordings; returns how many rows. Their pages are overwritten (secure_delete)."""
    return int(connection.execute(delete(voice_heard).where(voice_heard.c.recording_id.in_(recording_ids))).rowcount)


def oldest(connection: Connection, recording_ids: Collection[int] | None = None) -> str:
    """When the first of what is kept of these recordings, or of any, was heard; "" where nothing is."""
    query = select(func.min(voice_heard.c.at))
    if recording_ids is not None:
        query = query.where(voice_heard.c.recording_id.in_(recording_ids))
    return connection.execute(query).scalar() or ""


def forget_before(connection: Connection, at: str) -> list[int]:
    """Delete what was heard before this moment; returns the recordings' ids."""
    reached = list(connection.execute(select(voice_heard.c.recording_id).distinct().where(voice_heard.c.at < at)).scalars())
    connection.execute(delete(voice_heard).where(voice_heard.c.at < at))
    return reached


def forget_held(
    connection: Connection, person_id: int | None, interview_id: int | None, stretch: tuple[int, int, int] | None
) -> None:
    """Delete what a hold on a person, an interview or a stretch (recording, start_ms, end_ms) reaches: every filled one narrows it."""
    if stretch is not None:
        recording_id, start_ms, end_ms = stretch
        there = (voice_heard.c.recording_id == recording_id, voice_heard.c.start_ms < end_ms, voice_heard.c.end_ms > start_ms)
        connection.execute(delete(voice_heard).where(*there))
        return
    reached = select(recording.c.id)
    if interview_id is not None:
        reached = reached.where(recording.c.interview_id == interview_id)
    if person_id is not None:
        theirs = select(participation.c.interview_id).where(participation.c.person_id == person_id)
        reached = reached.where(recording.c.interview_id.in_(theirs))
    connection.execute(delete(voice_heard).where(voice_heard.c.recording_id.in_(reached)))
