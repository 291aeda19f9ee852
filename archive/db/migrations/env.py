"""Alembic's environment. Run only through archive.db.schema; a connection is handed in, no URL is read."""

from __future__ import annotations

from typing import Any

from alembic import context

from archive.db.tables import metadata


def keep(_object: Any, name: str | None, kind: str, _reflected: bool, _compare_to: Any) -> bool:
    """Leave the FTS table and its shadow tables out of comparisons: SQLite makes them itself."""
    return not (kind == "table" and (name or "").startswith("find_fts"))


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    include_object=keep,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
