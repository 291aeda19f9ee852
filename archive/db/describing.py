"""Events, themes, and the tags that suggest or confirm places, dates and themes for a stretch."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from archive.db.rows import add, one
from archive.db.tables import event, tag, theme, unit_tag
from archive.rules.suggestion import Suggestion


def count_suggested(connection: Connection, recording_id: int) -> int:
    """How many suggestions of a recording wait for a person."""
    query = select(func.count()).where(tag.c.recording_id == recording_id, tag.c.state == "suggested")
    return int(connection.execute(query).scalar_one())


def write_event(connection: Connection, name: str, edtf: str, also: list[str]) -> None:
    """Add or correct one event of the calendar."""
    values = {"edtf": edtf, "also": also}
    if not connection.execute(update(event).where(event.c.name == name).values(**values)).rowcount:
        add(connection, event, name=name, **values)


def events(connection: Connection) -> list[Row[Any]]:
    """Every event, by name."""
    return list(connection.execute(select(event).order_by(event.c.name)))


def write_theme(connection: Connection, name: str, broader: str, scope_note: str, words: list[str]) -> bool:
    """Add or correct one theme; False where the broader theme is unknown."""
    parent = one(connection, theme, name=broader) if broader else None
    if broader and parent is None:
        return False
    values = {"broader_id": parent.id if parent is not None else None, "scope_note": scope_note, "words": words}
    if not connection.execute(update(theme).where(theme.c.name == name).values(**values)).rowcount:
        add(connection, theme, name=name, **values)
    return True


def themes(connection: Connection) -> list[Row[Any]]:
    """Every theme, by name."""
    return list(connection.execute(select(theme).order_by(theme.c.name)))


def tags_of(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """Every tag of a recording, in time order."""
    query = select(tag).where(tag.c.recording_id == recording_id).order_by(tag.c.start_ms, tag.c.kind, tag.c.id)
    return list(connection.execute(query))


def tag_by_id(connection: Connection, tag_id: int) -> Row[Any] | None:
    """One tag, or None."""
    return one(connection, tag, id=tag_id)


def suggest(connection: Connection, recording_id: int, wanted: Iterable[Suggestion], by: str, at: str) -> None:
    """Make these the suggestions of a recording that no person decided. What was suggested before and is again stays as it is; what a
    person confirmed or rejected stays, and is not suggested again."""
    old = {_told(r): r for r in tags_of(connection, recording_id)}
    decided = {key[:4] for key, r in old.items() if r.state != "suggested"}
    asked: dict[tuple[int, int, str, str], Suggestion] = {}
    for made in wanted:  # of two with one stretch and value the first counts
        asked.setdefault((made.start_ms, made.end_ms, made.kind, made.value), made)
    new = {_told(made): made for key, made in asked.items() if key not in decided}
    gone = [r.id for key, r in old.items() if r.state == "suggested" and key not in new]
    connection.execute(delete(unit_tag).where(unit_tag.c.tag_id.in_(gone)))
    connection.execute(delete(tag).where(tag.c.id.in_(gone)))
    rows = [
        {"recording_id": recording_id, "by": by, "at": at, "decades": list(made.decades), **{name: getattr(made, name) for name in _TOLD}}
        for key, made in new.items() if key not in old
    ]  # fmt: skip
    if rows:
        connection.execute(insert(tag), rows)


_TOLD = ("start_ms", "end_ms", "kind", "value", "evidence", "rule", "reckoning", "sure")


def _told(made: Row[Any] | Suggestion) -> tuple[Any, ...]:
    """Stretch, kind and value, and then the rest of what is suggested."""
    return (*(getattr(made, name) for name in _TOLD), tuple(made.decades))


def decide_tag(connection: Connection, tag_id: int, state: str, by: str, at: str) -> None:
    """Confirm, reject, or take a decision back."""
    connection.execute(update(tag).where(tag.c.id == tag_id).values(state=state, decided_by=by, decided_at=at))
