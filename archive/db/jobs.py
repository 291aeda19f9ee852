"""Jobs claimed by a conditional update under a lease, and the chunks of a transcription.

Whoever writes for a job must hold its lease: `mine` is part of the same write transaction as the words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, and_, case, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import chunk, job
from archive.domain.values import Word
from archive.errors import LeaseLost

OPEN = ("waiting", "working", "paused")


def add_job(connection: Connection, kind: str, subject: str, args: dict[str, Any], by: str, at: str) -> int:
    """Queue one job; returns its id. An open one of the same kind and subject stands; one that was stopped or failed goes on."""
    query = select(job).where(job.c.kind == kind, job.c.subject == subject).order_by(job.c.id.desc()).limit(1)
    known = connection.execute(query).first()
    if known is None or known.state not in (*OPEN, "stopped", "failed"):
        return add(connection, job, kind=kind, subject=subject, args=args, by=by, at=at)
    if known.state not in OPEN:  # chunks that were committed are not heard twice
        again = {"state": "waiting", "words": "", "attempt": 0, "started_at": None, "ended_at": None}
        connection.execute(update(job).where(job.c.id == known.id).values(**again))
    return int(known.id)


def claim(connection: Connection, token: str, now: float, lease_s: int, at: str) -> Row[Any] | None:
    """Take the first job that waits, or whose worker died (its lease ran out). None where nothing is to be done."""
    free = or_(job.c.state == "waiting", and_(job.c.state == "working", job.c.lease_until < now))
    found = connection.execute(select(job.c.id).where(free).order_by(job.c.id).limit(1)).scalar()
    if found is None:
        return None
    done = connection.execute(
        update(job)
        .where(job.c.id == found, free)
        .values(state="working", lease_token=token, lease_until=now + lease_s, attempt=job.c.attempt + 1, started_at=at)
    )
    return one(connection, job, id=found) if done.rowcount == 1 else None


def hold(connection: Connection, job_id: int, token: str, now: float, lease_s: int) -> None:
    """Renew the lease. Raises LeaseLost where the job was stopped or taken over: then nothing may be written."""
    done = connection.execute(
        update(job)
        .where(job.c.id == job_id, job.c.lease_token == token, job.c.state == "working")
        .values(lease_until=now + lease_s)
    )
    if done.rowcount != 1:
        raise LeaseLost("This job was stopped, or another worker took it over.", "Nothing is lost; see the list of jobs.")


def end(connection: Connection, job_id: int, state: str, words: str, at: str) -> None:
    """Close a job as done, failed or stopped (or set it back to waiting)."""
    connection.execute(
        update(job)
        .where(job.c.id == job_id)
        .values(state=state, words=words, ended_at=at, lease_token=None, lease_until=None)
    )


def give_back(connection: Connection, job_id: int, words: str) -> None:
    """Set a job back to waiting for a reason that lies outside it: this attempt does not count against it."""
    attempt = case((job.c.attempt > 0, job.c.attempt - 1), else_=0)
    free = {"state": "waiting", "words": words, "lease_token": None, "lease_until": None, "attempt": attempt}
    connection.execute(update(job).where(job.c.id == job_id).values(**free))


def stop_of_recordings(connection: Connection, subjects: Sequence[str], words: str, at: str) -> int:
    """Stop every open job of these subjects; returns how many. Their workers lose the lease and write no more."""
    open_ones = select(job.c.id).where(job.c.subject.in_(subjects), job.c.state.in_(OPEN))
    ids = list(connection.execute(open_ones).scalars())
    for job_id in ids:
        end(connection, job_id, "stopped", words, at)
    # What was heard before does not outlive the consent for it, in jobs that had stopped earlier either.
    ever = select(job.c.id).where(job.c.subject.in_(subjects), job.c.state.in_(("stopped", "failed")))
    for job_id in connection.execute(ever).scalars():
        forget(connection, job_id)
    return len(ids)


def forget(connection: Connection, job_id: int) -> None:
    """Drop every word that a job heard and did not finish with; taken up again, it begins at its first chunk."""
    connection.execute(update(chunk).where(chunk.c.job_id == job_id).values(state="waiting", words=None, notes=None))
    connection.execute(update(job).where(job.c.id == job_id).values(done_ms=0))


def by_id(connection: Connection, job_id: int) -> Row[Any] | None:
    """One job, or None."""
    return one(connection, job, id=job_id)


def newest_of(connection: Connection, subject: str) -> Row[Any] | None:
    """The newest job of a subject, or None."""
    return connection.execute(select(job).where(job.c.subject == subject).order_by(job.c.id.desc()).limit(1)).first()


def everything(connection: Connection, limit: int = 200) -> list[Row[Any]]:
    """The newest jobs first."""
    return list(connection.execute(select(job).order_by(job.c.id.desc()).limit(limit)))


def open_ones(connection: Connection) -> list[Row[Any]]:
    """Every job that waits or works, in order."""
    return list(connection.execute(select(job).where(job.c.state.in_(("waiting", "working"))).order_by(job.c.id)))


def chunks(connection: Connection, job_id: int) -> list[Row[Any]]:
    """The plan of a job, in order."""
    return list(connection.execute(select(chunk).where(chunk.c.job_id == job_id).order_by(chunk.c.n)))


def plan(connection: Connection, job_id: int, parts: Sequence[tuple[int, int, int]], args: dict[str, Any]) -> None:
    """Keep the plan, (channel, start_ms, end_ms) a chunk, channel -1 means mixed; and `args`, frozen with it."""
    for n, (channel, start_ms, end_ms) in enumerate(parts):
        add(connection, chunk, job_id=job_id, n=n, channel=channel, start_ms=start_ms, end_ms=end_ms)
    total = sum(end_ms - start_ms for _, start_ms, end_ms in parts)
    connection.execute(update(job).where(job.c.id == job_id).values(total_ms=total, args=args))


def finish_chunk(connection: Connection, job_id: int, n: int, words: Sequence[Word], notes: dict[str, Any]) -> None:
    """Keep one chunk's words and count it as done, in the transaction that checked the lease. `notes`: times, no words."""
    data = [[w.text, w.start_ms, w.end_ms, round(w.probability, 4)] for w in words]
    connection.execute(update(chunk).where(chunk.c.job_id == job_id, chunk.c.n == n).values(state="done", words=data, notes=notes))
    row = connection.execute(select(chunk).where(chunk.c.job_id == job_id, chunk.c.n == n)).one()
    # Whoever gets on may die again: attempts are counted from the last chunk that was kept.
    got_on = {"done_ms": job.c.done_ms + row.end_ms - row.start_ms, "attempt": 1}
    connection.execute(update(job).where(job.c.id == job_id).values(**got_on))


def drop_words(connection: Connection, job_id: int) -> None:
    """The words stand in blocks now; the chunks keep no second copy."""
    connection.execute(update(chunk).where(chunk.c.job_id == job_id).values(words=None))
