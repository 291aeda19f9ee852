"""Objections of people who are spoken about: what they hold, and how each was decided."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, select, update

from archive.db.rows import add, one
from archive.db.tables import objection, objection_hold, person


def add_objection(connection: Connection, person_id: int, how: str, on: date, by: str, at: str) -> int:
    """Put an objection on record; returns its number."""
    return add(connection, objection, person_id=person_id, how=how, on=on, by=by, at=at)


def holds(connection: Connection, objection_id: int, restraint_ids: Sequence[int]) -> None:
    """Say which holds are this objection's."""
    for restraint_id in restraint_ids:
        add(connection, objection_hold, objection_id=objection_id, restraint_id=restraint_id)


def everything(connection: Connection) -> list[Row[Any]]:
    """Every objection with its person's code (`person_code`), those that wait first, then the newest first."""
    query = select(objection, person.c.code.label("person_code")).join(person, person.c.id == objection.c.person_id)
    return list(connection.execute(query.order_by(objection.c.decision != "", objection.c.id.desc())))


def by_id(connection: Connection, number: int) -> Row[Any] | None:
    """One objection, or None."""
    return one(connection, objection, id=number)


def holds_of(connection: Connection) -> dict[int, list[int]]:
    """objection → its holds."""
    found: dict[int, list[int]] = defaultdict(list)
    for row in connection.execute(select(objection_hold).order_by(objection_hold.c.restraint_id)):
        found[row.objection_id].append(row.restraint_id)
    return found


def decide(connection: Connection, number: int, decision: str, reason: str, on: date, by: str) -> bool:
    """Write the decision down; False where there was one already."""
    waiting = update(objection).where(objection.c.id == number, objection.c.decision == "")
    return connection.execute(waiting.values(decision=decision, reason=reason, decided_on=on, decided_by=by)).rowcount == 1
