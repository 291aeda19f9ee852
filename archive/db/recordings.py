"""Interviews, recordings, masters, measurements and the findings of ingest."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, func, or_, select, update

from archive.db.facts import bump_consent
from archive.db.rows import add, one
from archive.db.tables import (
    agreement,
    finding,
    interview,
    master,
    measurement,
    participation,
    passage,
    recording,
    restraint,
)
from archive.errors import BadInput, NotFound


def interview_id(connection: Connection, code: str, title: str, held_on: date | None, language: str) -> int:
    """The interview under this code, made where there is none."""
    row = one(connection, interview, code=code)
    if row is None:
        return add(connection, interview, code=code, title=title, held_on=held_on, language=language)
    if row.held_on is None and held_on is not None:  # made empty by an agreement that came first
        told = {"title": title, "held_on": held_on, "language": language}
        connection.execute(update(interview).where(interview.c.id == row.id).values(**told))
    return int(row.id)


def find_interview(connection: Connection, code: str) -> Row[Any] | None:
    """The interview's row, or None."""
    return one(connection, interview, code=code)


def interview_code(connection: Connection, interview_id: int | None) -> str:
    """The interview's code; "" where there is none."""
    return connection.execute(select(interview.c.code).where(interview.c.id == interview_id)).scalar() or ""


def interviews(connection: Connection) -> list[Row[Any]]:
    """Every interview, by code."""
    return list(connection.execute(select(interview).order_by(interview.c.code)))


STANDS = recording.c.erased_at.is_(None)  # an emptied row only keeps its code from being given again


def by_code(connection: Connection, code: str) -> Row[Any] | None:
    """The recording's row, or None; an erased one is none."""
    return connection.execute(select(recording).where(recording.c.code == code, STANDS)).first()


def named(connection: Connection, code: str) -> Row[Any]:
    """The recording that somebody named by its code. Raises NotFound."""
    row = by_code(connection, code)
    if row is None:
        raise _no_such(connection, code)
    return row


def all_or_named(connection: Connection, code: str = "") -> list[Row[Any]]:
    """`everything`; of that only the recording that somebody named, where they named one. Raises NotFound."""
    rows = [r for r in everything(connection) if code in ("", r.code)]
    if code and not rows:
        raise _no_such(connection, code)
    return rows


def _no_such(connection: Connection, code: str) -> NotFound:
    gone = one(connection, recording, code=code)
    if gone is not None and gone.erased_at:
        return NotFound(f"{code} was erased on {gone.erased_at[:10]}; nothing of it is left.", "See Upkeep, Erasure.")
    return NotFound("There is no such recording.", "See the list of recordings.")


def by_id(connection: Connection, recording_id: int) -> Row[Any]:
    """The recording's row."""
    return connection.execute(select(recording).where(recording.c.id == recording_id)).one()


def by_ids(connection: Connection, recording_ids: Collection[int]) -> list[Row[Any]]:
    """Rows of these recordings, with their interview's code (`interview_code`, None where they are in none)."""
    query = (
        select(recording, interview.c.code.label("interview_code"))
        .outerjoin(interview, interview.c.id == recording.c.interview_id)
        .where(recording.c.id.in_(recording_ids))
    )
    return list(connection.execute(query))


def last_days(connection: Connection, rows: Iterable[Row[Any]]) -> dict[int, date]:
    """recording id → the last day of its interview, as somebody said it of any recording of it; where nobody did, the day on which the
    last one came in (UTC). Rows: of recordings."""
    asked = list(rows)
    sittings = {r.interview_id for r in asked if r.interview_id is not None}
    query = (
        select(recording.c.id, recording.c.interview_id, recording.c.recorded_on, master.c.at)
        .join(master, master.c.id == recording.c.master_id)
        .where(or_(recording.c.interview_id.in_(sittings), recording.c.id.in_([r.id for r in asked])))
    )
    said: dict[int, date] = {}
    came: dict[int, date] = {}
    for row in connection.execute(query):
        sitting = _sitting(row.id, row.interview_id)
        came[sitting] = max(date.fromisoformat(row.at[:10]), came.get(sitting, date.min))
        if row.recorded_on is not None:
            said[sitting] = max(row.recorded_on, said.get(sitting, date.min))
    sitting_of = {r.id: _sitting(r.id, r.interview_id) for r in asked}
    return {recording_id: said.get(sitting, came[sitting]) for recording_id, sitting in sitting_of.items()}


def _sitting(recording_id: int, interview_id: int | None) -> int:
    """The interview's id; of a recording in none, a number of its own."""
    return interview_id if interview_id is not None else -recording_id


def interviews_over(connection: Connection, interview_ids: Collection[int]) -> dict[int, date]:
    """interview id → its last day, as `last_days`; interviews without a recording are not in it."""
    rows = list(connection.execute(select(recording).where(recording.c.interview_id.in_(interview_ids))))
    days = last_days(connection, rows)
    return {r.interview_id: days[r.id] for r in rows}


def files_named(connection: Connection, original_name: str) -> list[Row[Any]]:
    """Every recording that came from a file of this name, with its interview's code (`interview_code`): cards repeat names."""
    query = (
        select(recording, interview.c.code.label("interview_code"))
        .outerjoin(interview, interview.c.id == recording.c.interview_id)
        .where(recording.c.original_name == original_name, STANDS)
        .order_by(recording.c.id)
    )
    return list(connection.execute(query))


def by_file(connection: Connection, name: str) -> Row[Any] | None:
    """The recording that a sheet means by a file's name or by the recording's code, or None.

    Raises BadInput where that is more than one: a guess would be somebody else's words or consent.
    """
    query = select(recording).where(or_(recording.c.code == name, recording.c.original_name == name), STANDS).order_by(recording.c.id)
    found = list(connection.execute(query))
    if len(found) > 1:
        codes = [row.code for row in found]
        raise BadInput(
            f"More than one recording came from a file named “{name}”: {', '.join(codes[:-1])} and {codes[-1]}.",
            f"Write the recording's code ({codes[0]}) into the sheet instead of the file's name.",
        )
    return found[0] if found else None


def everything(connection: Connection) -> list[Row[Any]]:
    """Every recording with its interview's code (`interview_code`), in the order of interviews and parts."""
    query = (
        select(recording, interview.c.code.label("interview_code"))
        .outerjoin(interview, interview.c.id == recording.c.interview_id)
        .where(STANDS)
        .order_by(interview.c.code, recording.c.position, recording.c.id)
    )
    return list(connection.execute(query))


def at_place(connection: Connection, interview_id: int, position: int) -> Row[Any] | None:
    """The recording that is this part of an interview, or None."""
    return one(connection, recording, interview_id=interview_id, position=position)


def next_position(connection: Connection, interview_id: int) -> int:
    """The part after the last one of an interview."""
    query = select(func.max(recording.c.position)).where(recording.c.interview_id == interview_id)
    return int(connection.execute(query).scalar() or 0) + 1


def is_spoken_for(connection: Connection, interview_id: int) -> bool:
    """Whether people, papers or holds belong to this interview, so that a recording of it is not moved elsewhere."""
    return any(one(connection, table, interview_id=interview_id) is not None for table in (participation, agreement, restraint))


def of_interview(connection: Connection, interview: int) -> list[Row[Any]]:
    """The recordings of one interview, in order."""
    query = select(recording).where(recording.c.interview_id == interview, STANDS).order_by(recording.c.position)
    return list(connection.execute(query))


def of_code(connection: Connection, code: str) -> list[int]:
    """The recordings of the interview with this code, or the one recording with it; none where nothing has it."""
    query = select(recording.c.id).outerjoin(interview, interview.c.id == recording.c.interview_id)
    return list(connection.execute(query.where(or_(interview.c.code == code, recording.c.code == code), STANDS)).scalars())


def beside(connection: Connection, recording_id: int) -> list[int]:
    """Ids of the recordings of the same interview, in order; of one that is in none, itself alone."""
    row = by_id(connection, recording_id)
    return [row.id] if row.interview_id is None else [r.id for r in of_interview(connection, row.interview_id)]


def codes_of(connection: Connection, ids: Collection[int]) -> dict[int, str]:
    """Id → code, of these recordings."""
    if not ids:
        return {}
    return {int(r.id): str(r.code) for r in connection.execute(select(recording.c.id, recording.c.code).where(recording.c.id.in_(set(ids))))}


def free_code(connection: Connection, wanted: str | None) -> str:
    """`wanted` where it is free, else the next R-0001."""
    if wanted and one(connection, recording, code=wanted) is None:
        return wanted
    number = (connection.execute(select(func.max(recording.c.id))).scalar() or 0) + 1
    return f"R-{number:04d}"


def master_of(connection: Connection, recording_id: int) -> Row[Any]:
    """The master's row of a recording."""
    query = select(master).join(recording, recording.c.master_id == master.c.id).where(recording.c.id == recording_id)
    return connection.execute(query).one()


def recording_of_sum(connection: Connection, sha256: str) -> Row[Any] | None:
    """The recording whose master has this SHA-256, or None."""
    query = select(recording).join(master, recording.c.master_id == master.c.id).where(master.c.sha256 == sha256)
    return connection.execute(query).first()


def add_recording(connection: Connection, master_values: dict[str, Any], values: dict[str, Any]) -> int:
    """Add master and recording rows; returns the recording's id. A later part begins the pause before use anew: consent moves."""
    bump_consent(connection)
    master_id = add(connection, master, **master_values)
    return add(connection, recording, master_id=master_id, **values)


def describe_recording(connection: Connection, recording_id: int, **values: Any) -> None:
    """Change what a sheet or a person says about a recording (never its sound). Who is heard in it may change: consent moves."""
    bump_consent(connection)
    connection.execute(update(recording).where(recording.c.id == recording_id).values(**values))


def add_measurement(connection: Connection, **values: Any) -> None:
    """Keep what the measuring pass found."""
    add(connection, measurement, **values)


def measurement_of(connection: Connection, recording_id: int) -> Row[Any] | None:
    """What the measuring pass found, but for the levels (`levels_of`, `ears_of`), or None."""
    query = select(*(c for c in measurement.c if c.name not in ("levels", "ears"))).where(measurement.c.recording_id == recording_id)
    return connection.execute(query).first()


def levels_of(connection: Connection, recording_id: int) -> bytes:
    """How loud it is, a byte a step (audio.levels); b"" where it was measured before levels were kept."""
    query = select(measurement.c.levels).where(measurement.c.recording_id == recording_id)
    return connection.execute(query).scalar() or b""


def ears_of(connection: Connection, recording_id: int) -> tuple[bytes, ...]:
    """How loud it is to an ear, a byte a step (audio.bands), a track a channel that is listened to; empty where it was measured
    before these were kept."""
    query = select(measurement.c.ears, measurement.c.channels).where(measurement.c.recording_id == recording_id)
    row = connection.execute(query).first()
    if row is None or not row.ears:
        return ()
    whole = len(row.ears) // 2 if row.channels > 1 else len(row.ears)
    return tuple(row.ears[at : at + whole] for at in range(0, len(row.ears), whole))


def measured_again(connection: Connection, recording_id: int, **values: Any) -> None:
    """Keep what was measured later; what is not named stays as it was."""
    connection.execute(update(measurement).where(measurement.c.recording_id == recording_id).values(**values))


def add_finding(connection: Connection, **values: Any) -> None:
    """Keep what became of one file."""
    add(connection, finding, **values)


def reword_finding(connection: Connection, batch: str, source_name: str, recording_id: int, words: str) -> None:
    """Add to what was said about a file, in the run that said it."""
    mine = (finding.c.batch == batch, finding.c.source_name == source_name, finding.c.recording_id == recording_id)
    connection.execute(update(finding).where(*mine).values(words=words))


def date_interview(connection: Connection, interview_id: int, held_on: date) -> None:
    """Say when an interview was held, where nobody said it yet."""
    connection.execute(update(interview).where(interview.c.id == interview_id, interview.c.held_on.is_(None)).values(held_on=held_on))


def findings(connection: Connection) -> list[Row[Any]]:
    """The newest hundred findings, with the recording's code (`code`)."""
    query = select(finding, recording.c.code).outerjoin(recording, recording.c.id == finding.c.recording_id)
    return list(connection.execute(query.order_by(finding.c.id.desc()).limit(100)))


def findings_of(connection: Connection, batch: str) -> list[Row[Any]]:
    """What one run of ingest found, in order, with the recording's code (`code`)."""
    query = select(finding, recording.c.code).outerjoin(recording, recording.c.id == finding.c.recording_id)
    return list(connection.execute(query.where(finding.c.batch == batch).order_by(finding.c.id)))


def first_findings(connection: Connection) -> list[Row[Any]]:
    """What became of each file when it was first given, in that order."""
    first = select(func.min(finding.c.id)).group_by(finding.c.source_name)
    return list(connection.execute(select(finding).where(finding.c.id.in_(first)).order_by(finding.c.id)))


def count_passages(connection: Connection) -> int:
    """How many passages there are in all."""
    return int(connection.execute(select(func.count()).select_from(passage)).scalar_one())
