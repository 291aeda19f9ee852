"""How people may be reached: one row a person, of which only the newest is kept."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, delete, select

from archive.db.rows import add, one
from archive.db.tables import contact
from archive.domain.contact import UNKNOWN, Contact, rules_of


def of(connection: Connection, person_id: int) -> Contact:
    """What is on record of a person; the most careful answer where nothing is."""
    row = one(connection, contact, person_id=person_id)
    return _contact(row) if row is not None else UNKNOWN


def everything(connection: Connection) -> dict[int, Contact]:
    """person id → how they may be reached, of everybody who has such a row."""
    return {row.person_id: _contact(row) for row in connection.execute(select(contact))}


def write(connection: Connection, person_id: int, said: Contact, by: str, at: str) -> None:
    """Keep this in place of what was on record."""
    connection.execute(delete(contact).where(contact.c.person_id == person_id))
    add(
        connection, contact, person_id=person_id, called=said.called, address="\n".join(said.address), rules=sorted(said.rules),
        language=said.language, large=said.large, how=said.how, by=by, at=at,
    )  # fmt: skip


def _contact(row: Any) -> Contact:
    return Contact(row.called, tuple(row.address.splitlines()), rules_of(row.rules), row.language, row.large, row.how)
