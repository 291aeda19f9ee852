"""What only a person can do after something may not be used any more: take it down, call it back. And where what left stands."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, select, update

from archive.db.rows import add, one
from archive.db.tables import export, export_file, person, placement, task


def add_task(connection: Connection, kind: str, what: str, by: str, at: str, **of: int | None) -> int:
    """Put a task on the list; returns its number. `what`: codes and files, no names. `of`: person_id, restraint_id, objection_id, export_id,
    placement_id."""
    return add(connection, task, kind=kind, what=what, by=by, at=at, **of)


def everything(connection: Connection, done: bool = False) -> list[Row[Any]]:
    """Tasks with the codes of their person and export and where it stands (`person_code`, `export_code`, `where`): those that are open, or
    those that are done; the newest first."""
    query = (
        select(task, person.c.code.label("person_code"), export.c.code.label("export_code"), placement.c.where)
        .outerjoin(person, person.c.id == task.c.person_id)
        .outerjoin(export, export.c.id == task.c.export_id)
        .outerjoin(placement, placement.c.id == task.c.placement_id)
        .where(task.c.done_at.is_not(None) if done else task.c.done_at.is_(None))
    )
    return list(connection.execute(query.order_by(task.c.id.desc())))


def by_id(connection: Connection, number: int) -> Row[Any] | None:
    """One task, or None."""
    return one(connection, task, id=number)


def open_of_exports(connection: Connection, export_ids: Collection[int]) -> set[tuple[int, int | None]]:
    """(export, placement) of the tasks about these exports that are not done."""
    query = select(task.c.export_id, task.c.placement_id).where(task.c.export_id.in_(export_ids), task.c.done_at.is_(None))
    return {(row.export_id, row.placement_id) for row in connection.execute(query)}


def of_hold(connection: Connection, restraint_id: int | None = None, objection_id: int | None = None) -> list[Row[Any]]:
    """The tasks that a hold, or an objection, made, with the codes of their exports (`export_code`) and where it stands (`where`)."""
    mine = task.c.restraint_id == restraint_id if restraint_id is not None else task.c.objection_id == objection_id
    query = (
        select(task, export.c.code.label("export_code"), placement.c.where)
        .outerjoin(export, export.c.id == task.c.export_id)
        .outerjoin(placement, placement.c.id == task.c.placement_id)
        .where(mine)
    )
    return list(connection.execute(query.order_by(task.c.id)))


def tick(connection: Connection, number: int, note: str, by: str, at: str) -> bool:
    """A person did it; False where it was ticked already."""
    waiting = update(task).where(task.c.id == number, task.c.done_at.is_(None))
    return connection.execute(waiting.values(done_at=at, done_by=by, note=note)).rowcount == 1


# --- where it stands ----------------------------------------------------------------------------------------------


def place(connection: Connection, export_file_id: int, where: str, up_on: date | None, by: str, at: str) -> int:
    """Write down where a file that left stands; returns the number of the place."""
    return add(connection, placement, export_file_id=export_file_id, where=where, up_on=up_on, by=by, at=at)


def take_down(connection: Connection, number: int, on: date) -> bool:
    """It does not stand there any more; False where there is no such place, or it was taken down before."""
    standing = update(placement).where(placement.c.id == number, placement.c.down_on.is_(None))
    return connection.execute(standing.values(down_on=on)).rowcount == 1


def places(connection: Connection, export_ids: Collection[int]) -> list[Row[Any]]:
    """Where files of these exports stand or stood, with `export_id` and the file's `name`, in order."""
    query = (
        select(placement, export_file.c.export_id, export_file.c.name)
        .join(export_file, export_file.c.id == placement.c.export_file_id)
        .where(export_file.c.export_id.in_(export_ids))
    )
    return list(connection.execute(query.order_by(placement.c.id)))
