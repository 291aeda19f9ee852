"""Questions of Find under random ids: each for a day, saved ones by name until they are dropped; and what answered them when somebody looked.

What was seen is stretches as numbers. Words of an answer are kept nowhere.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, delete, false, insert, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import question, question_seen

KEPT_S = 86_400


def keep(connection: Connection, key: str, account: str, asked: dict[str, str], at: float) -> None:
    """Keep a question, and drop those older than a day that nobody saved."""
    connection.execute(delete(question).where(question.c.at < at - KEPT_S, question.c.name == ""))
    connection.execute(insert(question).values(id=key, account=account, asked=asked, at=at))


def one_of(connection: Connection, key: str, account: str, of_the_team: bool) -> Row[Any] | None:
    """The question, for who asked it, and of the team's for them; or None."""
    return connection.execute(select(question).where(question.c.id == key, _mine(account, of_the_team))).first()


def saved(connection: Connection, account: str, of_the_team: bool) -> list[Row[Any]]:
    """Saved questions that somebody may see, by name."""
    query = select(question).where(question.c.name != "", _mine(account, of_the_team))
    return list(connection.execute(query.order_by(question.c.name, question.c.id)))


def save(connection: Connection, key: str, name: str, team: bool) -> None:
    """Give a question a name, by which it stays."""
    connection.execute(update(question).where(question.c.id == key).values(name=name, team=team))


def drop(connection: Connection, key: str) -> None:
    """Forget a question and what was seen of its answers."""
    connection.execute(delete(question_seen).where(question_seen.c.question_id == key))
    connection.execute(delete(question).where(question.c.id == key))


def seen(connection: Connection, key: str, account: str) -> Row[Any] | None:
    """What had answered when this account looked last (`seen`), and at the look before (`before`); None where it never did."""
    return one(connection, question_seen, question_id=key, account=account)


def look(connection: Connection, key: str, account: str, now_seen: dict[str, list[list[int]]], at: str) -> None:
    """Somebody looks: what they had seen last becomes what they had seen before."""
    row = seen(connection, key, account)
    values = {"seen": now_seen, "before": row.seen if row is not None else {}, "at": at}
    if row is None:
        add(connection, question_seen, question_id=key, account=account, **values)
    else:
        connection.execute(update(question_seen).where(question_seen.c.question_id == key, question_seen.c.account == account).values(**values))


def _mine(account: str, of_the_team: bool) -> ColumnElement[bool]:
    shared = and_(question.c.team.is_(True), question.c.name != "") if of_the_team else false()
    return or_(question.c.account == account, shared)
