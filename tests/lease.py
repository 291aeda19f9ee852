"""A lease over the real table of jobs, as the worker gives one: for services that are run as jobs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from archive.app import Archive
from archive.db import jobs
from archive.db.session import Connection

T = TypeVar("T")


class OwnLease:
    """The first job that waits, claimed. Raises AssertionError where none does."""

    def __init__(self, archive: Archive, token: str = "test") -> None:
        self._rooms, self._token = archive.rooms, token
        with self._rooms.db.write() as connection:
            row = jobs.claim(connection, token, self._rooms.seconds(), 60, self._rooms.now())
        assert row is not None, "no job waits"
        self.job_id, self.subject, self.args = int(row.id), str(row.subject), dict[str, Any](row.args)

    def keep(self, act: Callable[[Connection], T]) -> T:
        """One transaction in which the claim is renewed first."""
        with self._rooms.db.write() as connection:
            jobs.hold(connection, self.job_id, self._token, self._rooms.seconds(), 60)
            return act(connection)

    def got(self, connection: Connection, done: int, total: int) -> None:
        """Progress is looked at by nobody here."""

    def end(self, state: str, words: str) -> None:
        """Close the job."""
        with self._rooms.db.write() as connection:
            jobs.end(connection, self.job_id, state, words, self._rooms.now())


def worked(archive: Archive) -> str:
    """Run the upload or folder that waits, to its end; returns the job's words."""
    lease = OwnLease(archive)
    words = archive.uploads.run(lease)
    lease.end("done", words)
    return words
