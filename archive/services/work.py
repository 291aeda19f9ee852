"""Work that takes a while: jobs under a lease, each run in a child that may die at any moment.

The parent claims a job and watches the child; the child does what its kind does, and writes only while it holds the lease.
What kinds there are is wired in app.py. Whatever a kind committed stays; a job goes on from there, whoever takes it up.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import secrets
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from archive.db import jobs
from archive.db.session import Connection, Row
from archive.errors import Busy, Erasing, LeaseLost, Refused, ToldHereError
from archive.services.idle import give_way, machine_is_idle
from archive.services.rooms import Rooms

ATTEMPTS = 8  # begun so often without getting on: given up
# A busy database is asked again after so many seconds; each asking waits ten for the lock itself (db/session.py).
PAUSES_S = (0.5, 1.0, 2.0, 4.0, 8.0)
LOOK_S = 0.5  # how often the parent looks whether the job was paused or ended
NOTICE_S = 2.0  # how often the child does, whose parent may have been killed
STAGING = ".staging"  # below the archive's folder
INTERRUPTED = "It was interrupted; it goes on with the next start."
T = TypeVar("T")
Watch = Callable[[Row[Any]], None]


class Lease:
    """A job that this process works at. `by`, `subject` and `args` are those it was queued with; `outcome` what it found before."""

    def __init__(self, rooms: Rooms, row: Row[Any], token: str) -> None:
        self.job_id: int = row.id
        self.by: str = row.by
        self.subject: str = row.subject
        self.args: dict[str, Any] = dict(row.args)
        self.outcome: dict[str, Any] = dict(row.outcome)
        self.staging = staging_name(row.id, token)
        self.over = False
        self._rooms, self._token = rooms, token
        self._done, self._since = int(row.done), time.monotonic()

    def keep(self, act: Callable[[Connection], T]) -> T:
        """One write transaction in which the lease is checked and renewed first; a busy database is asked again, later and later.

        Raises LeaseLost where the job was paused, ended or taken over, and then nothing was written; Busy in the end.
        """
        for pause_s in PAUSES_S:
            with contextlib.suppress(Busy), self._rooms.db.write() as connection:
                return self._held(connection, act)
            time.sleep(pause_s)
        with self._rooms.db.write() as connection:
            return self._held(connection, act)

    def _held(self, connection: Connection, act: Callable[[Connection], T]) -> T:
        jobs.hold(connection, self.job_id, self._token, self._rooms.seconds(), self._rooms.options.lease_s)
        return act(connection)

    def got(self, connection: Connection, done: int, total: int, *, kept: bool = True, words: str = "") -> None:
        """Inside `keep`: how far it is, in the kind's own unit, and what is being done. `kept=False`: begun again, it starts over."""
        now = time.monotonic()
        speed = (done - self._done) / max(now - self._since, 0.001) if done > self._done else 0.0
        jobs.got(connection, self.job_id, done, total, speed, kept, words)
        self._done, self._since = done, now

    def alive(self) -> None:
        """Asks whether the work may go on, and renews the lease. Raises LeaseLost."""
        self.keep(lambda _: None)

    def note(self, connection: Connection, **found: Any) -> None:
        """Inside `keep`: what was found and where it is, kept with the job; what was noted before stays beside it."""
        self.outcome |= found
        jobs.note(connection, self.job_id, self.outcome)

    def end(self, connection: Connection, words: str, state: str = "done") -> str:
        """Inside `keep`: the job is over, in the transaction of its last words. For a kind that must not finish twice."""
        jobs.end(connection, self.job_id, state, words, self._rooms.now())
        self.over = True
        return words


Kind = Callable[[Lease], str]  # returns what the list says at the end; raises Refused (stopped), ToldHereError (failed), in words


class Work:
    """Claiming and doing the jobs of one archive."""

    def __init__(self, rooms: Rooms, kinds: Mapping[str, Kind]) -> None:
        self.kinds = dict(kinds)
        self._rooms = rooms

    # -- the parent --------------------------------------------------------------------------------------------
    def once(self, watch: Watch | None = None, idle_too: bool | None = False, kind: str = "") -> bool:
        """Claim one job and run it in a child; False where nothing is to be done. `watch`: called about twice a second.

        `idle_too`: also what waits for an idle machine; None: where the machine is idle. `kind`: of that kind alone.
        """
        token = secrets.token_hex(16)
        row = self._claim(token, bool(idle_too), kind)
        if row is None and idle_too is None and any(r.idle and kind in ("", r.kind) for r in self.open()) and machine_is_idle():
            row = self._claim(token, True, kind)
        if row is None:
            return False
        lease = Lease(self._rooms, row, token)
        if row.attempt > ATTEMPTS:
            told = f"It was begun {ATTEMPTS} times and got no further. Perhaps this machine has too little memory."
            lease.keep(lambda connection: jobs.end(connection, row.id, "failed", told, self._rooms.now()))
            return True
        environ = os.environ | {"HF_HUB_OFFLINE": "1", "PYTHONUTF8": "1"}
        command = [sys.executable, "-m", "archive.worker", str(self._rooms.folder), "--job", str(row.id), "--token", token]
        try:  # from here on, whatever ends this: Ctrl-C, a signal, a full disk. Whoever comes next need not wait for the lease
            child = subprocess.Popen(command, env=environ, stdin=subprocess.DEVNULL)
            try:
                if row.idle:
                    give_way(child.pid)
                self._attend(child, row, token, watch)
            finally:
                child.kill()  # does nothing where it has ended
                child.wait()
        except BaseException:
            with contextlib.suppress(ToldHereError):
                lease.keep(lambda connection: jobs.give_back(connection, row.id, INTERRUPTED))
            raise
        if child.returncode:
            told = f"The work ended too early (code {child.returncode}); it goes on by itself."
            with contextlib.suppress(LeaseLost, Busy):  # busy still: then the lease runs out by itself
                lease.keep(lambda connection: jobs.end(connection, row.id, "waiting", told, self._rooms.now()))
        sweep_staging(self._rooms)
        return True

    def _claim(self, token: str, idle: bool, kind: str) -> Row[Any] | None:
        seconds, lease_s = self._rooms.seconds(), self._rooms.options.lease_s
        with self._rooms.db.write() as connection:
            return jobs.claim(connection, token, seconds, lease_s, self._rooms.now(), idle, this_machine(), kind)

    def _attend(self, child: subprocess.Popen[bytes], row: Row[Any], token: str, watch: Watch | None) -> None:
        while child.poll() is None:
            try:
                child.wait(LOOK_S)
            except subprocess.TimeoutExpired:
                if watch:
                    watch(row)
                with contextlib.suppress(Busy):
                    if not is_held(self._rooms, row.id, token):
                        child.kill()  # paused or ended by hand, consent moved, or something is erased: at once, one chunk is lost at most

    def open(self) -> tuple[Row[Any], ...]:
        """The jobs that wait or work, in their order."""
        with self._rooms.db.read() as connection:
            return tuple(jobs.open_ones(connection))

    # -- the child ---------------------------------------------------------------------------------------------
    def run(self, job_id: int, token: str, lost: Callable[[], None] = lambda: None) -> None:
        """Do one job in this process. `lost` is called from a thread as soon as the lease is gone. Raises LeaseLost, Busy."""
        row = job_of(self._rooms, job_id)
        carry_out(self._rooms, row, token, self.kinds.get(row.kind, _unknown), lost)


def carry_out(rooms: Rooms, row: Row[Any], token: str, kind: Kind, lost: Callable[[], None] = lambda: None) -> ToldHereError | None:
    """Do a job that was claimed with this token, in this process, its lease renewed meanwhile; it is closed with whatever came of it.

    Returns what its kind raised, where that closed it. `lost` is called from a thread as soon as the lease is gone. Raises LeaseLost, Busy.
    """
    lease, stop = Lease(rooms, row, token), threading.Event()
    keeper = threading.Thread(target=_keep_lease, args=(rooms, row.id, token, stop, lost), daemon=True)
    keeper.start()
    try:
        return _close(rooms, lease, kind)
    finally:
        stop.set()
        keeper.join()


def _unknown(_lease: Lease) -> str:
    raise ToldHereError("This version does not know this kind of work.", "Use the version that queued it, or cancel it.")


def _close(rooms: Rooms, lease: Lease, kind: Kind) -> ToldHereError | None:
    def ended(state: str, words: str) -> Callable[[Connection], None]:
        return lambda connection: jobs.end(connection, lease.job_id, state, words, rooms.now())

    def refused(connection: Connection) -> None:
        ended("stopped", words)(connection)
        jobs.forget(connection, lease.job_id)

    try:
        words = kind(lease)
        if not lease.over:
            lease.keep(ended("done", words))
        return None
    except LeaseLost:
        raise
    except Refused as refusal:
        words = " ".join([refusal.message, *refusal.reasons, refusal.remedy])
        lease.keep(refused)
        return refusal
    except Busy as busy:  # says nothing about this job: it waits, and what was committed is not done twice
        lease.keep(lambda connection: jobs.give_back(connection, lease.job_id, "The archive was busy; it goes on by itself."))
        return busy
    except ToldHereError as error:
        lease.keep(ended("failed", f"{error.message} {error.remedy}".strip()))
        return error


def _keep_lease(rooms: Rooms, job_id: int, token: str, stop: threading.Event, lost: Callable[[], None]) -> None:
    """Renews the lease in time, and looks often whether it is still held: the parent that would end us may be dead."""
    lease_s = rooms.options.lease_s
    renewed = time.monotonic()
    while not stop.wait(min(NOTICE_S, lease_s / 4)):
        try:
            if not is_held(rooms, job_id, token):
                break
            if time.monotonic() - renewed >= lease_s / 4:
                with rooms.db.write() as connection:
                    jobs.hold(connection, job_id, token, rooms.seconds(), lease_s)
                renewed = time.monotonic()
        except LeaseLost:
            break
        except ToldHereError:
            continue  # busy or full for a moment: more tries before the lease runs out
    if not stop.is_set():
        lost()


def job_of(rooms: Rooms, job_id: int) -> Row[Any]:
    """A job as it stands now. Raises LeaseLost where it is gone."""
    with rooms.db.read() as connection:
        row = jobs.by_id(connection, job_id)
    if row is None:
        raise LeaseLost("There is no such job any more.", "See the list of jobs.")
    return row


def is_held(rooms: Rooms, job_id: int, token: str) -> bool:
    """Whether a job is still worked at under this token. While something is erased, none is."""
    try:
        with rooms.db.read() as connection:
            row = jobs.by_id(connection, job_id)
    except Erasing:
        return False
    return row is not None and row.lease_token == token and row.state == "working"


def staging_name(job_id: int, token: str) -> str:
    """The folder in which whoever holds a job under this token may put files together."""
    return f"{job_id}-{hashlib.sha256(token.encode()).hexdigest()[:12]}"


def sweep_staging(rooms: Rooms) -> None:
    """Remove what was put together for jobs that are over, or whose worker was killed or lost its lease.

    Listed before it is asked who works: a folder is made only after its job was claimed.
    """
    here = sorted((rooms.folder / STAGING).glob("*"))
    if not here:
        return
    with rooms.db.read() as connection:
        rows = jobs.open_or_paused(connection)
    kept = {str(r.outcome.get("staging")) for r in rows} | {staging_name(r.id, r.lease_token) for r in rows if r.lease_token}
    for path in here:
        if path.name not in kept:
            shutil.rmtree(path, ignore_errors=True)


def this_machine() -> str:
    """Tells machines apart whose speeds differ, without naming one."""
    told = f"{platform.node()} {platform.machine()} {os.cpu_count()}"
    return hashlib.sha256(told.encode("utf-8")).hexdigest()[:16]
