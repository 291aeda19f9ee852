"""Somebody else's works inside speech, and what their owners or the law say to a use of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from archive.db.facts import bump_consent
from archive.db.rows import add
from archive.db.tables import recording, work, work_clearance
from archive.domain.agreements import Clearance, Work
from archive.domain.values import Answer, Stretch, Way
from archive.errors import BadInput


def of_recordings(connection: Connection, recording_ids: Collection[int]) -> dict[int, tuple[Work, ...]]:
    """recording id → the works in it, in order; recordings without any are not in it."""
    rows = connection.execute(select(work).where(work.c.recording_id.in_(recording_ids)).order_by(work.c.start_ms, work.c.id)).all()
    said = clearances(connection, [r.id for r in rows])
    found: dict[int, list[Work]] = defaultdict(list)
    for row in rows:
        words = tuple(
            Clearance(c.id, Answer(c.answer), c.from_on, c.until_on, c.use, Way(c.way) if c.way else None, c.exhibition) for c in said.get(row.id, ())
        )
        found[row.recording_id].append(Work(row.id, row.kind, Stretch(row.recording_id, row.start_ms, row.end_ms), words))
    return {recording_id: tuple(some) for recording_id, some in found.items()}


def everything(connection: Connection) -> list[Row[Any]]:
    """Every work with its recording's code (`code`), in order."""
    query = select(work, recording.c.code).join(recording, recording.c.id == work.c.recording_id)
    return list(connection.execute(query.order_by(recording.c.code, work.c.start_ms, work.c.id)))


def clearances(connection: Connection, work_ids: Collection[int]) -> dict[int, list[Row[Any]]]:
    """work id → what was said to its use, in the order in which it was put on record."""
    found: dict[int, list[Row[Any]]] = defaultdict(list)
    for row in connection.execute(select(work_clearance).where(work_clearance.c.work_id.in_(work_ids)).order_by(work_clearance.c.id)):
        found[row.work_id].append(row)
    return found


def add_work(connection: Connection, stretch: Stretch, kind: str, about: str, by: str, at: str) -> int:
    """Mark a stretch as somebody else's work; nothing of it leaves before it is cleared. Returns its id."""
    bump_consent(connection)
    return add(
        connection, work, recording_id=stretch.recording_id, start_ms=stretch.start_ms, end_ms=stretch.end_ms, kind=kind, about=about, by=by, at=at
    )


def add_clearance(
    connection: Connection, *, work_id: int, answer: Answer, from_on: date, basis: str, by: str, at: str, until_on: date | None = None,
    use: str | None = None, way: Way | None = None, exhibition: str | None = None,
) -> None:  # fmt: skip
    """Put on record what is allowed of a work, and by whom or what. `until_on` exclusive; None: any use, way, exhibition."""
    if not basis.strip():
        raise BadInput("It must say what that rests on.", "Name the owner and the paper, or say why nobody's word is needed.")
    if answer == Answer.ASK:
        raise BadInput("A work is cleared for a use, or it is not.", "Write yes or no.")
    if until_on is not None and until_on <= from_on:
        raise BadInput("It would end before it begins.", "Give a last day on or after the first one.")
    connection.execute(
        insert(work_clearance).values(
            work_id=work_id, answer=answer.value, use=use, way=way.value if way is not None else None, exhibition=exhibition or None,
            from_on=from_on, until_on=until_on, basis=basis.strip(), by=by, at=at,
        )
    )  # fmt: skip
    bump_consent(connection)
