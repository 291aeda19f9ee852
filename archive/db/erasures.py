"""Erasures that were asked for, the tasks they leave, and digests of what must be found nowhere any more."""

from __future__ import annotations

import secrets
from collections.abc import Collection, Iterable
from typing import Any

from sqlalchemy import Connection, Row, func, select, update

from archive.db.rows import add, one
from archive.db.tables import erasure, erasure_trace, job, master, recording, task
from archive.domain.erasing import Part, State, part_of

DIGEST_BYTES = 8
TASK = "erasure"  # kind of a task


def ask(connection: Connection, **values: Any) -> tuple[int, str]:
    """Put an erasure on record; returns its id and code (ER-1, ER-2, …). `mark`: of one that is applied again; else a new one."""
    number = int(connection.execute(select(func.coalesce(func.max(erasure.c.id), 0))).scalar_one()) + 1
    code = f"ER-{number}"
    values.setdefault("mark", secrets.token_hex(16))
    return add(connection, erasure, code=code, **values), code


def by_code(connection: Connection, code: str) -> Row[Any] | None:
    """One erasure, or None."""
    return one(connection, erasure, code=code)


def by_id(connection: Connection, erasure_id: int) -> Row[Any]:
    """One erasure."""
    return connection.execute(select(erasure).where(erasure.c.id == erasure_id)).one()


def everything(connection: Connection, *states: State) -> list[Row[Any]]:
    """Every erasure, or those in these states, oldest first."""
    query = select(erasure).order_by(erasure.c.id)
    return list(connection.execute(query.where(erasure.c.state.in_([s.value for s in states])) if states else query))


def open_for(connection: Connection, target: str) -> Row[Any] | None:
    """The erasure of this target that is not over, or None."""
    query = select(erasure).where(erasure.c.target == target, erasure.c.state.in_([State.ASKED.value, State.ERASING.value]))
    return connection.execute(query.limit(1)).first()


def marks(connection: Connection) -> dict[str, str]:
    """mark → state, of every erasure."""
    return {r.mark: r.state for r in connection.execute(select(erasure.c.mark, erasure.c.state))}


def change(connection: Connection, erasure_id: int, **values: Any) -> None:
    """Change what is known of one."""
    connection.execute(update(erasure).where(erasure.c.id == erasure_id).values(**values))


def parts(row: Row[Any]) -> tuple[Part, ...]:
    """What goes of which recordings."""
    return tuple(part_of(p) for p in row.parts)


def erased_sums(connection: Connection) -> set[str]:
    """Checksums of the files that were erased: they are not taken in again unawares."""
    return {p.sha256 for row in everything(connection, State.DONE, State.ERASING) for p in parts(row)}


def recording_of(connection: Connection, part: Part) -> Row[Any] | None:
    """The recording that a part is about, erased or not; None where a restored archive does not have it yet. Codes are never given twice."""
    return one(connection, recording, code=part.recording)


def master_sums(connection: Connection) -> set[str]:
    """Every checksum on the list of masters."""
    return set(connection.execute(select(master.c.sha256)).scalars())


def working(connection: Connection) -> list[int]:
    """Jobs that somebody works at."""
    return list(connection.execute(select(job.c.id).where(job.c.state == "working")).scalars())


# --- tasks -----------------------------------------------------------------------------------------------------------


def add_tasks(connection: Connection, row: Row[Any], some: Iterable[str], at: str) -> None:
    """Put what people must see to on the list of tasks; what stands there already is not added again."""
    for words in some:
        if one(connection, task, erasure_id=row.id, what=words) is None:
            add(connection, task, kind=TASK, what=words, person_id=row.person_id, erasure_id=row.id, by=row.by, at=at)


def tasks(connection: Connection, erasure_id: int) -> list[Row[Any]]:
    """What people must see to, and who did."""
    return list(connection.execute(select(task).where(task.c.erasure_id == erasure_id).order_by(task.c.id)))


# --- traces ----------------------------------------------------------------------------------------------------------


def keep_trace(connection: Connection, erasure_id: int, salt: str, runs: Collection[bytes], sound: Collection[bytes]) -> None:
    """Keep digests by which what was erased is known again, and nothing else is."""
    kept = {"salt": salt, "runs": b"".join(sorted(runs)), "sound": b"".join(sorted(sound))}
    if one(connection, erasure_trace, erasure_id=erasure_id) is None:
        add(connection, erasure_trace, erasure_id=erasure_id, **kept)
    else:
        connection.execute(update(erasure_trace).where(erasure_trace.c.erasure_id == erasure_id).values(**kept))


def traces(connection: Connection, erasure_id: int | None = None) -> list[tuple[int, str, set[bytes], set[bytes]]]:
    """(erasure id, salt, digests of runs of words, of blocks of sound), of one erasure or of all."""
    query = select(erasure_trace).order_by(erasure_trace.c.erasure_id)
    rows = connection.execute(query.where(erasure_trace.c.erasure_id == erasure_id) if erasure_id is not None else query)
    return [(r.erasure_id, r.salt, _apart(r.runs), _apart(r.sound)) for r in rows]


def _apart(data: bytes) -> set[bytes]:
    return {data[n : n + DIGEST_BYTES] for n in range(0, len(data), DIGEST_BYTES)}
