"""Any sequence of claiming, working, pausing, cancelling, moving, killing and moved clocks, over the real database.

Never two workers on one job; nothing is committed after a pause, a cancellation or a takeover; who claims gets the first in order.
"""

from __future__ import annotations

import functools
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from archive.db import jobs, schema
from archive.db.session import Database
from archive.domain.values import Word
from archive.errors import LeaseLost

AT = "2026-06-01T12:00:00+00:00"
LEASE_S = 60
CHUNKS = 3
PICK = st.integers(0, 10**6)


@functools.cache
def empty() -> bytes:
    """A database with its tables, made once."""
    with tempfile.TemporaryDirectory() as folder:
        made = Database(Path(folder) / "jobs.sqlite")
        with made.write() as connection:
            schema.upgrade(connection)
        made.close()
        return (Path(folder) / "jobs.sqlite").read_bytes()


class Jobs(RuleBasedStateMachine):
    """The model: an ordered list of open jobs, who holds which since when, and the chunks that each was seen to commit."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        path = Path(self.folder.name) / "jobs.sqlite"
        path.write_bytes(empty())
        self.db = Database(path)
        self.now = 1_000_000.0
        self.order: list[int] = []  # open jobs
        self.idle: dict[int, bool] = {}
        self.state: dict[int, str] = {}
        self.done: dict[int, int] = {}
        self.workers: dict[str, int] = {}  # token → the job it was given, as long as the worker lives
        self.held: dict[int, tuple[str, float]] = {}  # job → the token that may write, until when nobody else is let in
        self.names = 0

    def teardown(self) -> None:
        self.db.close()
        self.folder.cleanup()

    def _pick(self, among: list[int], n: int) -> int:
        return among[n % len(among)]

    def _in(self, *states: str) -> list[int]:
        return [j for j in self.state if self.state[j] in states]

    def _over(self, job_id: int, state: str) -> None:
        self.state[job_id] = state
        self.held.pop(job_id, None)

    # -- what people do ------------------------------------------------------------------------------------------
    @precondition(lambda self: len(self.state) < 5)
    @rule(idle=st.booleans())
    def queue(self, idle: bool) -> None:
        with self.db.write() as connection:
            job_id = jobs.add_job(connection, "transcribe", f"IV-{len(self.state)}.1", {}, "E-01", AT, idle=idle)
            jobs.plan(connection, job_id, [(-1, n * 1000, (n + 1) * 1000) for n in range(CHUNKS)], {})
        self.order.append(job_id)
        self.state[job_id], self.idle[job_id], self.done[job_id] = "waiting", idle, 0

    @precondition(lambda self: self._in("waiting", "working"))
    @rule(n=PICK)
    def pause(self, n: int) -> None:
        job_id = self._pick(self._in("waiting", "working"), n)
        with self.db.write() as connection:
            jobs.pause(connection, job_id, "Paused.")
        self._over(job_id, "paused")

    @precondition(lambda self: self._in("waiting", "working", "paused"))
    @rule(n=PICK)
    def cancel(self, n: int) -> None:
        job_id = self._pick(self._in("waiting", "working", "paused"), n)
        with self.db.write() as connection:
            jobs.end(connection, job_id, "cancelled", "Cancelled.", AT)
            jobs.forget(connection, job_id)
        self._over(job_id, "cancelled")
        self.order.remove(job_id)
        self.done[job_id] = 0

    @precondition(lambda self: self._in("paused", "cancelled"))
    @rule(n=PICK)
    def resume(self, n: int) -> None:
        job_id = self._pick(self._in("paused", "cancelled"), n)
        with self.db.write() as connection:
            jobs.begin_again(connection, job_id)
        self.state[job_id] = "waiting"
        if job_id in self.order:
            self.order.remove(job_id)
        self.order.append(job_id)

    @precondition(lambda self: len(self.order) > 1)
    @rule(n=PICK, other=st.none() | PICK)
    def move(self, n: int, other: int | None) -> None:
        job_id = self._pick(self.order, n)
        rest = [j for j in self.order if j != job_id]
        before = None if other is None else self._pick(rest, other)
        with self.db.write() as connection:
            jobs.put_before(connection, job_id, before)
        rest.insert(0 if before is None else rest.index(before), job_id)
        self.order = rest

    # -- what workers do -----------------------------------------------------------------------------------------
    @rule(idle=st.booleans())
    def claim(self, idle: bool) -> None:
        self.names += 1
        token = f"worker-{self.names}"
        with self.db.write() as connection:
            row = jobs.claim(connection, token, self.now, LEASE_S, AT, idle)
        free = [j for j in self.order if self.state[j] == "waiting" or (self.state[j] == "working" and self._dead(j))]
        wanted = sorted((j for j in free if idle or not self.idle[j]), key=lambda j: (self.idle[j], self.order.index(j)))
        assert (row.id if row else None) == (wanted[0] if wanted else None), "the first in order, or nothing"
        if row is not None:
            self.state[row.id] = "working"
            self.held[row.id] = (token, self.now + LEASE_S)
            self.workers[token] = row.id

    def _dead(self, job_id: int) -> bool:
        until = self.held[job_id][1]
        return until < self.now or until > self.now + 2 * LEASE_S

    @precondition(lambda self: self.workers)
    @rule(n=PICK)
    def commit(self, n: int) -> None:
        """Any worker that lives, whether it still may or not, tries to write one more chunk."""
        token = sorted(self.workers)[n % len(self.workers)]
        job_id = self.workers[token]
        may = self.held.get(job_id, ("", 0.0))[0] == token
        try:
            with self.db.write() as connection:
                jobs.hold(connection, job_id, token, self.now, LEASE_S)
                if self.done[job_id] < CHUNKS:
                    jobs.finish_chunk(connection, job_id, self.done[job_id], [Word("rope", 0, 300, 0.9)], {})
                    jobs.got(connection, job_id, *jobs.heard(connection, job_id), 1000.0)
                else:
                    jobs.end(connection, job_id, "done", "3 words.", AT)
        except LeaseLost:
            assert not may, "who holds the lease may write, also after a sleep in which it ran out"
            del self.workers[token]
            return
        assert may, "nobody else writes"
        if self.done[job_id] < CHUNKS:
            self.done[job_id] += 1
            self.held[job_id] = (token, self.now + LEASE_S)
        else:
            self._over(job_id, "done")
            self.order.remove(job_id)

    @precondition(lambda self: self.workers)
    @rule(n=PICK)
    def kill(self, n: int) -> None:
        del self.workers[sorted(self.workers)[n % len(self.workers)]]

    @rule(seconds=st.sampled_from([1, 30, 61, 8 * 3600, -8 * 3600, -30]))
    def clock(self, seconds: int) -> None:
        """Time goes by, the laptop sleeps, or its clock is set."""
        self.now += seconds

    # -- what always holds ---------------------------------------------------------------------------------------
    @invariant()
    def the_list_is_as_it_should_be(self) -> None:
        with self.db.read() as connection:
            rows = {r.id: r for r in jobs.everything(connection)}
            for job_id, state in self.state.items():
                kept = [c.n for c in jobs.chunks(connection, job_id) if c.state == "done"]
                assert kept == list(range(self.done[job_id])), "no chunk lost, none that nobody was let to commit"
                assert rows[job_id].state == state and rows[job_id].done == 1000 * self.done[job_id]
                assert (rows[job_id].lease_token is not None) == (state == "working"), "one worker, or none"


TestJobs = Jobs.TestCase
TestJobs.settings = settings(max_examples=25, stateful_step_count=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
