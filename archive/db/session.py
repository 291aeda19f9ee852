"""Engines of one archive's database: a reader and a writer (BEGIN IMMEDIATE), set up the same on every connection.

Settings and order measured in ../shared/PITFALLS.md, Database: without BEGIN IMMEDIATE writers lose updates silently.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Row, create_engine, event
from sqlalchemy.exc import DatabaseError, OperationalError

from archive.errors import Broken, Busy, Erasing, NoSpace

FILE_NAME = "archive.sqlite"
CLOSED = ".erasing"  # lies beside the database while something is erased; whoever else asks is told its words
# The rooms above name these types and nothing else of SQLAlchemy.
__all__ = ["FILE_NAME", "Connection", "Database", "Row", "make_engine", "told"]


def make_engine(path: Path, writer: bool) -> Engine:
    """An engine on the SQLite file at `path`; `writer` engines take the write lock when a transaction begins."""
    engine = create_engine(f"sqlite:///{path}", hide_parameters=True, connect_args={"timeout": 10, "check_same_thread": False})

    @event.listens_for(engine, "connect")
    def _set_up(raw: sqlite3.Connection, _record: Any) -> None:
        raw.isolation_level = None  # the begin event below says BEGIN itself
        cursor = raw.cursor()
        cursor.execute("PRAGMA busy_timeout = 10000")
        cursor.execute("PRAGMA journal_mode = WAL")
        cursor.execute("PRAGMA foreign_keys = ON")
        # FULL, not NORMAL: the same file holds consent, and a withdrawal must survive a power cut.
        cursor.execute("PRAGMA synchronous = FULL")
        cursor.execute("PRAGMA secure_delete = ON")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writer else "BEGIN")

    return engine


class Database:
    """Read and write transactions on one archive. `read()` and `write()` are context managers that yield a Connection."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._reader = make_engine(path, writer=False)
        self._writer = make_engine(path, writer=True)
        self._closed = path.parent / CLOSED
        self._here = threading.local()

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One read transaction: everything inside sees one state of the archive. Raises Erasing."""
        self._admit()
        with told(), self._reader.begin() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """One write transaction; rolled back whole on any error. Raises NoSpace when the disk is full, Erasing."""
        self._admit()
        with told(), self._writer.begin() as connection:
            yield connection

    def _admit(self) -> None:
        if not getattr(self._here, "alone", False) and self._closed.exists():
            try:
                words = self._closed.read_text(encoding="utf-8").strip()
            except OSError:  # gone just now
                words = "Something was being erased."
            raise Erasing(words)

    @contextmanager
    def alone(self) -> Iterator[None]:
        """While the archive is closed for an erasure, this thread alone may read and write."""
        self._here.alone = True
        try:
            yield
        finally:
            self._here.alone = False

    def write_anew(self) -> None:
        """Write the whole file anew, without what was deleted (SEARCH.md, traps of FTS5). The old bytes are gone when `empty_log` says so.
        Raises NoSpace, Busy."""
        self.close()
        with self._raw() as raw:
            raw.execute("PRAGMA secure_delete = ON")
            raw.execute("INSERT INTO find_fts (find_fts) VALUES ('rebuild')")
            raw.execute("INSERT INTO find_fts (find_fts) VALUES ('optimize')")
            raw.execute("VACUUM")

    def empty_log(self) -> bool:
        """Write all that waits in the log into the file, and empty the log; False while anybody still reads an older state."""
        with self._raw() as raw:
            return not raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]

    @contextmanager
    def _raw(self) -> Iterator[sqlite3.Connection]:
        raw = sqlite3.connect(self.path, isolation_level=None, timeout=1)
        try:
            yield raw
        except sqlite3.OperationalError as error:
            if "full" in str(error):
                raise NoSpace("There is not enough room on the archive's disk to write its database anew.") from None
            if "locked" in str(error):
                raise Busy("The archive is busy: another program holds its database.") from None
            raise
        finally:
            raw.close()

    def close(self) -> None:
        """Give every connection back (needed before files are replaced)."""
        self._reader.dispose()
        self._writer.dispose()


@contextmanager
def told() -> Iterator[None]:
    """Turn the driver's errors into words. SQL and its values never reach a message."""
    try:
        yield
    except OperationalError as error:
        if "disk is full" in str(error.orig) or "disk I/O" in str(error.orig):
            raise NoSpace("The archive's disk is full.") from None
        if "locked" in str(error.orig):
            raise Busy("The archive is busy: another program holds its database.") from None
        if "readonly" in str(error.orig) or "unable to open" in str(error.orig):
            raise Broken("The archive's database cannot be written to.", "Look whether its folder and disk may be written to.") from None
        raise
    except DatabaseError as error:
        if "malformed" in str(error.orig) or "not a database" in str(error.orig):
            raise Broken("The archive's database is damaged.", "Stop, copy the folder, and restore the last backup.") from None
        raise
