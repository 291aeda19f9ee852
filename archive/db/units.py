"""Passages, and the find units they fall into: one voicing each, cut at every edge at which an answer could change.

Units hold no words of their own but the analysed tokens in `find_text`; `replace_text` is the only function that writes
there, because FTS5's external content must be told the old values to forget them (SEARCH.md, traps).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, delete, func, insert, or_, select, text

from archive.db.rows import add, one
from archive.db.tables import (
    find_text,
    find_unit,
    passage,
    tag,
    unit_tag,
    voicing,
    voicing_person,
)
from archive.domain.values import Stretch

COLUMNS = ("full_exact", "full_stem", "shown_exact", "shown_stem")


@dataclass(frozen=True, slots=True)
class Tokens:
    """Analysed tokens of one unit in both wordings, each a line of text for the index."""

    full_exact: str
    full_stem: str
    shown_exact: str
    shown_stem: str


def replace_passages(connection: Connection, recording_id: int, version_id: int, cuts: Sequence[tuple[int, int]]) -> None:
    """Throw the old cuts of a recording away, with their units, and keep new ones. Lineage: the passages they came from."""
    old = list(connection.execute(select(passage).where(passage.c.recording_id == recording_id)))
    forget_units(connection, recording_id)
    connection.execute(delete(passage).where(passage.c.recording_id == recording_id))
    for position, (start_ms, end_ms) in enumerate(cuts):
        lineage = [[r.start_ms, r.end_ms] for r in old if r.start_ms < end_ms and start_ms < r.end_ms]
        add(
            connection, passage, recording_id=recording_id, start_ms=start_ms, end_ms=end_ms, version_id=version_id,
            position=position, lineage=lineage,
        )  # fmt: skip


def passages(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """The passages of a recording, in order."""
    query = select(passage).where(passage.c.recording_id == recording_id).order_by(passage.c.position)
    return list(connection.execute(query))


def voicing_of(connection: Connection, interview_id: int | None, people: Iterable[int], piece: Stretch | None) -> int:
    """The voicing of these people on this ground, made where there is none."""
    ids = sorted(set(people))
    ground = f"{piece.recording_id}:{piece.start_ms}-{piece.end_ms}" if piece else "whole"
    key = f"{interview_id or 0}|{ground}|{','.join(map(str, ids))}"
    row = one(connection, voicing, key=key)
    if row is not None:
        return int(row.id)
    made = add(
        connection, voicing, key=key, interview_id=interview_id,
        recording_id=piece.recording_id if piece else None,
        start_ms=piece.start_ms if piece else None, end_ms=piece.end_ms if piece else None,
    )  # fmt: skip
    if ids:
        connection.execute(insert(voicing_person), [{"voicing_id": made, "person_id": p} for p in ids])
    return made


def add_unit(connection: Connection, passage_id: int, stretch: Stretch, voicing_id: int, tokens: Tokens) -> int:
    """Add one find unit with its tokens; returns its id."""
    unit_id = add(
        connection, find_unit, passage_id=passage_id, recording_id=stretch.recording_id, start_ms=stretch.start_ms,
        end_ms=stretch.end_ms, voicing_id=voicing_id,
    )  # fmt: skip
    replace_text(connection, unit_id, tokens)
    return unit_id


def replace_text(connection: Connection, unit_id: int, tokens: Tokens | None) -> None:
    """Write one unit's tokens, or forget them (None). The only writer of find_text and its index."""
    old = one(connection, find_text, unit_id=unit_id)
    names = ", ".join(COLUMNS)
    if old is not None:
        values = {name: getattr(old, name) for name in COLUMNS}
        connection.execute(
            text(
                f"INSERT INTO find_fts (find_fts, rowid, {names}) "
                "VALUES ('delete', :unit_id, :full_exact, :full_stem, :shown_exact, :shown_stem)"
            ),
            {"unit_id": unit_id, **values},
        )
        connection.execute(delete(find_text).where(find_text.c.unit_id == unit_id))
    if tokens is not None:
        values = {name: getattr(tokens, name) for name in COLUMNS}
        connection.execute(insert(find_text).values(unit_id=unit_id, **values))
        connection.execute(
            text(
                f"INSERT INTO find_fts (rowid, {names}) VALUES (:unit_id, :full_exact, :full_stem, :shown_exact, :shown_stem)"
            ),
            {"unit_id": unit_id, **values},
        )


def tokens_of(connection: Connection, unit_id: int) -> Tokens:
    """What a unit is found by."""
    row = one(connection, find_text, unit_id=unit_id)
    assert row is not None
    return Tokens(*(getattr(row, name) for name in COLUMNS))


def forget_units(connection: Connection, recording_id: int) -> None:
    """Take a recording's units out of the index."""
    ids = [r.id for r in connection.execute(select(find_unit.c.id).where(find_unit.c.recording_id == recording_id))]
    for unit_id in ids:
        replace_text(connection, unit_id, None)
    connection.execute(delete(unit_tag).where(unit_tag.c.unit_id.in_(ids)))
    connection.execute(delete(find_unit).where(find_unit.c.recording_id == recording_id))


def units_of(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """The units of a recording, in time order."""
    query = select(find_unit).where(find_unit.c.recording_id == recording_id).order_by(find_unit.c.start_ms)
    return list(connection.execute(query))


def set_unit_tags(connection: Connection, unit_id: int, rows: Iterable[tuple[int, str, str, bool]]) -> None:
    """Replace the facet values of a unit: (tag_id, kind, value, shown)."""
    connection.execute(delete(unit_tag).where(unit_tag.c.unit_id == unit_id))
    values = [{"unit_id": unit_id, "tag_id": t, "kind": k, "value": v, "shown": s} for t, k, v, s in dict.fromkeys(rows)]
    if values:
        connection.execute(insert(unit_tag), values)


def tags_of_units(connection: Connection, unit_ids: Collection[int]) -> dict[int, list[Row[Any]]]:
    """unit id → the tags that count for it, in time order."""
    pairs = select(unit_tag.c.unit_id, unit_tag.c.tag_id).where(unit_tag.c.unit_id.in_(unit_ids)).distinct().subquery()
    query = select(pairs.c.unit_id, tag).join(tag, tag.c.id == pairs.c.tag_id).order_by(tag.c.start_ms, tag.c.id)
    found: dict[int, list[Row[Any]]] = {}
    for row in connection.execute(query):
        found.setdefault(row.unit_id, []).append(row)
    return found


def tags_in(connection: Connection, stretch: Stretch) -> list[Row[Any]]:
    """Tags whose evidence lies in this stretch (wholly or in part) and that nobody rejected."""
    query = select(tag).where(
        tag.c.recording_id == stretch.recording_id, tag.c.start_ms < stretch.end_ms,
        tag.c.end_ms > stretch.start_ms, tag.c.state != "rejected",
    )  # fmt: skip
    return list(connection.execute(query))


def index_faults(connection: Connection) -> list[str]:
    """Where the index and the units disagree, in sentences; empty when all is well."""
    faults = []
    try:
        connection.execute(text("INSERT INTO find_fts (find_fts, rank) VALUES ('integrity-check', 1)"))
    except Exception:
        faults.append("The word index does not agree with its texts.")
    bare = select(func.count()).select_from(find_unit.outerjoin(find_text, find_text.c.unit_id == find_unit.c.id))
    if connection.execute(bare.where(or_(find_text.c.unit_id.is_(None)))).scalar_one():
        faults.append("Some passages are missing from the word index.")
    return faults
