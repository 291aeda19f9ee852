"""Field notes: sheets by their code, and what has none yet."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, or_, select, update

from archive.db.rows import add
from archive.db.tables import field_note, interview, recording

FIELDS = ("who", "where", "when", "with_what", "in_the_room", "remarks")


def _notes() -> Any:
    return (
        select(field_note, interview.c.code.label("interview"), recording.c.code.label("recording"))
        .outerjoin(interview, interview.c.id == field_note.c.interview_id)
        .outerjoin(recording, recording.c.id == field_note.c.recording_id)
    )


def everything(connection: Connection) -> list[Row[Any]]:
    """Every note with the code of its interview or recording (`interview`, `recording`), the newest first."""
    return list(connection.execute(_notes().order_by(field_note.c.id.desc())))


def by_code(connection: Connection, code: str) -> Row[Any] | None:
    """The note of this sheet, or None."""
    return connection.execute(_notes().where(field_note.c.code == code)).first()


def about(connection: Connection, interview_id: int | None, recording_id: int | None) -> list[Row[Any]]:
    """The notes of one interview or one recording, the newest last."""
    wanted = field_note.c.interview_id == interview_id if interview_id is not None else field_note.c.recording_id == recording_id
    return list(connection.execute(_notes().where(wanted).order_by(field_note.c.id)))


def new_sheet(connection: Connection, code: str, by: str, at: str) -> int:
    """A sheet on which nothing is written yet; returns its id."""
    return add(connection, field_note, code=code, by=by, at=at)


def write(connection: Connection, note_id: int, **values: Any) -> None:
    """Keep what was written on a sheet."""
    connection.execute(update(field_note).where(field_note.c.id == note_id).values(**values))


def without(connection: Connection) -> list[str]:
    """Interviews that have recordings, and recordings without an interview, of which there are no notes; by code."""
    written = field_note.c.written_at.is_not(None)
    noted = select(field_note.c.interview_id).where(field_note.c.interview_id.is_not(None), written)
    heard = select(field_note.c.recording_id).where(field_note.c.recording_id.is_not(None), written)
    parts = select(recording.c.interview_id).where(or_(recording.c.id.in_(heard), recording.c.interview_id.in_(noted)), recording.c.interview_id.is_not(None))
    held = select(recording.c.interview_id).where(recording.c.interview_id.is_not(None))
    interviews = select(interview.c.code).where(interview.c.id.in_(held), interview.c.id.not_in(parts)).order_by(interview.c.code)
    alone = select(recording.c.code).where(recording.c.interview_id.is_(None), recording.c.id.not_in(heard)).order_by(recording.c.code)
    return [*connection.execute(interviews).scalars(), *connection.execute(alone).scalars()]
