"""Places, events, themes, and the tags that suggest or confirm them for a stretch."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import event, place, place_name, tag, theme, unit_tag
from archive.rules.suggestion import Suggestion


def write_place(connection: Connection, name: str, also: Iterable[tuple[str, str]], **values: Any) -> int:
    """Add or correct one place and its other names (text, kind also|heard); mis-hearings added by hand stay. Returns its id."""
    row = one(connection, place, name=name)
    if row is None:
        place_id = add(connection, place, name=name, **values)
    else:
        place_id = int(row.id)
        connection.execute(update(place).where(place.c.id == place_id).values(**values))
    given = dict(also)
    again = place_name.c.text.in_(list(given))
    connection.execute(delete(place_name).where(place_name.c.place_id == place_id, or_(place_name.c.by == "", again)))
    for text, kind in given.items():
        add(connection, place_name, place_id=place_id, text=text, kind=kind)
    return place_id


def add_heard(connection: Connection, place_id: int, text: str, by: str, at: str) -> bool:
    """Add a mis-hearing of a place's name by hand; False where the place has it already."""
    if one(connection, place_name, place_id=place_id, text=text) is not None:
        return False
    add(connection, place_name, place_id=place_id, text=text, kind="heard", by=by, at=at)
    return True


def drop_heard(connection: Connection, place_id: int, text: str) -> bool:
    """Take a mis-hearing off that was added by hand; False where there is none."""
    mine = (place_name.c.place_id == place_id, place_name.c.text == text, place_name.c.by != "")
    return connection.execute(delete(place_name).where(*mine)).rowcount > 0


def heard_by_hand(connection: Connection) -> dict[tuple[int, str], tuple[str, str]]:
    """(place id, mis-hearing) → who added it by hand, and when."""
    return {(r.place_id, r.text): (r.by, r.at) for r in connection.execute(select(place_name).where(place_name.c.by != ""))}


def link_place(connection: Connection, name: str, within: str, same_as: str) -> list[str]:
    """Say what a place lies within, and which is the same place under another name. Returns names that are unknown."""
    unknown, values = [], {}
    for column, other in (("within_id", within), ("same_as_id", same_as)):
        row = one(connection, place, name=other) if other else None
        if other and row is None:
            unknown.append(other)
        values[column] = row.id if row is not None else None
    if not unknown:
        connection.execute(update(place).where(place.c.name == name).values(**values))
    return unknown


def places(connection: Connection) -> list[Row[Any]]:
    """Every place, by name."""
    return list(connection.execute(select(place).order_by(place.c.name)))


def place_names(connection: Connection) -> dict[int, list[tuple[str, str]]]:
    """place id → other names (text, kind)."""
    found: dict[int, list[tuple[str, str]]] = {}
    for row in connection.execute(select(place_name).order_by(place_name.c.id)):
        found.setdefault(row.place_id, []).append((row.text, row.kind))
    return found


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
