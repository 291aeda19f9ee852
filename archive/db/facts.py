"""Small facts of the archive as a whole: policies, and the revision that every change of consent raises."""

from __future__ import annotations

from sqlalchemy import Connection, insert, select, text, update

from archive.db.tables import fact

CONSENT_REVISION = "consent_revision"
FIND_REVISION = "find_revision"
NEAR_IN_MEANING = "near_in_meaning"
PARTICIPATION_COVERS_MACHINE = "participation_covers_machine"


def get_fact(connection: Connection, key: str, default: str = "") -> str:
    """The fact's text, or `default`."""
    return connection.execute(select(fact.c.value).where(fact.c.key == key)).scalar() or default


def set_fact(connection: Connection, key: str, value: str) -> None:
    """Write one fact."""
    done = connection.execute(update(fact).where(fact.c.key == key).values(value=value))
    if not done.rowcount:
        connection.execute(insert(fact).values(key=key, value=value))


def consent_revision(connection: Connection) -> int:
    """How often consent has changed; exports and caches compare it."""
    return int(get_fact(connection, CONSENT_REVISION, "0"))


def bump_consent(connection: Connection) -> None:
    """Say that consent changed, in the same transaction as the change."""
    _bump(connection, CONSENT_REVISION)


def find_revision(connection: Connection) -> int:
    """How often find units, or the vectors beside them, have changed; caches compare it. It says nothing of consent."""
    return int(get_fact(connection, FIND_REVISION, "0"))


def bump_find(connection: Connection) -> None:
    """Say that find units or their vectors changed, in the same transaction as the change."""
    _bump(connection, FIND_REVISION)


def _bump(connection: Connection, key: str) -> None:
    connection.execute(
        text(
            "INSERT INTO fact (key, value) VALUES (:key, '1') "
            "ON CONFLICT (key) DO UPDATE SET value = CAST(CAST(fact.value AS INTEGER) + 1 AS TEXT)"
        ),
        {"key": key},
    )


def participation_covers_machine(connection: Connection) -> bool:
    """The archive's own decision, asked at `init`: does the form before the interview cover machine listening?"""
    return get_fact(connection, PARTICIPATION_COVERS_MACHINE) == "yes"
