"""Jobs claimed by a conditional update under a lease, in an order that people may change, and the chunks of a transcription.

Whoever writes for a job must hold its lease: `hold` is part of the same write transaction as what is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, and_, case, func, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import chunk, job
from archive.domain.values import Word
from archive.errors import LeaseLost

OPEN = ("waiting", "working", "paused")
OVER = ("done", "failed", "stopped", "cancelled")  # stopped: by consent; cancelled: by hand
AGAIN = ("stopped", "failed", "cancelled")
SPEEDS = 15  # of this many last stretches of work the median counts
_FREE = {"lease_token": None, "lease_until": None}
_NEW = {**_FREE, "state": "waiting", "words": "", "attempt": 0, "started_at": None, "ended_at": None}


def add_job(
    connection: Connection, kind: str, subject: str, args: dict[str, Any], by: str, at: str, total: int = 0, idle: bool = False,
    anew: bool = False,
) -> int:  # fmt: skip
    """Queue one job as the last; returns its id. An open one of the same kind and subject stands; one that ended early goes on.

    `total`: how much there is to do, in the kind's own unit, where it is known. `idle`: only while the machine has little else to do.
    `anew`: something else is asked of the same subject, so that it is a job of its own.
    """
    known = newest_of(connection, kind, subject)
    if anew or known is None or known.state == "done":
        return _add(connection, kind=kind, subject=subject, args=args, by=by, at=at, total=total, idle=idle)
    if known.state in AGAIN:
        begin_again(connection, known.id)
    return int(known.id)


def add_once(connection: Connection, kind: str, subject: str, args: dict[str, Any], by: str, at: str, total: int = 0) -> int:
    """Queue one job as the last; returns its id. An open one that was asked for with exactly the same args stands, and is paused no more."""
    same = [r for r in open_or_paused(connection) if r.kind == kind and r.args == args]
    if same:
        if same[0].state == "paused":
            begin_again(connection, same[0].id)
        return int(same[0].id)
    return _add(connection, kind=kind, subject=subject, args=args, by=by, at=at, total=total)


def _add(connection: Connection, **values: Any) -> int:
    return add(connection, job, place=_last(connection) + 1, **values)


def begin_again(connection: Connection, job_id: int) -> None:
    """A job that was paused or ended early waits once more, as the last; chunks that were committed are not heard twice."""
    connection.execute(update(job).where(job.c.id == job_id).values(**_NEW, place=_last(connection) + 1))


def _last(connection: Connection) -> int:
    return int(connection.execute(select(func.max(job.c.place))).scalar() or 0)


def claim(
    connection: Connection, token: str, now: float, lease_s: int, at: str, idle: bool = True, machine: str = "",
    kind: str = "", job_id: int | None = None,
) -> Row[Any] | None:  # fmt: skip
    """Take the first job that waits, or whose worker died (its lease ran out). None where nothing is to be done.

    What was asked for by hand comes first; jobs for an idle machine only with `idle`. `kind`, `job_id`: of that kind, or that one,
    alone. A lease that ends later than any could was given under another clock, set back since: it counts as run out.
    """
    dead = or_(job.c.lease_until < now, job.c.lease_until > now + 2 * lease_s)
    free = or_(job.c.state == "waiting", and_(job.c.state == "working", dead))
    if not idle:
        free = and_(free, job.c.idle.is_(False))
    if kind:
        free = and_(free, job.c.kind == kind)
    if job_id is not None:
        free = and_(free, job.c.id == job_id)
    found = connection.execute(select(job).where(free).order_by(*_IN_ORDER).limit(1)).first()
    if found is None:
        return None
    mine = {"state": "working", "lease_token": token, "lease_until": now + lease_s, "started_at": at, "machine": machine}
    speeds = found.speeds if found.machine == machine else []  # measured elsewhere, they say nothing here
    done = connection.execute(
        update(job).where(job.c.id == found.id, free).values(**mine, speeds=speeds, attempt=job.c.attempt + 1)
    )
    return one(connection, job, id=found.id) if done.rowcount == 1 else None


_IN_ORDER = (job.c.idle, job.c.place, job.c.id)


def hold(connection: Connection, job_id: int, token: str, now: float, lease_s: int) -> None:
    """Renew the lease. Raises LeaseLost where the job was paused, ended or taken over: then nothing may be written.

    A lease that ran out while nobody took the job (the laptop slept) is renewed like any other.
    """
    done = connection.execute(
        update(job)
        .where(job.c.id == job_id, job.c.lease_token == token, job.c.state == "working")
        .values(lease_until=now + lease_s)
    )
    if done.rowcount != 1:
        raise LeaseLost("This job was stopped, or another worker took it over.", "Nothing is lost; see the list of jobs.")


def got(connection: Connection, job_id: int, done: int, total: int, speed: float = 0.0, kept: bool = True, words: str = "") -> None:
    """Progress, in the job's unit, and the speed (units a second) of the work behind it. `kept`: it is not done again after a kill.
    `words`: what is being done."""
    row = connection.execute(select(job).where(job.c.id == job_id)).one()
    values: dict[str, Any] = {"done": done, "total": total} | ({"words": words} if words else {})
    if speed > 0:
        values["speeds"] = [*row.speeds, round(speed, 3)][-SPEEDS:]
    if kept and done > row.done:  # whoever gets on may die again: attempts are counted from here
        values["attempt"] = 1
    connection.execute(update(job).where(job.c.id == job_id).values(**values))


def note(connection: Connection, job_id: int, found: dict[str, Any]) -> None:
    """Keep what a job found and where it is: `found` as a whole."""
    connection.execute(update(job).where(job.c.id == job_id).values(outcome=found))


def end(connection: Connection, job_id: int, state: str, words: str, at: str) -> None:
    """Close a job as done, failed, stopped or cancelled (or set it back to waiting)."""
    connection.execute(update(job).where(job.c.id == job_id).values(**_FREE, state=state, words=words, ended_at=at))


def pause(connection: Connection, job_id: int, words: str) -> None:
    """Nobody claims it, and who works at it loses the lease; what was committed stays."""
    connection.execute(update(job).where(job.c.id == job_id).values(**_FREE, state="paused", words=words))


def give_back(connection: Connection, job_id: int, words: str) -> None:
    """Set a job back to waiting for a reason that lies outside it: this attempt does not count against it."""
    attempt = case((job.c.attempt > 0, job.c.attempt - 1), else_=0)
    connection.execute(update(job).where(job.c.id == job_id).values(**_FREE, state="waiting", words=words, attempt=attempt))


def put_before(connection: Connection, job_id: int, before: int | None) -> None:
    """Move an open job to just before another one, or (None) before all."""
    rows = [r.id for r in connection.execute(select(job.c.id).where(job.c.state.in_(OPEN)).order_by(job.c.place, job.c.id)) if r.id != job_id]
    rows.insert(0 if before is None else rows.index(before), job_id)
    for place, row_id in enumerate(rows, 1):
        connection.execute(update(job).where(job.c.id == row_id).values(place=place))


def only_idle(connection: Connection, job_id: int, idle: bool) -> None:
    """Say whether a job waits for an idle machine."""
    connection.execute(update(job).where(job.c.id == job_id).values(idle=idle))


def rename(connection: Connection, old: str, new: str) -> None:
    """A recording has another code now: its jobs follow."""
    connection.execute(update(job).where(job.c.subject == old).values(subject=new))


def stop_of_recordings(connection: Connection, subjects: Sequence[str], words: str, at: str) -> int:
    """Stop every open job of these subjects; returns how many. Their workers lose the lease and write no more."""
    open_ones = select(job.c.id).where(job.c.subject.in_(subjects), job.c.state.in_(OPEN))
    ids = list(connection.execute(open_ones).scalars())
    for job_id in ids:
        end(connection, job_id, "stopped", words, at)
    # What was heard before does not outlive the consent for it, in jobs that had ended earlier either.
    ever = select(job.c.id).where(job.c.subject.in_(subjects), job.c.state.in_(AGAIN))
    for job_id in connection.execute(ever).scalars():
        forget(connection, job_id)
    return len(ids)


def forget(connection: Connection, job_id: int) -> None:
    """Drop every word that a job heard and did not finish with; taken up again, it begins at its first chunk."""
    connection.execute(update(chunk).where(chunk.c.job_id == job_id).values(state="waiting", words=None, notes=None))
    connection.execute(update(job).where(job.c.id == job_id).values(done=0))


def by_id(connection: Connection, job_id: int) -> Row[Any] | None:
    """One job, or None."""
    return one(connection, job, id=job_id)


def newest_of(connection: Connection, kind: str, subject: str) -> Row[Any] | None:
    """The newest job of this kind on a subject, or None."""
    query = select(job).where(job.c.kind == kind, job.c.subject == subject).order_by(job.c.id.desc()).limit(1)
    return connection.execute(query).first()


def everything(connection: Connection, limit: int = 200) -> list[Row[Any]]:
    """Under way, waiting in their order, paused; then what is over, the newest first, `limit` at most."""
    rank = case((job.c.state == "working", 0), (job.c.state == "waiting", 1), else_=2)
    rows = list(connection.execute(select(job).where(job.c.state.in_(OPEN)).order_by(rank, *_IN_ORDER)))
    return rows + list(connection.execute(select(job).where(job.c.state.in_(OVER)).order_by(job.c.ended_at.desc(), job.c.id.desc()).limit(limit)))


def open_ones(connection: Connection) -> list[Row[Any]]:
    """Every job that waits or works, in order."""
    return list(connection.execute(select(job).where(job.c.state.in_(("waiting", "working"))).order_by(*_IN_ORDER)))


def open_or_paused(connection: Connection) -> list[Row[Any]]:
    """Every job that is not over."""
    return list(connection.execute(select(job).where(job.c.state.in_(OPEN)).order_by(job.c.id)))


def speeds_of(connection: Connection, kind: str, machine: str, most: int = 5) -> list[list[float]]:
    """Speeds of the newest finished jobs of a kind on this machine, in units a second."""
    query = select(job.c.speeds).where(job.c.kind == kind, job.c.machine == machine, job.c.state == "done")
    return [s for s in connection.execute(query.order_by(job.c.ended_at.desc()).limit(most)).scalars() if s]


def chunks(connection: Connection, job_id: int) -> list[Row[Any]]:
    """The plan of a job, in order."""
    return list(connection.execute(select(chunk).where(chunk.c.job_id == job_id).order_by(chunk.c.n)))


def heard(connection: Connection, job_id: int) -> tuple[int, int]:
    """(ms heard and kept, ms in all) of a planned job."""
    rows = [(c.state, c.end_ms - c.start_ms) for c in chunks(connection, job_id)]
    return sum(ms for state, ms in rows if state == "done"), sum(ms for _, ms in rows)


def plan(connection: Connection, job_id: int, parts: Sequence[tuple[int, int, int]], args: dict[str, Any]) -> None:
    """Keep the plan, (channel, start_ms, end_ms) a chunk, channel -1 means mixed; and `args`, frozen with it."""
    for n, (channel, start_ms, end_ms) in enumerate(parts):
        add(connection, chunk, job_id=job_id, n=n, channel=channel, start_ms=start_ms, end_ms=end_ms)
    connection.execute(update(job).where(job.c.id == job_id).values(total=heard(connection, job_id)[1], args=args))


def finish_chunk(connection: Connection, job_id: int, n: int, words: Sequence[Word], notes: dict[str, Any]) -> None:
    """Keep one chunk's words, in the transaction that checked the lease. `notes`: times, no words."""
    data = [[w.text, w.start_ms, w.end_ms, round(w.probability, 4)] for w in words]
    connection.execute(update(chunk).where(chunk.c.job_id == job_id, chunk.c.n == n).values(state="done", words=data, notes=notes))


def drop_words(connection: Connection, job_id: int) -> None:
    """The words stand in blocks now; the chunks keep no second copy."""
    connection.execute(update(chunk).where(chunk.c.job_id == job_id).values(words=None))
