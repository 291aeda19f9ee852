"""One statement decides what is found: words, place, decade, theme, speaker, use, with live consent; counts from its ids.

The question's tree becomes SQL with MATCH leaves (a bare NOT is a difference over visible units: FTS5 has no such thing).
Phrases and beginnings are looked for in the exact column, single words in the stemmed one.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy import (
    ColumnElement,
    Connection,
    Select,
    and_,
    column,
    false,
    func,
    literal_column,
    not_,
    or_,
    select,
    table,
    true,
)

from archive.db import permitted
from archive.db.tables import find_unit, interview, participation, person, recording, tag, unit_tag, voicing_person
from archive.db.twins import Twin, twins
from archive.domain.agreements import Policy
from archive.domain.values import Use, Way
from archive.rules.analysis import And, Everything, Not, Nothing, Or, Phrase, Prefix, Query, Term

_fts = table("find_fts", column("rowid"))


@dataclass(frozen=True, slots=True)
class Filters:
    """What narrows a question. `wording`: "full" or "shown", by the viewer's role; `usable`: a use and way, or None."""

    wording: str
    on: date
    exhibition: str
    policy: Policy
    team: Use
    usable: tuple[Use, Way] | None = None
    place: Mapping[str, tuple[str, ...] | None] = field(default_factory=dict)  # name → the dates told with which it counts; None: always
    decade: str = ""
    theme: tuple[str, ...] = ()
    speaker_id: int | None = None


@dataclass(frozen=True, slots=True)
class Unit:
    """One find unit that was found."""

    id: int
    recording_id: int
    start_ms: int
    end_ms: int


@dataclass(frozen=True, slots=True)
class Found:
    """Ids in order, how many in all, counts beside the facets, and which of all that was found another microphone has as well."""

    units: tuple[Unit, ...]
    total: int
    facets: dict[str, tuple[tuple[str, int], ...]]
    twins: dict[int, tuple[Twin, ...]]


def find(connection: Connection, query: Query, filters: Filters, limit: int, offset: int) -> Found:
    """Answer one question in the caller's read transaction: hits and counts see one state of consent."""
    ids = list(connection.execute(units_under(query, filters)).scalars())
    # Handed back as one JSON value: counts and the page then see exactly these ids, without consent asked again.
    found = select(func.json_each(json.dumps(ids)).table_valued("value").c.value)
    rows = connection.execute(_ordered(query, filters, found, limit, offset))
    facets = {kind: _counts(connection, found, kind, filters) for kind in ("place", "decade", "theme")}
    facets["speaker"] = _speakers(connection, found)
    units = tuple(Unit(r.id, r.recording_id, r.start_ms, r.end_ms) for r in rows)
    same = twins(connection, found, [(u.id, u.recording_id, u.start_ms, u.end_ms) for u in units])
    return Found(_beside_each_other(units, same), len(ids), facets, same)


def named_places(connection: Connection, filters: Filters) -> list[tuple[int, str]]:
    """(unit id, place) of all that these filters leave, without words."""
    query = select(unit_tag.c.unit_id, unit_tag.c.value).where(unit_tag.c.kind == "place", *_left(filters)).distinct()
    return [(int(u), str(v)) for u, v in connection.execute(query)]


def told_dates(connection: Connection, filters: Filters) -> list[tuple[int, str]]:
    """(unit id, date as EDTF) of all that these filters leave, without words."""
    query = select(unit_tag.c.unit_id, tag.c.value).join(tag, tag.c.id == unit_tag.c.tag_id).where(unit_tag.c.kind == "decade", *_left(filters)).distinct()
    return [(int(u), str(v)) for u, v in connection.execute(query)]


def _left(filters: Filters) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    return _seen(filters), unit_tag.c.unit_id.in_(units_under(Everything(), filters))


def dates_told(connection: Connection) -> list[str]:
    """Every date (EDTF) that is suggested or confirmed somewhere, once."""
    return list(connection.execute(select(tag.c.value).where(tag.c.kind == "date", tag.c.state != "rejected").distinct()).scalars())


def _beside_each_other(units: Sequence[Unit], same: Mapping[int, tuple[Twin, ...]]) -> tuple[Unit, ...]:
    """The same order, but what several microphones have stands together, where the best of them stood."""
    by_id = {u.id: u for u in units}
    order: dict[int, Unit] = {}
    for unit in units:
        order.setdefault(unit.id, unit)
        for twin in same.get(unit.id, ()):
            if twin.unit_id in by_id:
                order.setdefault(twin.unit_id, by_id[twin.unit_id])
    return tuple(order.values())


def units_under(query: Query, filters: Filters) -> Select[tuple[int]]:
    """Ids of the units that answer this question under these filters, with live consent."""
    team = permitted.visible(find_unit, filters.team, Way.WORDS, filters.on, filters.exhibition, filters.policy)
    wanted = select(find_unit.c.id).where(team, said(query, filters.wording))
    if filters.usable is not None:
        use, way = filters.usable
        wanted = wanted.where(permitted.visible(find_unit, use, way, filters.on, filters.exhibition, filters.policy))
    if filters.place:
        wanted = wanted.where(_lies_in(filters))
    for kind, values in (("decade", (filters.decade,)), ("theme", filters.theme)):
        if any(values):
            tagged = select(unit_tag.c.unit_id).where(unit_tag.c.kind == kind, unit_tag.c.value.in_(values), _seen(filters))
            wanted = wanted.where(find_unit.c.id.in_(tagged))
    if filters.speaker_id is not None:
        heard = select(voicing_person.c.voicing_id).where(voicing_person.c.person_id == filters.speaker_id)
        wanted = wanted.where(find_unit.c.voicing_id.in_(heard))
    return wanted


def _lies_in(filters: Filters) -> ColumnElement[bool]:
    """Units that name one of the places; one that counts for a time only, where a date of that time is told or none at all."""
    def tagged(kind: str, *where: ColumnElement[bool]) -> Select[tuple[int]]:
        return select(unit_tag.c.unit_id).where(unit_tag.c.kind == kind, _seen(filters), *where)

    always = [name for name, dates in filters.place.items() if dates is None]
    found: ColumnElement[bool] = find_unit.c.id.in_(tagged("place", unit_tag.c.value.in_(always)))
    by_dates: dict[tuple[str, ...], list[str]] = {}
    for name, dates in filters.place.items():
        if dates is not None:
            by_dates.setdefault(dates, []).append(name)
    for dates, names in by_dates.items():
        told = tagged("decade", unit_tag.c.tag_id.in_(select(tag.c.id).where(tag.c.kind == "date", tag.c.value.in_(dates))))
        then = or_(find_unit.c.id.in_(told), find_unit.c.id.not_in(tagged("decade")))
        found = or_(found, and_(find_unit.c.id.in_(tagged("place", unit_tag.c.value.in_(names))), then))
    return found


def _seen(filters: Filters) -> ColumnElement[bool]:
    return true() if filters.wording == "full" else unit_tag.c.shown.is_(True)


def said(query: Query, wording: str) -> ColumnElement[bool]:
    """The tree as a condition on find_unit.id."""
    if isinstance(query, Everything):
        return true()
    if isinstance(query, Nothing):
        return false()
    if isinstance(query, Not):
        return not_(said(query.part, wording))
    if isinstance(query, And):
        return and_(*(said(p, wording) for p in query.parts))
    if isinstance(query, Or):
        return or_(*(said(p, wording) for p in query.parts))
    return find_unit.c.id.in_(select(_fts.c.rowid).where(_match(leaf(query, wording))))


def leaf(query: Term | Phrase | Prefix, wording: str) -> str:
    """One FTS5 MATCH expression. Tokens hold letters and digits only, so quoting them is enough."""
    if isinstance(query, Term):
        if query.quoted:
            return f'{wording}_exact : "{query.exact}"'
        return f'{wording}_stem : "{query.stem}"'
    if isinstance(query, Phrase):
        return f'{wording}_exact : "{" ".join(query.exact)}"'
    return f'{wording}_exact : "{query.start}" *'


def _match(expression: str) -> ColumnElement[bool]:
    return literal_column("find_fts").op("MATCH")(expression)


def _ordered(query: Query, filters: Filters, found: Select[tuple[int]], limit: int, offset: int) -> Select[tuple[int, int, int, int]]:
    """Best first where words were asked; else by interview and time."""
    columns = (find_unit.c.id, find_unit.c.recording_id, find_unit.c.start_ms, find_unit.c.end_ms)
    page = (
        select(*columns)
        .join(recording, recording.c.id == find_unit.c.recording_id)
        .outerjoin(interview, interview.c.id == recording.c.interview_id)
        .where(find_unit.c.id.in_(found))
    )
    by_time = (interview.c.code, recording.c.position, recording.c.id, find_unit.c.start_ms)
    words = " OR ".join(f"({e})" for e in _leaves(query, filters.wording))
    if words:
        rank: ColumnElement[float] = literal_column("find_fts.rank")
        ranked = select(_fts.c.rowid.label("id"), rank.label("rank")).where(_match(words)).subquery()
        page = page.outerjoin(ranked, ranked.c.id == find_unit.c.id).order_by(func.coalesce(ranked.c.rank, 0.0), *by_time)
    else:
        page = page.order_by(*by_time)
    return page.limit(limit).offset(offset)


def _leaves(query: Query, wording: str) -> list[str]:
    if isinstance(query, (And, Or)):
        return [e for p in query.parts for e in _leaves(p, wording)]
    return [leaf(query, wording)] if isinstance(query, (Term, Phrase, Prefix)) else []


def _counts(connection: Connection, found: Select[tuple[int]], kind: str, filters: Filters) -> tuple[tuple[str, int], ...]:
    number = func.count(func.distinct(unit_tag.c.unit_id))
    query = (
        select(unit_tag.c.value, number)
        .where(unit_tag.c.kind == kind, unit_tag.c.unit_id.in_(found), _seen(filters))
        .group_by(unit_tag.c.value)
        .order_by(number.desc(), unit_tag.c.value)
    )
    if kind == "decade":
        query = query.order_by(None).order_by(unit_tag.c.value)
    return tuple((str(v), int(n)) for v, n in connection.execute(query))


def _speakers(connection: Connection, found: Select[tuple[int]]) -> tuple[tuple[str, int], ...]:
    """Narrators heard, by code; the gate says how each is called."""
    number = func.count(func.distinct(find_unit.c.id))
    narrators = select(participation.c.person_id).where(participation.c.role == "narrator")
    query = (
        select(person.c.code, number)
        .join(voicing_person, voicing_person.c.person_id == person.c.id)
        .join(find_unit, find_unit.c.voicing_id == voicing_person.c.voicing_id)
        .where(find_unit.c.id.in_(found), person.c.id.in_(narrators))
        .group_by(person.c.code)
        .order_by(person.c.code)
    )
    return tuple((str(v), int(n)) for v, n in connection.execute(query))
