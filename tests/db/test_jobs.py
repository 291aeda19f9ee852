"""Jobs under a lease: two workers never hold one, an old one writes nothing any more, stopped work goes on."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from archive.app import Archive
from archive.db import jobs, schema
from archive.db.session import Database
from archive.domain.values import Word
from archive.errors import Clash, LeaseLost, NotFound
from archive.services.work import this_machine
from tests import cast

AT = "2026-06-01T12:00:00+00:00"
WORDS = [Word("rope", 0, 300, 0.9)]


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    made = Database(tmp_path / "jobs.sqlite")
    with made.write() as connection:
        schema.upgrade(connection)
    yield made
    made.close()


def queued(database: Database, count: int = 1) -> list[int]:
    with database.write() as connection:
        return [jobs.add_job(connection, "transcribe", f"IV-{n}.1", {"recording": n}, "E-01", AT) for n in range(count)]


def claim(database: Database, token: str, now: float = 1000.0) -> Any:
    with database.write() as connection:
        return jobs.claim(connection, token, now, 60, AT)


def state(database: Database, job_id: int) -> Any:
    with database.read() as connection:
        return jobs.by_id(connection, job_id)


def test_two_workers_claim_different_jobs(database: Database) -> None:
    first, second = queued(database, 2)
    assert claim(database, "a").id == first
    assert claim(database, "b").id == second
    assert claim(database, "c") is None


def test_many_workers_at_once_never_share_a_job(database: Database) -> None:
    """Eight threads with a connection each, twenty jobs: every job once (PITFALLS: without BEGIN IMMEDIATE updates are lost)."""
    ids = queued(database, 20)
    taken: list[tuple[str, int]] = []
    start = threading.Barrier(8)

    def work(name: str) -> None:
        start.wait()
        while (row := claim(database, name)) is not None:
            taken.append((name, row.id))

    threads = [threading.Thread(target=work, args=(f"w{n}",)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(job for _, job in taken) == ids
    for name, job in taken:
        assert state(database, job).lease_token == name


def test_a_lease_in_force_is_left_alone_and_an_expired_one_taken_over(database: Database) -> None:
    (job_id,) = queued(database)
    claim(database, "old", 1000)
    assert claim(database, "new", 1060) is None, "in force to its last moment"
    taken = claim(database, "new", 1060.001)
    assert (taken.id, taken.lease_token, taken.attempt) == (job_id, "new", 2)


def test_the_old_worker_writes_nothing(database: Database) -> None:
    """The lease is checked in the transaction of the words: they are rolled back with it."""
    (job_id,) = queued(database)
    claim(database, "old", 1000)
    with database.write() as connection:
        jobs.plan(connection, job_id, [(-1, 0, 1000), (-1, 1000, 2500)], {})
    claim(database, "new", 2000)
    with pytest.raises(LeaseLost), database.write() as connection:
        jobs.finish_chunk(connection, job_id, 0, WORDS, {})
        jobs.hold(connection, job_id, "old", 2001, 60)
    with database.read() as connection:
        assert [(c.state, c.words) for c in jobs.chunks(connection, job_id)] == [("waiting", None)] * 2
    assert state(database, job_id).done == 0
    with database.write() as connection:
        jobs.hold(connection, job_id, "new", 2030, 60)
        jobs.finish_chunk(connection, job_id, 1, WORDS, {})
        jobs.got(connection, job_id, *jobs.heard(connection, job_id))
    row = state(database, job_id)
    assert (row.done, row.total, row.lease_until) == (1500, 2500, 2090)


def test_renewing_keeps_a_job_from_being_taken(database: Database) -> None:
    (job_id,) = queued(database)
    claim(database, "mine", 1000)
    for now in range(1015, 1300, 15):
        with database.write() as connection:
            jobs.hold(connection, job_id, "mine", now, 60)
        assert claim(database, "other", now + 59) is None


def test_attempts_are_counted_from_the_last_chunk_kept(database: Database) -> None:
    """Killed again and again, a job that gets on is not given up."""
    (job_id,) = queued(database)
    for n in range(4):
        claim(database, f"w{n}", 1000 + n * 100)
    assert state(database, job_id).attempt == 4
    with database.write() as connection:
        jobs.plan(connection, job_id, [(-1, 0, 1000)], {})
        jobs.finish_chunk(connection, job_id, 0, WORDS, {})
        jobs.got(connection, job_id, *jobs.heard(connection, job_id))
    assert state(database, job_id).attempt == 1


@pytest.mark.parametrize("ended", ["stopped", "failed", "cancelled"])
def test_what_was_stopped_goes_on_where_it_was(database: Database, ended: str) -> None:
    (job_id,) = queued(database)
    claim(database, "a")
    with database.write() as connection:
        jobs.plan(connection, job_id, [(-1, 0, 1000), (-1, 1000, 2000)], {})
        jobs.finish_chunk(connection, job_id, 0, WORDS, {})
        jobs.got(connection, job_id, *jobs.heard(connection, job_id))
        jobs.end(connection, job_id, ended, "so", AT)
    assert claim(database, "b") is None
    with pytest.raises(LeaseLost), database.write() as connection:
        jobs.hold(connection, job_id, "a", 1001, 60)
    assert queued(database) == [job_id]
    row = claim(database, "c")
    assert (row.id, row.attempt, row.words, row.done) == (job_id, 1, "", 1000)


def test_a_done_job_is_not_opened_again(database: Database) -> None:
    (job_id,) = queued(database)
    with database.write() as connection:
        jobs.end(connection, job_id, "done", "12 words.", AT)
    assert queued(database) != [job_id]


def test_an_open_job_is_not_queued_twice(database: Database) -> None:
    first = queued(database)
    assert queued(database) == first
    claim(database, "a")
    assert queued(database) == first


def test_cancelling_by_hand(cast_archive: Archive) -> None:
    """Through the service: the lease is gone at once, what it heard too; what is over stays as it is; it is on record."""
    database = cast_archive.rooms.db
    (job_id,) = queued(database)
    claim(database, "a")
    with database.write() as connection:
        jobs.plan(connection, job_id, [(-1, 0, 1000), (-1, 1000, 2000)], {})
        jobs.finish_chunk(connection, job_id, 0, WORDS, {})
        jobs.got(connection, job_id, *jobs.heard(connection, job_id))
    cast_archive.jobs.cancel(cast.EDITOR, job_id)
    with pytest.raises(LeaseLost), database.write() as connection:
        jobs.hold(connection, job_id, "a", 1001, 60)
    (row,) = [j for j in cast_archive.jobs.list(cast.EDITOR) if j.id == job_id]
    assert (row.state, row.words, row.left_s, row.done) == ("cancelled", "Cancelled by E-01.", None, 0)
    with database.read() as connection:
        assert [(c.state, c.words) for c in jobs.chunks(connection, job_id)] == [("waiting", None)] * 2
    with pytest.raises(Clash, match="is cancelled"):
        cast_archive.jobs.cancel(cast.EDITOR, job_id)
    entries = [e for e in cast_archive.records.list(cast.KEEPER) if e.action == "job cancelled"]
    assert len(entries) == 1
    with pytest.raises(NotFound):
        cast_archive.jobs.cancel(cast.EDITOR, 999)


def test_a_withdrawal_stops_the_jobs_of_that_person_alone(cast_archive: Archive) -> None:
    database = cast_archive.rooms.db
    with database.write() as connection:
        mine = jobs.add_job(connection, "transcribe", cast.recording_of("N-21"), {"recording": 1}, "E-01", AT)
        other = jobs.add_job(connection, "transcribe", cast.recording_of("N-25"), {"recording": 5}, "E-01", AT)
    claim(database, "a")
    report = cast_archive.consent.withdraw(cast.KEEPER, "N-21", how="letter")
    assert report.jobs_stopped == 2, "the access copy as well"
    assert (state(database, mine).state, state(database, other).state) == ("stopped", "waiting")
    assert state(database, mine).lease_token is None


def test_time_left_is_reckoned_from_measured_speed(cast_archive: Archive) -> None:
    """Sound of 240 s: at 2 s a second (the median of its own chunks) and 60 s done, 90 s to go. Speeds of another machine count for nothing;
    a job that waits is reckoned from finished ones of its kind."""
    database = cast_archive.rooms.db
    first, second, third = queued(database, 3)

    def put(job_id: int, values: str) -> None:
        with database.write() as connection:
            connection.execute(text(f"UPDATE job SET machine = :m, total = 240000, {values} WHERE id = {job_id}"), {"m": this_machine()})

    def left() -> dict[int, int | None]:
        return {j.id: j.left_s for j in cast_archive.jobs.list(cast.EDITOR) if j.id in (first, second, third)}

    put(first, "state='working', done=60000, speeds='[500.0, 2000.0, 9000.0]'")
    assert left() == {first: 90, second: None, third: None}
    put(second, "state='done', done=240000, speeds='[3000.0]', ended_at='2026-06-01T11:59:30+00:00'")
    put(third, "state='waiting'")
    assert left() == {first: 90, second: None, third: 80}
    with database.write() as connection:
        connection.execute(text("UPDATE job SET machine = 'another'"))
    assert left() == {first: None, second: None, third: None}
