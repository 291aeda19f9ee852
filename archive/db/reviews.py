"""Quotes that are put to their speaker on a sheet, and what was answered. Sheets, questions and answers are only ever added to."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, func, select, update

from archive.db.facts import bump_consent
from archive.db.rows import add, one
from archive.db.tables import approval, excerpt, person, review_answer, review_item, review_sheet
from archive.domain.agreements import Approval
from archive.domain.values import Answer, Way

OUT = 2**40  # beyond every approval's number: a question that goes out is the latest word of its day


def add_sheet(connection: Connection, questions: Sequence[dict[str, Any]], **values: Any) -> int:
    """Put a sheet with its questions on record; from now on each of them is open, which counts as no. Consent moves. Returns its id."""
    number = add(connection, review_sheet, **values)
    for question in questions:
        add(connection, review_item, sheet_id=number, **question)
    bump_consent(connection)
    return number


def add_answer(connection: Connection, **values: Any) -> int:
    """Put an answer on record; the newest counts. Consent moves. Returns its id."""
    number = add(connection, review_answer, **values)
    bump_consent(connection)
    return number


def by_code(connection: Connection, code: str) -> Row[Any] | None:
    """A sheet with its person's code (`person`), or None."""
    found = _sheets(connection, review_sheet.c.code == code)
    return found[0] if found else None


def sheets(connection: Connection, person_id: int | None = None) -> list[Row[Any]]:
    """Every sheet, or those put to one person, the newest first, as `by_code`."""
    return _sheets(connection, review_sheet.c.person_id == person_id if person_id is not None else review_sheet.c.id > 0)


def _sheets(connection: Connection, wanted: Any) -> list[Row[Any]]:
    query = select(review_sheet, person.c.code.label("person")).join(person, person.c.id == review_sheet.c.person_id)
    return list(connection.execute(query.where(wanted).order_by(review_sheet.c.id.desc())))


def questions(connection: Connection, sheet_id: int) -> list[Row[Any]]:
    """The questions of a sheet in order, each with its excerpt's code (`excerpt`)."""
    query = select(review_item, excerpt.c.code.label("excerpt")).join(excerpt, excerpt.c.id == review_item.c.excerpt_id)
    return list(connection.execute(query.where(review_item.c.sheet_id == sheet_id).order_by(review_item.c.number)))


def answers(connection: Connection, item_ids: Collection[int]) -> dict[int, Row[Any]]:
    """question id → the newest answer to it, with the code of who gave it for them (`given_by`, None: they themselves)."""
    query = select(review_answer, person.c.code.label("given_by")).outerjoin(person, person.c.id == review_answer.c.given_by_id)
    return {row.item_id: row for row in connection.execute(query.where(review_answer.c.item_id.in_(item_ids)).order_by(review_answer.c.id))}


def unanswered(connection: Connection, person_ids: Collection[int]) -> dict[int, list[Approval]]:
    """person id → the questions that are out to them without an answer, each as a no from the day of its sheet on. What they said since, on
    another sheet or by word of mouth, is an answer to it as well."""
    said = select(approval.c.id).where(
        approval.c.person_id == review_sheet.c.person_id, approval.c.wording_sha256 == review_item.c.wording_sha256,
        approval.c.use == review_item.c.use, approval.c.way == review_item.c.way, approval.c.at >= review_sheet.c.at,
    )  # fmt: skip
    answered = select(review_answer.c.id).where(review_answer.c.item_id == review_item.c.id)
    query = (
        select(review_item, review_sheet.c.person_id, review_sheet.c.code, review_sheet.c.at, review_sheet.c.answer_by)
        .join(review_sheet, review_sheet.c.id == review_item.c.sheet_id)
        .where(review_sheet.c.person_id.in_(person_ids), ~said.exists(), ~answered.exists())
        .order_by(review_item.c.id)
    )
    found: dict[int, list[Approval]] = {}
    for row in connection.execute(query):
        since = date.fromisoformat(row.at[:10])
        found.setdefault(row.person_id, []).append(
            Approval(OUT + row.id, row.wording_sha256, row.use, Way(row.way), Answer.NO, since, sheet=row.code, answer_by=row.answer_by)
        )
    return found


def stood(connection: Connection, wording_sha256: str, use: str, way: str) -> dict[int, frozenset[str]]:
    """approval id → marks of how it was to stand on the sheet, of every yes to this wording that was given on one."""
    query = (
        select(review_answer.c.approval_id, review_item.c.stands)
        .join(review_item, review_item.c.id == review_answer.c.item_id)
        .where(
            review_item.c.wording_sha256 == wording_sha256, review_item.c.use == use, review_item.c.way == way,
            review_answer.c.answer == Answer.YES.value, review_answer.c.approval_id.is_not(None),
        )  # fmt: skip
    )
    return {row.approval_id: frozenset(row.stands) for row in connection.execute(query)}


def later(connection: Connection, answer_id: int | None) -> Row[Any] | None:
    """The answer whose wording an excerpt stands in, or None."""
    return one(connection, review_answer, id=answer_id) if answer_id is not None else None


def laters(connection: Connection, excerpt_id: int) -> list[Row[Any]]:
    """Every later wording of an excerpt, in order."""
    query = select(review_answer).join(review_item, review_item.c.id == review_answer.c.item_id)
    return list(connection.execute(query.where(review_item.c.excerpt_id == excerpt_id, review_answer.c.later != "").order_by(review_answer.c.id)))


def stand_in(connection: Connection, excerpt_id: int, answer_id: int | None) -> None:
    """Let an excerpt stand in a later wording, or in its own words again (None)."""
    connection.execute(update(excerpt).where(excerpt.c.id == excerpt_id).values(later_id=answer_id))


def on_panel(connection: Connection, panel: str, use: str) -> list[Row[Any]]:
    """Chosen excerpts on this panel for this use, however its name is capitalised; none where it has no name."""
    wanted = panel.casefold().strip()
    query = select(excerpt).where(excerpt.c.use == use, excerpt.c.set_aside_at.is_(None), func.trim(excerpt.c.panel) != "").order_by(excerpt.c.id)
    return [row for row in connection.execute(query) if row.panel.casefold().strip() == wanted] if wanted else []
