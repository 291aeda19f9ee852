"""The record of everything consequential: append-only, each entry chained to the last by its digest.

The chain holds commitments (salted SHA-256 of the detail); detail and salt lie beside it and can be erased without
breaking it. Detail holds ids and counts, never names or quoted words.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, func, insert, select

from archive.db.tables import audit, audit_detail

START = "0" * 64


def record(connection: Connection, actor: str, action: str, subject: str, at: str, **detail: Any) -> int:
    """Append one entry in the caller's transaction. `subject`: kind and id, e.g. "excerpt 12". Returns its id."""
    salt = secrets.token_hex(32)
    commitment = _commit(salt, detail)
    previous = connection.execute(select(audit.c.digest).order_by(audit.c.id.desc()).limit(1)).scalar() or START
    digest = _digest(previous, actor, action, subject, at, commitment)
    row = connection.execute(
        insert(audit).values(
            actor=actor, action=action, subject=subject, at=at, commitment=commitment, previous=previous, digest=digest
        )
    )
    assert row.inserted_primary_key is not None
    entry = int(row.inserted_primary_key[0])
    connection.execute(insert(audit_detail).values(audit_id=entry, salt=salt, detail=detail))
    return entry


def newest(connection: Connection) -> tuple[int, str]:
    """(number, checksum) of the newest entry. Kept outside the archive, it shows later that no newer ones were cut off."""
    row = connection.execute(select(audit.c.id, audit.c.digest).order_by(audit.c.id.desc()).limit(1)).first()
    return (int(row.id), str(row.digest)) if row is not None else (0, START)


def first(connection: Connection) -> str:
    """The checksum of the first entry, by which this archive is known from any other; "" before there is one."""
    return connection.execute(select(audit.c.digest).order_by(audit.c.id).limit(1)).scalar() or ""


def holds(connection: Connection, digest: str) -> bool:
    """True where an entry has this checksum (its first twelve signs are enough)."""
    return len(digest) >= 12 and connection.execute(select(audit.c.id).where(audit.c.digest.startswith(digest)).limit(1)).first() is not None


def verify(connection: Connection) -> list[str]:
    """Every fault of the chain in sentences; empty when it is whole. Whether its end was cut off, only `holds` can tell.

    An erased detail is no fault: the chain holds commitments alone.
    """
    faults: list[str] = []
    previous, expected_id = START, 1
    details = {r.audit_id: r for r in connection.execute(select(audit_detail))}
    ids = {r.digest: r.id for r in connection.execute(select(audit.c.id, audit.c.digest))}
    for row in connection.execute(select(audit).order_by(audit.c.id)):
        faults += [f"Entry {n} is missing." for n in range(expected_id, row.id)]
        if row.previous != previous:
            came = ids.get(row.previous)
            moved = f" It was written after what is now entry {came}." if came is not None else ""
            faults.append(f"Entry {row.id} does not follow the entry before it.{moved}")
        if row.digest != _digest(row.previous, row.actor, row.action, row.subject, row.at, row.commitment):
            faults.append(f"Entry {row.id} was changed.")
        detail = details.get(row.id)
        if detail is not None and _commit(detail.salt, detail.detail) != row.commitment:
            faults.append(f"The detail of entry {row.id} was changed.")
        previous, expected_id = row.digest, row.id + 1
    return faults


def count(connection: Connection) -> tuple[int, int]:
    """(entries, entries whose detail was erased)."""
    entries = int(connection.execute(select(func.count()).select_from(audit)).scalar_one())
    return entries, entries - int(connection.execute(select(func.count()).select_from(audit_detail)).scalar_one())


def whole(connection: Connection) -> Iterator[dict[str, Any]]:
    """Every entry with all that is needed to reckon its checksum again elsewhere, oldest first; `detail` and `salt` None where erased."""
    query = select(audit, audit_detail.c.salt, audit_detail.c.detail).outerjoin(audit_detail, audit_detail.c.audit_id == audit.c.id)
    for row in connection.execute(query.order_by(audit.c.id)):
        yield row._asdict()


def of_action(connection: Connection, action: str) -> list[Any]:
    """Every entry of one action, oldest first, with its detail where it was not erased."""
    query = (
        select(audit, audit_detail.c.detail)
        .outerjoin(audit_detail, audit_detail.c.audit_id == audit.c.id)
        .where(audit.c.action == action)
        .order_by(audit.c.id)
    )
    return list(connection.execute(query))


def listened_back(connection: Connection) -> tuple[int, list[str]]:
    """How many clips of given exports were listened to again, and the codes of excerpts that were held back."""
    clips = sum((row.detail or {}).get("listened", 0) for row in of_action(connection, "export approved"))
    held = [code for row in of_action(connection, "export held back") for code in (row.detail or {}).get("excerpts", [])]
    return clips, list(dict.fromkeys(held))


def entries(connection: Connection, limit: int = 100) -> list[Any]:
    """The newest entries first, with their detail where it was not erased."""
    query = (
        select(audit, audit_detail.c.detail)
        .outerjoin(audit_detail, audit_detail.c.audit_id == audit.c.id)
        .order_by(audit.c.id.desc())
        .limit(limit)
    )
    return list(connection.execute(query))


def _commit(salt: str, detail: dict[str, Any]) -> str:
    text = salt + json.dumps(detail, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _digest(*parts: str) -> str:
    return hashlib.sha256(json.dumps(parts, ensure_ascii=False).encode("utf-8")).hexdigest()
