"""A job that waits, run in this process under a real lease, as the worker's child runs it."""

from __future__ import annotations

from archive.app import Archive
from archive.db import jobs
from archive.services.work import Lease


class OwnLease(Lease):
    """The first job of a kind that waits, claimed. Raises AssertionError where none does."""

    def __init__(self, archive: Archive, token: str = "test", kind: str = "take in") -> None:
        rooms = archive.rooms
        with rooms.db.write() as connection:
            row = jobs.claim(connection, token, rooms.seconds(), 60, rooms.now(), idle=False)
        assert row is not None and row.kind == kind, "nothing of this kind waits"
        super().__init__(rooms, row, token)

    def close(self, state: str, words: str) -> None:
        """Close the job."""
        with self._rooms.db.write() as connection:
            jobs.end(connection, self.job_id, state, words, self._rooms.now())


def exported(archive: Archive) -> None:
    """Do the export that waits, in this process, whose engine and clock tests choose; it ends as the worker would end it."""
    rooms = archive.rooms
    with rooms.db.write() as connection:
        row = jobs.claim(connection, "test", rooms.seconds(), 60, rooms.now(), kind="export")
    assert row is not None, "no export waits"
    archive.work.run(row.id, "test")


def worked(archive: Archive) -> str:
    """Run the upload or folder that waits, to its end; returns the job's words."""
    lease = OwnLease(archive)
    words = archive.uploads.run(lease)
    lease.close("done", words)
    return words
