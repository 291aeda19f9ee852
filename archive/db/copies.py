"""Where each master lies a second time and when it was read again; cards as they were taken in; who listened to what."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, and_, func, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import finding, listened, master, recording, second_copy

HERE, THERE = "here", "there"


def masters(connection: Connection, place: str) -> list[Row[Any]]:
    """Every master with its recording's code (`code`) and what is known of its copy at this place (`copied_at`, `read_back_at`,
    `copy_checked_at`, `copy_trouble`; None where it has none), in the order in which they came."""
    there = second_copy
    query = (
        select(
            master, recording.c.code, recording.c.id.label("recording_id"), there.c.copied_at, there.c.read_back_at,
            there.c.checked_at.label("copy_checked_at"), there.c.trouble.label("copy_trouble"),
        )
        .join(recording, recording.c.master_id == master.c.id)
        .outerjoin(there, and_(there.c.master_id == master.c.id, there.c.place == place))
        .where(recording.c.erased_at.is_(None))
        .order_by(master.c.id)
    )  # fmt: skip
    return list(connection.execute(query))


def waiting(connection: Connection, place: str) -> list[int]:
    """Ids of masters that are not yet written to this place, or not yet read back from it."""
    there = select(second_copy.c.master_id).where(second_copy.c.place == place)
    done = there.where(or_(second_copy.c.read_back_at.is_not(None), second_copy.c.trouble != ""))
    gone = select(recording.c.master_id).where(recording.c.erased_at.is_not(None))
    return list(connection.execute(select(master.c.id).where(master.c.id.not_in(done), master.c.id.not_in(gone)).order_by(master.c.id)).scalars())


def keep_copy(connection: Connection, master_id: int, place: str, at: str) -> None:
    """A master was written to the second place; it has not been read back."""
    if one(connection, second_copy, master_id=master_id, place=place) is None:
        add(connection, second_copy, master_id=master_id, place=place, copied_at=at)


def keep_reading(connection: Connection, master_id: int, side: str, place: str, at: str, trouble: str) -> None:
    """One of the two was read again and compared; `trouble` is "" where it is whole."""
    if side == HERE:
        connection.execute(update(master).where(master.c.id == master_id).values(checked_at=at, trouble=trouble))
        return
    known: dict[str, Any] = {"checked_at": at, "trouble": trouble}
    if not trouble:
        known["read_back_at"] = func.coalesce(second_copy.c.read_back_at, at)
    mine = and_(second_copy.c.master_id == master_id, second_copy.c.place == place)
    connection.execute(update(second_copy).where(mine).values(**known))


def cards(connection: Connection, most: int = 50) -> list[str]:
    """The runs of ingest, each a card or a folder, the newest first."""
    query = select(finding.c.batch).group_by(finding.c.batch).order_by(func.min(finding.c.id).desc()).limit(most)
    return list(connection.execute(query).scalars())


def files_of(connection: Connection, batch: str) -> list[Row[Any]]:
    """What became of each file of one run, with the recording's code (`code`), id and length."""
    query = (
        select(finding, recording.c.code, recording.c.master_id, recording.c.duration_ms)
        .outerjoin(recording, recording.c.id == finding.c.recording_id)
        .where(finding.c.batch == batch)
        .order_by(finding.c.id)
    )
    return list(connection.execute(query))


def say_listened(connection: Connection, recording_id: int, part: str, by: str, at: str) -> None:
    """Somebody listened to this part of a recording."""
    add(connection, listened, recording_id=recording_id, part=part, by=by, at=at)


def listeners(connection: Connection) -> dict[int, dict[str, Row[Any]]]:
    """Who listened, and when, by recording and part; of several the first."""
    found: dict[int, dict[str, Row[Any]]] = {}
    for row in connection.execute(select(listened).order_by(listened.c.id)):
        found.setdefault(row.recording_id, {}).setdefault(row.part, row)
    return found
