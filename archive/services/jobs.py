"""The list of work: what waits, works, is paused, done or failed, with progress and the time left; and what people do with it."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence
from typing import Any

from archive.db import audit, jobs
from archive.db.session import Connection, Row
from archive.domain.values import Viewer
from archive.errors import Clash, NotFound
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import JobRow
from archive.services.work import sweep_staging, this_machine

Act = Callable[[Connection, Row[Any]], None]


class Jobs:
    """Jobs of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer) -> tuple[JobRow, ...]:
        """What is under way, what waits in its order, what is paused; then what is over, the newest first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return _told(connection, jobs.everything(connection))

    def one(self, viewer: Viewer, job_id: int) -> JobRow:
        """One job of the list. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return _told(connection, [_find(connection, job_id)])[0]

    # -- what people do with a job -------------------------------------------------------------------------------
    def pause(self, viewer: Viewer, job_id: int) -> None:
        """Hold a job until it is told to go on: its worker is ended, what was committed stays. Raises NotFound, Clash."""

        def act(connection: Connection, row: Row[Any]) -> None:
            _must(row, "waiting", "working")
            jobs.pause(connection, job_id, f"Paused by {viewer.name}. Nothing that was finished is lost.")

        self._act(viewer, job_id, "job paused", act)

    def resume(self, viewer: Viewer, job_id: int) -> None:
        """Let a paused job, or one that ended early, wait for its turn again, as the last. It asks for consent anew.

        Raises NotFound, and Clash where it waits or works already, or is done.
        """

        def act(connection: Connection, row: Row[Any]) -> None:
            _must(row, "paused", *jobs.AGAIN)
            jobs.begin_again(connection, job_id)

        self._act(viewer, job_id, "job resumed", act)

    def cancel(self, viewer: Viewer, job_id: int) -> None:
        """End a job for good: its worker is ended, and what it heard so far is dropped. Raises NotFound, Clash."""

        def act(connection: Connection, row: Row[Any]) -> None:
            _must(row, *jobs.OPEN)
            jobs.end(connection, job_id, "cancelled", f"Cancelled by {viewer.name}.", self._rooms.now())
            jobs.forget(connection, job_id)

        self._act(viewer, job_id, "job cancelled", act)
        sweep_staging(self._rooms)

    def move(self, viewer: Viewer, job_id: int, before: int | None = None) -> None:
        """Let a job be done before another one, or before all. Raises NotFound, Clash."""

        def act(connection: Connection, row: Row[Any]) -> None:
            _must(row, *jobs.OPEN)
            if before is not None:
                _must(_find(connection, before), *jobs.OPEN)
            if before != job_id:
                jobs.put_before(connection, job_id, before)

        self._act(viewer, job_id, "job moved", act)

    def only_idle(self, viewer: Viewer, job_id: int) -> None:
        """Do a job only while the machine has little else to do (services/idle.py). Raises NotFound, Clash."""
        self._when(viewer, job_id, True, "job set for idle")

    def by_hand(self, viewer: Viewer, job_id: int) -> None:
        """Do a job as soon as it is its turn, however busy the machine is. Raises NotFound, Clash."""
        self._when(viewer, job_id, False, "job set by hand")

    def _when(self, viewer: Viewer, job_id: int, idle: bool, told: str) -> None:
        def act(connection: Connection, row: Row[Any]) -> None:
            _must(row, *jobs.OPEN)
            jobs.only_idle(connection, job_id, idle)

        self._act(viewer, job_id, told, act)

    def _act(self, viewer: Viewer, job_id: int, told: str, act: Act) -> None:
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            act(connection, _find(connection, job_id))
            audit.record(connection, viewer.name, told, f"job {job_id}", self._rooms.now())


def _told(connection: Connection, rows: Sequence[Row[Any]]) -> tuple[JobRow, ...]:
    known = {kind: _median(jobs.speeds_of(connection, kind, this_machine())) for kind in {r.kind for r in rows}}
    return tuple(JobRow(r.id, r.kind, r.subject, r.state, r.done, r.total, _left_s(r, known[r.kind]), r.words, r.idle) for r in rows)


def _find(connection: Connection, job_id: int) -> Row[Any]:
    row = jobs.by_id(connection, job_id)
    if row is None:
        raise NotFound("There is no such job.", "See the list of jobs.")
    return row


def _must(row: Row[Any], *states: str) -> None:
    if row.state not in states:
        raise Clash(f"Job {row.id} is {row.state}.", "Nothing was changed; see the list of jobs, it may have moved on.")


def _median(speeds: Sequence[Sequence[float]]) -> float | None:
    return statistics.median([statistics.median(s) for s in speeds]) if speeds else None


def _left_s(row: Row[Any], known: float | None) -> int | None:
    """Seconds of work still to do: from the median speed of this job's own last stretches of work, else of finished ones of its kind."""
    if row.state in jobs.OVER or not row.total:
        return None
    own = statistics.median(row.speeds) if row.speeds and row.machine == this_machine() else known
    return max(0, round((row.total - row.done) / own)) if own else None
