"""Files on their way from a browser, and which of their pieces are here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Row, delete, func, select, update

from archive.db.rows import add, one
from archive.db.tables import recording, upload, upload_piece

OPEN, WHOLE, TAKEN, REFUSED = "open", "whole", "taken", "refused"


def add_upload(connection: Connection, **values: Any) -> int:
    """Begin one; returns its id."""
    return add(connection, upload, **values)


def by_key(connection: Connection, key: str) -> Row[Any] | None:
    """One upload, or None."""
    return one(connection, upload, key=key)


def begun(connection: Connection, name: str, size: int, first_sha256: str) -> Row[Any] | None:
    """The newest one that was begun with a file of this name, size and beginning, and was not taken in yet."""
    same = (upload.c.name == name, upload.c.bytes == size, upload.c.first_sha256 == first_sha256)
    query = select(upload).where(*same, upload.c.state.in_((OPEN, WHOLE)))
    return connection.execute(query.order_by(upload.c.id.desc()).limit(1)).first()


def together(connection: Connection, batch: str, *states: str) -> list[Row[Any]]:
    """Those of one batch in these states, in the order of their names."""
    query = select(upload).where(upload.c.batch == batch, upload.c.state.in_(states))
    return list(connection.execute(query.order_by(upload.c.name, upload.c.id)))


def join(connection: Connection, old: str, new: str) -> None:
    """Let what was not taken in of one batch be of another."""
    connection.execute(update(upload).where(upload.c.batch == old, upload.c.state.in_((OPEN, WHOLE))).values(batch=new))


def everything(connection: Connection) -> list[Row[Any]]:
    """Every upload, the newest first, with how many pieces are here (`have`) and its recording's code (`code`)."""
    have = select(func.count()).where(upload_piece.c.upload_id == upload.c.id).scalar_subquery()
    query = select(upload, have.label("have"), recording.c.code).outerjoin(recording, recording.c.id == upload.c.recording_id)
    return list(connection.execute(query.order_by(upload.c.id.desc())))


def pieces(connection: Connection, upload_id: int) -> dict[int, str]:
    """Piece → checksum, of those that are here."""
    query = select(upload_piece.c.n, upload_piece.c.sha256).where(upload_piece.c.upload_id == upload_id)
    return {int(n): str(total) for n, total in connection.execute(query)}


def sum_of_piece(connection: Connection, upload_id: int, n: int) -> str:
    """The checksum of a piece that is here, or ""."""
    query = select(upload_piece.c.sha256).where(upload_piece.c.upload_id == upload_id, upload_piece.c.n == n)
    return connection.execute(query).scalar() or ""


def keep_piece(connection: Connection, upload_id: int, n: int, sha256: str, at: str) -> None:
    """Note that a piece is here."""
    add(connection, upload_piece, upload_id=upload_id, n=n, sha256=sha256)
    change(connection, upload_id, touched_at=at)


def drop_pieces(connection: Connection, upload_id: int, lost: Sequence[int]) -> None:
    """Note that pieces are not here after all."""
    connection.execute(delete(upload_piece).where(upload_piece.c.upload_id == upload_id, upload_piece.c.n.in_(lost)))


def change(connection: Connection, upload_id: int, **values: Any) -> None:
    """Change what is known of one."""
    connection.execute(update(upload).where(upload.c.id == upload_id).values(**values))


def remove(connection: Connection, upload_id: int) -> None:
    """Forget one, and its pieces."""
    connection.execute(delete(upload_piece).where(upload_piece.c.upload_id == upload_id))
    connection.execute(delete(upload).where(upload.c.id == upload_id))
