"""Translations of stretches, each under its code. Append-only: the latest row of a code counts."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlalchemy import Connection, Row, func, select

from archive.db.rows import add as add_row
from archive.db.tables import translation
from archive.domain.translating import State

_LATEST = select(func.max(translation.c.id)).group_by(translation.c.code)


def add(connection: Connection, **values: Any) -> None:
    """Put a translation on record, or a change of one: all its columns."""
    add_row(connection, translation, **values)


def new_code(connection: Connection) -> str:
    """The next code: TR-1, TR-2, …"""
    return f"TR-{connection.execute(select(func.count(func.distinct(translation.c.code)))).scalar_one() + 1}"


def current(connection: Connection, recording_ids: Collection[int]) -> list[Row[Any]]:
    """What counts today of these recordings, in time order; without what was set aside."""
    query = (
        select(translation)
        .where(translation.c.id.in_(_LATEST), translation.c.recording_id.in_(recording_ids), translation.c.state != State.ASIDE.value)
        .order_by(translation.c.recording_id, translation.c.start_ms, translation.c.id)
    )
    return list(connection.execute(query))


def recordings_with(connection: Connection) -> list[int]:
    """Ids of the recordings of which anything was translated."""
    return sorted(connection.execute(select(translation.c.recording_id).distinct()).scalars())


def by_code(connection: Connection, code: str) -> Row[Any] | None:
    """What counts of one translation today, set aside or not; None where there is none."""
    return connection.execute(select(translation).where(translation.c.code == code).order_by(translation.c.id.desc()).limit(1)).first()


def as_typed(connection: Connection, code: str, number: int) -> Row[Any]:
    """The row in which these words of a translation were typed."""
    query = select(translation).where(translation.c.code == code, translation.c.number == number).order_by(translation.c.id).limit(1)
    return connection.execute(query).one()


def ever(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Every row of every translation of a recording, set aside or not, newest first."""
    return list(connection.execute(select(translation).where(translation.c.recording_id == recording_id).order_by(translation.c.id.desc())))


def history(connection: Connection, code: str) -> list[Row[Any]]:
    """Every row of one translation, oldest first."""
    return list(connection.execute(select(translation).where(translation.c.code == code).order_by(translation.c.id)))
