"""The gazetteer: places, what else they are called and when, and what they lie within."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, and_, delete, func, or_, select, update

from archive.db.rows import add, one
from archive.db.tables import place, place_name, place_within, tag, unit_tag

ALSO, HEARD, NOT = "also", "heard", "not"


class OtherName(NamedTuple):
    """Another name of a place. `kind`: also, heard, not (sounds like it, and is something else); `edtf`: when, "" at any time;
    `by`, `at`: who typed it and when, "" where a sheet has it."""

    text: str
    kind: str
    edtf: str = ""
    language: str = ""
    by: str = ""
    at: str = ""


def write_place(
    connection: Connection, name: str, others: Iterable[OtherName], keep: Collection[str] = (), by: str = "", at: str = "", **values: Any
) -> int:
    """Add or correct one place (`values`: columns of it) and its other names. Returns its id.

    From a sheet (no `by`) names that were typed by hand stay, and so do those in `keep`; typed by somebody, exactly these are its names,
    but for what is known not to be it.
    """
    row = one(connection, place, name=name)
    if row is None:
        place_id = add(connection, place, name=name, **{"kind": "", **values})
    else:
        place_id = int(row.id)
        if values:
            connection.execute(update(place).where(place.c.id == place_id).values(**values))
    given = {other.text: other for other in others}
    old = {r.text: r for r in connection.execute(select(place_name).where(place_name.c.place_id == place_id))}
    stays = [t for t, r in old.items() if t not in given and (r.kind == NOT or t in keep or (not by and r.by))]
    connection.execute(delete(place_name).where(place_name.c.place_id == place_id, place_name.c.text.not_in(stays)))
    for text, other in given.items():
        there = old.get(text)
        who = (there.by, there.at) if by and there is not None and there.kind == other.kind else (by, at)
        add(connection, place_name, place_id=place_id, text=text, kind=other.kind, edtf=other.edtf, language=other.language, by=who[0], at=who[1])
    return place_id


def write_within(connection: Connection, place_id: int, within: Sequence[tuple[int, str]]) -> None:
    """Say what a place lies within: (id, EDTF of when, "" at any time)."""
    mine = select(place_within).where(place_within.c.place_id == place_id).order_by(place_within.c.id)
    if [(r.within_id, r.edtf) for r in connection.execute(mine)] == list(within):
        return
    connection.execute(delete(place_within).where(place_within.c.place_id == place_id))
    for within_id, edtf in within:
        add(connection, place_within, place_id=place_id, within_id=within_id, edtf=edtf)


def write_same(connection: Connection, place_id: int, same_as_id: int | None) -> None:
    """Say which is the same place under another name."""
    connection.execute(update(place).where(place.c.id == place_id).values(same_as_id=same_as_id))


def rename_place(connection: Connection, place_id: int, name: str) -> list[int]:
    """Give a place another name, also in what was suggested and decided. Returns the recordings that speak of it: their index is stale."""
    row = one(connection, place, id=place_id)
    old = row.name if row is not None else ""
    touched = _recordings_naming(connection, old)
    connection.execute(update(tag).where(tag.c.kind == "place", tag.c.value == old).values(value=name))
    connection.execute(update(place).where(place.c.id == place_id).values(name=name))
    return touched


def drop_place(connection: Connection, place_id: int) -> list[int]:
    """Take a place out, with its names and what was suggested of it; what lay in it lies in nothing then. Returns the recordings that
    spoke of it: their index is stale."""
    row = one(connection, place, id=place_id)
    touched = _recordings_naming(connection, row.name if row is not None else "")
    if row is not None:
        mine = select(tag.c.id).where(tag.c.kind == "place", tag.c.value == row.name)
        connection.execute(delete(unit_tag).where(unit_tag.c.tag_id.in_(mine)))
        connection.execute(delete(tag).where(tag.c.kind == "place", tag.c.value == row.name))
    connection.execute(delete(place_name).where(place_name.c.place_id == place_id))
    connection.execute(delete(place_within).where(or_(place_within.c.place_id == place_id, place_within.c.within_id == place_id)))
    connection.execute(update(place).where(place.c.same_as_id == place_id).values(same_as_id=None))
    connection.execute(delete(place).where(place.c.id == place_id))
    return touched


def _recordings_naming(connection: Connection, name: str) -> list[int]:
    wanted = select(tag.c.recording_id).where(tag.c.kind == "place", tag.c.value == name).distinct()
    return sorted(connection.execute(wanted).scalars())


def places(connection: Connection) -> list[Row[Any]]:
    """Every place, by name."""
    return list(connection.execute(select(place).order_by(place.c.name)))


def by_id(connection: Connection, place_id: int) -> Row[Any] | None:
    """One place, or None."""
    return one(connection, place, id=place_id)


def within(connection: Connection) -> dict[int, list[tuple[int, str]]]:
    """place id → what it lies within, with the EDTF of when ("" at any time), in the order in which that was said."""
    found: dict[int, list[tuple[int, str]]] = {}
    for row in connection.execute(select(place_within).order_by(place_within.c.id)):
        found.setdefault(row.place_id, []).append((row.within_id, row.edtf))
    return found


def other_names(connection: Connection) -> dict[int, list[OtherName]]:
    """place id → other names, what is not it too, in the order in which they were put on record."""
    found: dict[int, list[OtherName]] = {}
    for row in connection.execute(select(place_name).order_by(place_name.c.id)):
        found.setdefault(row.place_id, []).append(OtherName(row.text, row.kind, row.edtf, row.language, row.by, row.at))
    return found


def place_names(connection: Connection) -> dict[int, list[tuple[str, str]]]:
    """place id → what it is also called or heard as (text, kind)."""
    return {p: [(o.text, o.kind) for o in others if o.kind != NOT] for p, others in other_names(connection).items()}


# --- mis-hearings -----------------------------------------------------------------------------------------------------
def add_heard(connection: Connection, place_id: int, text: str, by: str, at: str, kind: str = HEARD) -> bool:
    """Add a mis-hearing of a place's name by hand, or (kind `NOT`) say that it is none; False where the place has it already."""
    row = one(connection, place_name, place_id=place_id, text=text)
    if row is not None and (row.kind != NOT or kind == NOT):
        return False
    if row is not None:
        connection.execute(update(place_name).where(place_name.c.id == row.id).values(kind=kind, by=by, at=at))
    else:
        add(connection, place_name, place_id=place_id, text=text, kind=kind, by=by, at=at)
    return True


def drop_heard(connection: Connection, place_id: int, text: str, kind: str = HEARD) -> bool:
    """Take a mis-hearing off that was added by hand, or that something is none; False where there is no such thing."""
    mine = (place_name.c.place_id == place_id, place_name.c.text == text, place_name.c.kind == kind, place_name.c.by != "")
    return connection.execute(delete(place_name).where(*mine)).rowcount > 0


def heard_by_hand(connection: Connection) -> dict[tuple[int, str], tuple[str, str]]:
    """(place id, mis-hearing) → who added it by hand, and when."""
    by_hand = select(place_name).where(place_name.c.by != "", place_name.c.kind == HEARD)
    return {(r.place_id, r.text): (r.by, r.at) for r in connection.execute(by_hand)}


# --- tags that name places --------------------------------------------------------------------------------------------
def tags_by_rule(connection: Connection, rule: str) -> list[Row[Any]]:
    """Suggestions of places by one rule that nobody has decided, by recording and time."""
    wanted = and_(tag.c.kind == "place", tag.c.rule == rule, tag.c.state == "suggested")
    return list(connection.execute(select(tag).where(wanted).order_by(tag.c.recording_id, tag.c.start_ms, tag.c.id)))


def number_of_tags(connection: Connection, name: str, state: str) -> int:
    """How many tags in this state name a place."""
    wanted = and_(tag.c.kind == "place", tag.c.value == name, tag.c.state == state)
    return int(connection.execute(select(func.count()).where(wanted)).scalar_one())
