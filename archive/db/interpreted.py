"""Who checked an interpreter's words against what was said before them, for exactly one wording."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, select

from archive.db.facts import bump_consent
from archive.db.rows import add
from archive.db.tables import interpreted_check


def checks(connection: Connection, wording_sha256: str) -> list[Row[Any]]:
    """Every check of this wording, in order."""
    return list(connection.execute(select(interpreted_check).where(interpreted_check.c.wording_sha256 == wording_sha256).order_by(interpreted_check.c.id)))


def add_check(connection: Connection, wording_sha256: str, by: str, at: str) -> None:
    """Somebody who speaks both languages says that these words agree with what was said. Consent moves."""
    add(connection, interpreted_check, wording_sha256=wording_sha256, by=by, at=at)
    bump_consent(connection)
