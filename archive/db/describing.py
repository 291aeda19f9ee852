"""Events, themes, and the tags that suggest or confirm places, dates and themes for a stretch."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, select, update

from archive.db.rows import add, one
from archive.db.tables import event, tag, tag_taught_by, theme, unit_tag
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


def themes(connection: Connection) -> list[Row[Any]]:
    """Every theme, by name; how they hang together is read by `db/themes.py`."""
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
    themes = [r for r in old.values() if r.kind == "theme" and r.state != "suggested"]
    new = {_told(made): made for key, made in asked.items() if key not in decided and not _decided_near(made, themes)}
    gone = [r.id for key, r in old.items() if r.state == "suggested" and key not in new]
    forget_tags(connection, gone)
    rows = [
        {"recording_id": recording_id, "by": by, "at": at, "decades": list(made.decades), **{name: getattr(made, name) for name in _TOLD}}
        for key, made in new.items() if key not in old
    ]  # fmt: skip
    if rows:
        connection.execute(insert(tag), rows)
    taught = [made for made in new.values() if made.taught_by]
    if taught:
        _taught(connection, recording_id, taught)


def forget_tags(connection: Connection, ids: Collection[int]) -> None:
    """Delete tags with their facet values."""
    connection.execute(delete(unit_tag).where(unit_tag.c.tag_id.in_(ids)))
    connection.execute(delete(tag_taught_by).where(tag_taught_by.c.tag_id.in_(ids)))
    connection.execute(delete(tag).where(tag.c.id.in_(ids)))


def _decided_near(made: Suggestion, themes: Iterable[Row[Any]]) -> bool:
    """True where a person decided about this theme for words among these: more evidence for it asks nobody again."""
    return made.kind == "theme" and any(r.value == made.value and r.start_ms < made.end_ms and made.start_ms < r.end_ms for r in themes)


def _taught(connection: Connection, recording_id: int, made: Iterable[Suggestion]) -> None:
    """Keep which recordings taught what is suggested here now."""
    now = {_told(r): r.id for r in tags_of(connection, recording_id)}
    pairs = [{"tag_id": now[_told(s)], "recording_id": r} for s in made for r in s.taught_by]
    connection.execute(delete(tag_taught_by).where(tag_taught_by.c.tag_id.in_(p["tag_id"] for p in pairs)))
    if pairs:
        connection.execute(insert(tag_taught_by), pairs)


_TOLD = ("start_ms", "end_ms", "kind", "value", "evidence", "rule", "reckoning", "sure", "about")


def _told(made: Row[Any] | Suggestion) -> tuple[Any, ...]:
    """Stretch, kind and value, and then the rest of what is suggested."""
    return (*(getattr(made, name) for name in _TOLD), tuple(made.decades))


def told_alike(connection: Connection, about: str) -> list[Row[Any]]:
    """Every date that is told of the same event in the archive and that nobody rejected."""
    query = select(tag).where(tag.c.about == about, tag.c.kind == "date", tag.c.state != "rejected").order_by(tag.c.recording_id, tag.c.start_ms, tag.c.id)
    return list(connection.execute(query))


def decide_tag(connection: Connection, tag_id: int, state: str, by: str, at: str) -> None:
    """Confirm, reject, or take a decision back."""
    connection.execute(update(tag).where(tag.c.id == tag_id).values(state=state, decided_by=by, decided_at=at))
