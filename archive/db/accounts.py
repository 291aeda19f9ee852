"""Accounts, sign-in failures counted by account and address, links that work once, kept questions of Find."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import account, once_link, question, sign_in_failure


def by_name(connection: Connection, name: str) -> Row[Any] | None:
    """The account, or None."""
    return one(connection, account, name=name)


def by_id(connection: Connection, account_id: int) -> Row[Any] | None:
    """The account, or None."""
    return one(connection, account, id=account_id)


def everything(connection: Connection) -> list[Row[Any]]:
    """All accounts by name."""
    return list(connection.execute(select(account).order_by(account.c.name)))


def add_account(connection: Connection, **values: Any) -> int:
    """Add one account; returns its id."""
    return add(connection, account, **values)


def change(connection: Connection, account_id: int, **values: Any) -> None:
    """Change an account's own values."""
    connection.execute(update(account).where(account.c.id == account_id).values(**values))


def failures(connection: Connection, name: str, address: str, since: float) -> int:
    """Failed sign-ins of this account or from this address since then (seconds of the epoch)."""
    query = select(func.count()).where(
        or_(sign_in_failure.c.account == name, sign_in_failure.c.address == address), sign_in_failure.c.at >= since
    )
    return int(connection.execute(query).scalar_one())


def add_failure(connection: Connection, name: str, address: str, at: float) -> None:
    """Count one failed sign-in."""
    add(connection, sign_in_failure, account=name, address=address, at=at)


def forget_failures(connection: Connection, name: str) -> None:
    """A good sign-in ends the count of its account."""
    connection.execute(delete(sign_in_failure).where(sign_in_failure.c.account == name))


def add_link(connection: Connection, token_sha256: str, account_id: int, expires: float) -> None:
    """Keep the digest of a link that works once."""
    connection.execute(insert(once_link).values(token_sha256=token_sha256, account_id=account_id, expires=expires))


def use_link(connection: Connection, token_sha256: str, now: float) -> int | None:
    """The account of the link, and the link is used up; None where it was used, is too old, or unknown."""
    done = connection.execute(
        update(once_link)
        .where(once_link.c.token_sha256 == token_sha256, once_link.c.used_at.is_(None), once_link.c.expires > now)
        .values(used_at=now)
    )
    if done.rowcount != 1:
        return None
    row = one(connection, once_link, token_sha256=token_sha256)
    return None if row is None else int(row.account_id)


def keep_question(connection: Connection, key: str, name: str, asked: dict[str, str], at: float) -> None:
    """Keep a question of Find under a random id, and drop those older than a day."""
    connection.execute(delete(question).where(question.c.at < at - 86_400))
    connection.execute(insert(question).values(id=key, account=name, asked=asked, at=at))


def question_of(connection: Connection, key: str, name: str) -> dict[str, Any] | None:
    """The question, for who asked it only."""
    row = one(connection, question, id=key, account=name)
    return None if row is None else dict(row.asked)
