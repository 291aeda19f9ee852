"""Notes of what could happen to somebody: for keepers, each with the day on which to look at it again."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, select, update

from archive.db.rows import add
from archive.db.tables import person, risk


def add_risk(connection: Connection, person_id: int, words: str, review_on: date | None, by: str, at: str) -> int:
    """Keep a note; returns its number."""
    return add(connection, risk, person_id=person_id, words=words, review_on=review_on, by=by, at=at)


def in_force(connection: Connection, person_id: int | None = None) -> list[Row[Any]]:
    """Notes that count, with their person's code (`person_code`), of one person or of all; in order."""
    query = select(risk, person.c.code.label("person_code")).join(person, person.c.id == risk.c.person_id).where(risk.c.ended_at.is_(None))
    if person_id is not None:
        query = query.where(risk.c.person_id == person_id)
    return list(connection.execute(query.order_by(risk.c.id)))


def end(connection: Connection, number: int, at: str) -> bool:
    """A note counts no more; False where there is no such note."""
    return connection.execute(update(risk).where(risk.c.id == number, risk.c.ended_at.is_(None)).values(ended_at=at)).rowcount == 1
