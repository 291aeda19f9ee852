"""Bring a database to the newest schema, or say that it is newer than this program."""

from __future__ import annotations

import functools
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from archive.errors import Broken

FOLDER = Path(__file__).parent / "migrations"


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


@functools.cache
def _revisions() -> tuple[str, frozenset[str]]:
    """The newest revision and all that this program knows; their files are read once a process."""
    scripts = ScriptDirectory.from_config(_config())
    head = scripts.get_current_head()
    assert head is not None
    return head, frozenset(script.revision for script in scripts.walk_revisions())


def newest() -> str:
    """The revision that this program writes."""
    return _revisions()[0]


def current(connection: Connection) -> str | None:
    """The revision that the database has; None for an empty one."""
    return MigrationContext.configure(connection).get_current_revision()


def upgrade(connection: Connection, to: str = "head") -> None:
    """Migrate inside the caller's transaction. Raises Broken where the database is newer than this program."""
    have = current(connection)
    if have is not None and have not in _revisions()[1]:
        raise Broken("This archive was written by a newer version of Told Here.", "Install that version; nothing was changed.")
    if have != newest() or to != "head":
        command.upgrade(_config(connection), to)
