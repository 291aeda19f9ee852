"""What somebody named, looked up as far as their account reaches: what lies beyond is answered like what is not on record."""

from __future__ import annotations

from typing import Any

from archive.db import people, reach, recordings
from archive.db.session import Connection, Row
from archive.domain.values import Role, Viewer
from archive.errors import NotFound


def person_of(connection: Connection, viewer: Viewer, code: str) -> Row[Any] | None:
    """Somebody by code; None for nobody on record, and for whoever is not to be opened by this account."""
    row = people.by_code(connection, code)
    return row if row is not None and row.id not in reach.of(connection, viewer).people else None


def person_named(connection: Connection, viewer: Viewer, code: str) -> Row[Any]:
    """The same. Raises NotFound."""
    row = person_of(connection, viewer, code)
    if row is None:
        raise NotFound("There is no such person on record.", "See the list of people.")
    return row


def recording_named(connection: Connection, viewer: Viewer, code: str) -> Row[Any]:
    """A recording by code. Raises NotFound, in the same words for one that was not assigned to a helper."""
    row = recordings.by_code(connection, code)
    if row is None and viewer.role == Role.KEEPER:
        return recordings.named(connection, code)  # a keeper is told that it was erased, and when
    if row is None or not reach.of(connection, viewer).has(row.id):
        raise NotFound("There is no such recording.", "See the list of recordings.")
    return row


def codes_beyond(connection: Connection, viewer: Viewer) -> frozenset[str]:
    """Codes of the people who are not to be opened by this account."""
    shut = reach.of(connection, viewer).people
    return frozenset(code for code, n in people.ids_by_code(connection).items() if n in shut) if shut else frozenset()
