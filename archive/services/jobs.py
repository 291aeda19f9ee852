"""The list of work: what waits, works, is done or failed, with progress and the time left."""

from __future__ import annotations

from datetime import datetime

from archive.db import audit, jobs
from archive.domain.values import Viewer
from archive.errors import NotFound
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import JobRow


class Jobs:
    """Jobs of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer) -> tuple[JobRow, ...]:
        """The newest jobs first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = jobs.everything(connection)
        return tuple(
            JobRow(r.id, r.kind, r.subject, r.state, r.done_ms, r.total_ms, self._left_s(r.state, r.started_at, r.done_ms, r.total_ms), r.words)
            for r in rows
        )  # fmt: skip

    def _left_s(self, state: str, started_at: str | None, done_ms: int, total_ms: int) -> int | None:
        """Seconds still to go, from the speed measured in this attempt; None while nothing is done yet."""
        if state != "working" or not started_at or not done_ms:
            return None
        gone_s = (self._rooms.clock() - datetime.fromisoformat(started_at)).total_seconds()
        return max(0, round(gone_s * (total_ms - done_ms) / done_ms))

    def stop(self, viewer: Viewer, job_id: int) -> None:
        """Stop a job: its worker loses the lease, is ended, and writes no more. What was committed stays."""
        need(viewer, *EDITORS)
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            row = jobs.by_id(connection, job_id)
            if row is None:
                raise NotFound("There is no such job.")
            if row.state in jobs.OPEN:
                jobs.end(connection, job_id, "stopped", "Stopped by hand.", now)
                audit.record(connection, viewer.name, "job stopped", f"job {job_id}", now)
