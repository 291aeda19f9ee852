"""Lists: working trays of stretches in an order, with a note and who put each there. They hold no words of anybody's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, delete, func, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import kept_item, kept_list, recording
from archive.domain.values import Stretch

TEAM = ""  # in place of an account: of the team


def make(connection: Connection, name: str, account: str, by: str, at: str) -> int:
    """A new list; returns its number."""
    return add(connection, kept_list, name=name, account=account, by=by, at=at)


def everything(connection: Connection, account: str, of_the_team: bool, deleted: bool = False) -> list[Row[Any]]:
    """Lists that somebody may see, by name, each with `items`, how many are in it; those deleted instead."""
    count = select(func.count()).where(kept_item.c.list_id == kept_list.c.id, kept_item.c.taken_off_at.is_(None)).scalar_subquery()
    stands = kept_list.c.deleted_at.is_not(None) if deleted else kept_list.c.deleted_at.is_(None)
    query = select(kept_list, count.label("items")).where(_mine(account, of_the_team), stands)
    return list(connection.execute(query.order_by(func.lower(kept_list.c.name), kept_list.c.id)))


def one_of(connection: Connection, list_id: int, account: str, of_the_team: bool) -> Row[Any] | None:
    """A list, deleted or not, for who may see it; or None."""
    return connection.execute(select(kept_list).where(kept_list.c.id == list_id, _mine(account, of_the_team))).first()


def change(connection: Connection, list_id: int, **values: Any) -> None:
    """Another name, or deleted, or not any more."""
    connection.execute(update(kept_list).where(kept_list.c.id == list_id).values(**values))


def items(connection: Connection, list_id: int, taken_off: bool = False) -> list[Row[Any]]:
    """What is in a list, in order, each with its `recording`; those taken off instead."""
    stands = kept_item.c.taken_off_at.is_not(None) if taken_off else kept_item.c.taken_off_at.is_(None)
    query = select(kept_item, recording.c.code.label("recording")).join(recording, recording.c.id == kept_item.c.recording_id)
    return list(connection.execute(query.where(kept_item.c.list_id == list_id, stands).order_by(kept_item.c.position, kept_item.c.id)))


def item(connection: Connection, item_id: int) -> Row[Any] | None:
    """One item, or None."""
    return one(connection, kept_item, id=item_id)


def put(connection: Connection, list_id: int, stretch: Stretch, note: str, by: str, at: str) -> int:
    """Add a stretch at the end; returns its number."""
    last = connection.execute(select(func.max(kept_item.c.position)).where(kept_item.c.list_id == list_id)).scalar_one()
    return add(
        connection, kept_item, list_id=list_id, recording_id=stretch.recording_id, start_ms=stretch.start_ms, end_ms=stretch.end_ms,
        position=(last or 0) + 1, note=note, by=by, at=at,
    )  # fmt: skip


def change_item(connection: Connection, item_id: int, **values: Any) -> None:
    """Another note, or taken off, or put back."""
    connection.execute(update(kept_item).where(kept_item.c.id == item_id).values(**values))


def order(connection: Connection, item_ids: Sequence[int]) -> None:
    """Put items into this order."""
    for position, item_id in enumerate(item_ids, 1):
        connection.execute(update(kept_item).where(kept_item.c.id == item_id).values(position=position))


def holding(connection: Connection, list_ids: Iterable[int], recording_ids: Iterable[int]) -> list[Row[Any]]:
    """Items of these lists in these recordings."""
    query = select(kept_item).where(kept_item.c.list_id.in_(list(list_ids)), kept_item.c.recording_id.in_(set(recording_ids)), kept_item.c.taken_off_at.is_(None))
    return list(connection.execute(query.order_by(kept_item.c.id)))


def newest_used(connection: Connection, by: str) -> int | None:
    """The list into which somebody kept something last."""
    query = select(kept_item.c.list_id).where(kept_item.c.by == by).order_by(kept_item.c.id.desc()).limit(1)
    found = connection.execute(query).scalar()
    return int(found) if found is not None else None


def clear(connection: Connection, before: str) -> None:
    """Forget for good what was deleted or taken off before a moment."""
    gone = select(kept_list.c.id).where(kept_list.c.deleted_at < before)
    connection.execute(delete(kept_item).where(or_(kept_item.c.taken_off_at < before, kept_item.c.list_id.in_(gone))))
    connection.execute(delete(kept_list).where(kept_list.c.deleted_at < before))


def _mine(account: str, of_the_team: bool) -> ColumnElement[bool]:
    own = kept_list.c.account == account
    return or_(own, kept_list.c.account == TEAM) if of_the_team else own
