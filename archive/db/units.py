"""Passages, and the find units they fall into: one voicing each, cut at every edge at which an answer could change.

Units hold no words of their own but the analysed tokens in `find_text`; nothing else writes there, because FTS5's external
content must be told the old values to forget them (SEARCH.md, traps).
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, Select, bindparam, delete, func, insert, or_, select, text, update

from archive.db import facts, vectors
from archive.db.rows import add, one
from archive.db.tables import (
    find_text,
    find_unit,
    indexed,
    participation,
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


class Unit(NamedTuple):
    """One find unit: its passage, its stretch in ms, who is heard there, and its tokens."""

    passage_id: int
    start_ms: int
    end_ms: int
    voicing_id: int
    tokens: Tokens


class UnitFacts(NamedTuple):
    """What a unit can be narrowed by: the state of its line with least work in it, its language (a tag), its sound (a Fit, or "")."""

    state: str
    language: str
    sound: str


class UnitTag(NamedTuple):
    """One facet value of a unit. `shown`: its evidence lies under no mask."""

    unit_id: int
    tag_id: int
    kind: str
    value: str
    shown: bool


def replace_passages(connection: Connection, recording_id: int, version_id: int, cuts: Sequence[tuple[int, int]]) -> None:
    """Cut a recording anew. A passage that is cut as before stays, and with it its units until it is indexed anew; the others go with
    theirs. Lineage: the passages that a new one came from."""
    _changed(connection, recording_id)
    old = list(connection.execute(select(passage).where(passage.c.recording_id == recording_id)))
    same = {(r.start_ms, r.end_ms): r.id for r in old}
    gone = [r.id for r in old if (r.start_ms, r.end_ms) not in set(cuts) or same[r.start_ms, r.end_ms] != r.id]
    forget_units(connection, [r.id for r in connection.execute(select(find_unit.c.id).where(find_unit.c.passage_id.in_(gone)))])
    connection.execute(delete(passage).where(passage.c.id.in_(gone)))
    kept, new = [], []
    for position, (start_ms, end_ms) in enumerate(cuts):
        lineage = [[r.start_ms, r.end_ms] for r in old if r.start_ms < end_ms and start_ms < r.end_ms]
        values = {"version_id": version_id, "position": position, "lineage": lineage}
        if (start_ms, end_ms) in same:
            kept.append({"passage_id": same[start_ms, end_ms], **values})
        else:
            new.append({"recording_id": recording_id, "start_ms": start_ms, "end_ms": end_ms, **values})
    if kept:
        columns: dict[str, Any] = {name: bindparam(name) for name in ("version_id", "position", "lineage")}
        connection.execute(update(passage).where(passage.c.id == bindparam("passage_id")).values(**columns), kept)
    if new:
        connection.execute(insert(passage), new)


def _changed(connection: Connection, recording_id: int) -> None:
    """Say that a recording's units are others now, in the same transaction: the next question reads them anew (db/columns.py)."""
    connection.execute(
        text(
            "INSERT INTO indexed (recording_id, revision) VALUES (:recording, (SELECT coalesce(max(revision), 0) + 1 FROM indexed)) "
            "ON CONFLICT (recording_id) DO UPDATE SET revision = excluded.revision"
        ),
        {"recording": recording_id},
    )


def index_revision(connection: Connection) -> int:
    """How often units were written."""
    return int(connection.execute(select(func.coalesce(func.max(indexed.c.revision), 0))).scalar_one())


def indexed_since(connection: Connection, revision: int) -> list[int]:
    """Recordings whose units were written after this revision."""
    return list(connection.execute(select(indexed.c.recording_id).where(indexed.c.revision > revision)).scalars())


def write_facts(connection: Connection, recording_id: int, wanted: Mapping[int, UnitFacts]) -> None:
    """Keep what units can be narrowed by beside words and tags. What is so already is not written again."""
    old = {r.id: UnitFacts(r.state, r.language, r.sound) for r in units_of(connection, recording_id)}
    rows = [{"unit": unit_id, **facts._asdict()} for unit_id, facts in wanted.items() if old.get(unit_id, facts) != facts]
    if rows:
        _changed(connection, recording_id)
        columns: dict[str, Any] = {name: bindparam(name) for name in UnitFacts._fields}
        connection.execute(update(find_unit).where(find_unit.c.id == bindparam("unit")).values(**columns), rows)


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


def replace_units(connection: Connection, recording_id: int, wanted: Sequence[Unit]) -> None:
    """Make these the units of a recording. What is the same already is not written again."""
    _changed(connection, recording_id)
    query = select(find_unit, find_text).outerjoin(find_text, find_text.c.unit_id == find_unit.c.id).where(find_unit.c.recording_id == recording_id)
    old = {_unit_of(r): r.id for r in connection.execute(query)}
    ids = {r.id for r in units_of(connection, recording_id)}
    kept = {unit: old[unit] for unit in wanted if unit in old}
    forget_units(connection, ids - set(kept.values()))
    made = [unit for unit in wanted if unit not in kept]
    for unit in made:
        kept[unit] = add(
            connection, find_unit, passage_id=unit.passage_id, recording_id=recording_id, start_ms=unit.start_ms, end_ms=unit.end_ms,
            voicing_id=unit.voicing_id,
        )  # fmt: skip
    _write_text(connection, {kept[unit]: unit.tokens for unit in made})


def _unit_of(row: Row[Any]) -> Unit:
    return Unit(row.passage_id, row.start_ms, row.end_ms, row.voicing_id, Tokens(*(getattr(row, name) for name in COLUMNS)))


def _write_text(connection: Connection, tokens: Mapping[int, Tokens]) -> None:
    """Write the tokens of units that have none. With `forget_units` the only writer of find_text and its index."""
    if tokens:
        facts.bump_find(connection)
    rows = [{"unit_id": unit_id, **{name: getattr(made, name) for name in COLUMNS}} for unit_id, made in tokens.items()]
    if rows:
        connection.execute(insert(find_text), rows)
        names = ", ".join(COLUMNS)
        connection.execute(
            text(f"INSERT INTO find_fts (rowid, {names}) VALUES (:unit_id, :full_exact, :full_stem, :shown_exact, :shown_stem)"), rows
        )


def forget_units(connection: Connection, unit_ids: Collection[int]) -> None:
    """Take units out of the index, with the values that they had there (it forgets nothing else), and what was made of their words."""
    vectors.forget(connection, unit_ids)
    if unit_ids:
        facts.bump_find(connection)
    some = find_text.c.unit_id.in_(unit_ids)
    old = [dict(r) for r in connection.execute(select(find_text).where(some)).mappings()]
    if old:
        names = ", ".join(COLUMNS)
        forget = f"INSERT INTO find_fts (find_fts, rowid, {names}) VALUES ('delete', :unit_id, :full_exact, :full_stem, :shown_exact, :shown_stem)"
        connection.execute(text(forget), old)
    connection.execute(delete(find_text).where(some))
    connection.execute(delete(unit_tag).where(unit_tag.c.unit_id.in_(unit_ids)))
    connection.execute(delete(find_unit).where(find_unit.c.id.in_(unit_ids)))


def units_of(connection: Connection, recording_id: int) -> list[Row[Any]]:
    """The units of a recording, in time order."""
    query = select(find_unit).where(find_unit.c.recording_id == recording_id).order_by(find_unit.c.start_ms)
    return list(connection.execute(query))


def replace_unit_tags(connection: Connection, recording_id: int, wanted: Collection[UnitTag]) -> None:
    """Make these the facet values of a recording's units. What is the same already is not written again."""
    _changed(connection, recording_id)  # a tag may be confirmed now and count as it did
    mine = select(find_unit.c.id).where(find_unit.c.recording_id == recording_id)
    old = {UnitTag(r.unit_id, r.tag_id, r.kind, r.value, r.shown) for r in connection.execute(select(unit_tag).where(unit_tag.c.unit_id.in_(mine)))}
    asked = set(wanted)
    gone, new = old - asked, asked - old
    if gone:
        columns = ("unit_id", "tag_id", "kind", "value")
        where = [unit_tag.c[name] == bindparam(f"old_{name}") for name in columns]
        connection.execute(delete(unit_tag).where(*where), [{f"old_{name}": getattr(t, name) for name in columns} for t in gone])
    if new:
        connection.execute(insert(unit_tag), [t._asdict() for t in sorted(new)])


def tags_of_units(connection: Connection, unit_ids: Collection[int]) -> dict[int, list[Row[Any]]]:
    """unit id → the tags that count for it, in time order."""
    pairs = select(unit_tag.c.unit_id, unit_tag.c.tag_id).where(unit_tag.c.unit_id.in_(unit_ids)).distinct().subquery()
    query = select(pairs.c.unit_id, tag).join(tag, tag.c.id == pairs.c.tag_id).order_by(tag.c.start_ms, tag.c.id)
    found: dict[int, list[Row[Any]]] = {}
    for row in connection.execute(query):
        found.setdefault(row.unit_id, []).append(row)
    return found


def narrators_of(connection: Connection, unit_ids: Collection[int]) -> dict[int, frozenset[int]]:
    """unit id → the narrators heard in it."""
    narrators = select(participation.c.person_id).where(participation.c.role == "narrator")
    query = (
        select(find_unit.c.id, voicing_person.c.person_id)
        .join(voicing_person, voicing_person.c.voicing_id == find_unit.c.voicing_id)
        .where(find_unit.c.id.in_(_these(unit_ids)), voicing_person.c.person_id.in_(narrators))
    )
    found: dict[int, set[int]] = {}
    for unit_id, person_id in connection.execute(query):
        found.setdefault(unit_id, set()).add(person_id)
    return {unit_id: frozenset(people) for unit_id, people in found.items()}


def count_tags(connection: Connection, unit_ids: Collection[int]) -> dict[int, int]:
    """unit id → how many facet values it has."""
    query = select(unit_tag.c.unit_id, func.count()).where(unit_tag.c.unit_id.in_(_these(unit_ids))).group_by(unit_tag.c.unit_id)
    return {unit_id: int(number) for unit_id, number in connection.execute(query)}


def _these(ids: Collection[int]) -> Select[tuple[int]]:
    """Ids as one value: there may be more of them than a statement may have."""
    return select(func.json_each(json.dumps(sorted(ids))).table_valued("value").c.value)


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
