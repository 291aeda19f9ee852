"""The two things every noun does: add a row and learn its id; read one row by a column."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, Table, insert, select


def add(connection: Connection, table: Table, **values: Any) -> int:
    """Insert one row; returns its integer key (0 where the table has none)."""
    key = connection.execute(insert(table).values(**values)).inserted_primary_key
    return int(key[0]) if key is not None and isinstance(key[0], int) else 0


def one(connection: Connection, table: Table, **where: Any) -> Row[Any] | None:
    """The first row whose columns have these values, or None."""
    query = select(table)
    for name, value in where.items():
        query = query.where(table.c[name] == value)
    return connection.execute(query.limit(1)).first()
