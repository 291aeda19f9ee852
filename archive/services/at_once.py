"""Work that somebody waits for: on the same list as all other work, and done at once by the process that asked for it.

Whoever is killed at it leaves a job that the next worker takes up; a pause or a cancel on the page ends it here as well.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import time
from collections.abc import Callable
from typing import Any

import psutil

from archive.db import jobs
from archive.db.session import Connection, Row
from archive.errors import LeaseLost, Refused, ToldHereError
from archive.services.rooms import Rooms
from archive.services.work import INTERRUPTED, Kind, carry_out, job_of, sweep_staging, this_machine

WAIT_S = 0.5
ENDED_HERE = "Ended at the keyboard by whoever asked for it. What was finished before is kept."
STOPPED = "Somebody paused or ended this work, or another worker took it over."
SEE = "Nothing that was finished is lost; see the list of jobs: toldhere jobs list."
Add = Callable[[Connection], int]
Told = Callable[[str], None]


def at_once(rooms: Rooms, add: Add, kind: Kind, told: Told = lambda _: None) -> Row[Any]:
    """Queue a job by `add` (it returns its number), do it here, and return it as it ended. What `kind` raises is raised.

    Where another worker is at it already, that one is waited for, and `told` says so; whoever died at it on this machine is not.
    Then it may have ended early (`ended_early`). Raises LeaseLost where it was paused or cancelled elsewhere.
    """
    token = f"{os.getpid()}-{secrets.token_hex(12)}"
    with rooms.db.write() as connection:
        job_id = add(connection)
        claimed = _claim(rooms, connection, job_id, token)
    if claimed is None:
        claimed, over = _waited(rooms, job_id, token, told)
        if over is not None:
            return over
    assert claimed is not None
    try:
        error = carry_out(rooms, claimed, token, kind)
    except LeaseLost as lost:
        raise LeaseLost(STOPPED, SEE) from lost
    except BaseException as ended:
        # What was ended by hand nobody is to go on with; whatever else broke off is tried again by the next worker.
        with contextlib.suppress(ToldHereError), rooms.db.write() as connection:
            jobs.hold(connection, job_id, token, rooms.seconds(), rooms.options.lease_s)
            if isinstance(ended, KeyboardInterrupt):
                jobs.end(connection, job_id, "cancelled", ENDED_HERE, rooms.now())
            else:
                jobs.end(connection, job_id, "waiting", INTERRUPTED, rooms.now())
        raise
    finally:
        sweep_staging(rooms)
    if error is not None:
        raise error
    return job_of(rooms, job_id)


def done_at_once(rooms: Rooms, add: Add, kind: Kind, told: Told = lambda _: None) -> Row[Any]:
    """The same for work that comes to nothing unless it gets done: what ended it early elsewhere is raised."""
    row = at_once(rooms, add, kind, told)
    if row.state != "done":
        raise ended_early(row)
    return row


def ended_early(row: Row[Any]) -> ToldHereError:
    """What to raise for a job that another worker could not finish, in that one's words."""
    return Refused(row.words) if row.state == "stopped" else ToldHereError(row.words)


def _claim(rooms: Rooms, connection: Connection, job_id: int, token: str) -> Row[Any] | None:
    row = jobs.by_id(connection, job_id)
    if row is not None and row.state == "working" and row.machine == this_machine() and _is_dead(row.lease_token):
        jobs.give_back(connection, job_id, row.words)
    lease_s = rooms.options.lease_s
    return jobs.claim(connection, token, rooms.seconds(), lease_s, rooms.now(), machine=this_machine(), job_id=job_id)


def _is_dead(token: str) -> bool:
    """Whether the process that does a job at once is gone. A worker's job is not asked about: its child may live on."""
    pid, dash, _ = token.partition("-")
    return bool(dash) and not psutil.pid_exists(int(pid))


def _waited(rooms: Rooms, job_id: int, token: str, told: Told) -> tuple[Row[Any] | None, Row[Any] | None]:
    """(the job, claimed as soon as it is free), or (None, the job as another worker ended it). Raises LeaseLost."""
    told(f"Another worker is at it. Waiting; should it be dead, its work is taken over in {rooms.options.lease_s} s at most. Ctrl-C stops waiting.")
    while True:
        time.sleep(WAIT_S)
        row = job_of(rooms, job_id)
        if row.state in ("done", "stopped", "failed"):
            return None, row
        if row.state in ("paused", "cancelled"):
            raise LeaseLost(STOPPED, SEE)
        with rooms.db.write() as connection:
            claimed = _claim(rooms, connection, job_id, token)
        if claimed is not None:
            return claimed, None
