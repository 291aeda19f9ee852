"""What an account may not open, and what was assigned to it: the newest row of an account and its person or recording counts."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, func, select

from archive.db.facts import bump_consent
from archive.db.rows import add
from archive.db.tables import account_reach, person, recording
from archive.domain.reach import Reach
from archive.domain.values import Role, Viewer


def of(connection: Connection, viewer: Viewer) -> Reach:
    """How far somebody reaches today. A helper reaches nothing but what was assigned to their account."""
    rows = _in_force(connection, viewer.name)
    shut = frozenset(r.person_id for r in rows if r.person_id is not None)
    return Reach(shut, frozenset(r.recording_id for r in rows if r.recording_id is not None) if viewer.role == Role.HELPER else None)


def say(connection: Connection, account: str, *, person_id: int | None = None, recording_id: int | None = None, in_force: bool, by: str, at: str) -> None:
    """Add that a person is not to be opened by an account, or that a recording is assigned to it; or that it is so no more."""
    bump_consent(connection)
    add(connection, account_reach, account=account, person_id=person_id, recording_id=recording_id, in_force=in_force, by=by, at=at)


def closed_to(connection: Connection, person_id: int) -> list[str]:
    """The accounts by which a person is not to be opened, by name."""
    return sorted(r.account for r in _in_force(connection) if r.person_id == person_id)


def assigned(connection: Connection) -> dict[str, list[str]]:
    """account → codes of the recordings that are assigned to it."""
    codes = {r.id: r.code for r in connection.execute(select(recording.c.id, recording.c.code))}
    found: dict[str, list[str]] = {}
    for row in _in_force(connection):
        if row.recording_id is not None:
            found.setdefault(row.account, []).append(codes[row.recording_id])
    return {name: sorted(those) for name, those in found.items()}


def closed(connection: Connection) -> dict[str, list[str]]:
    """account → codes of the people who are not to be opened by it."""
    codes = {r.id: r.code for r in connection.execute(select(person.c.id, person.c.code))}
    found: dict[str, list[str]] = {}
    for row in _in_force(connection):
        if row.person_id is not None:
            found.setdefault(row.account, []).append(codes[row.person_id])
    return {name: sorted(those) for name, those in found.items()}


def _in_force(connection: Connection, account: str | None = None) -> list[Row[Any]]:
    newest = select(func.max(account_reach.c.id)).group_by(account_reach.c.account, account_reach.c.person_id, account_reach.c.recording_id)
    query = select(account_reach).where(account_reach.c.id.in_(newest))
    if account is not None:
        query = query.where(account_reach.c.account == account)
    return [r for r in connection.execute(query) if r.in_force]
