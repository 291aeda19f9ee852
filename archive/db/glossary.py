"""The glossary: words of a place, a trade or a language, with what they mean. The team's own words, not what anybody said."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, delete, select, update

from archive.db.rows import add, one
from archive.db.tables import glossary


def write(connection: Connection, word: str, language: str, **values: Any) -> int:
    """Add or correct an entry, known by its word and language; returns its id."""
    row = one(connection, glossary, word=word, language=language)
    if row is None:
        return add(connection, glossary, word=word, language=language, **values)
    connection.execute(update(glossary).where(glossary.c.id == row.id).values(**values))
    return int(row.id)


def everything(connection: Connection) -> list[Row[Any]]:
    """Every entry, by word."""
    return list(connection.execute(select(glossary).order_by(glossary.c.word, glossary.c.language)))


def by_id(connection: Connection, entry_id: int) -> Row[Any] | None:
    """One entry, or None."""
    return one(connection, glossary, id=entry_id)


def drop(connection: Connection, entry_id: int) -> None:
    """Take an entry out."""
    connection.execute(delete(glossary).where(glossary.c.id == entry_id))
