"""What is found: words, places, time, themes, people, use, with live consent; and the counts beside each of them.

Consent is asked of the database (which voicings are allowed, which units are closed) as often as it or the index moves (db/decided.py); the
words of a question by MATCH. Both come as ids, and meet on the columns of db/columns.py, which are never of consent. A bare NOT is a difference over visible units: FTS5 has no
such thing. Phrases and beginnings are looked for in the exact column, single words in the stemmed one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any

import numpy as np
from sqlalchemy import ColumnElement, Connection, Select, column, func, literal_column, select, table

from archive.db import permitted
from archive.db.columns import KINDS, Bits, Columns, Ints, Mask, ints
from archive.db.heard import Heard, Traits
from archive.db.tables import interview, recording, tag
from archive.db.twins import Twin, twins
from archive.domain.agreements import Policy
from archive.domain.reach import EVERYTHING, Reach
from archive.domain.spans import Span
from archive.domain.values import Use, Way
from archive.rules.questions import And, Field, Near, Not, Nothing, Or, Phrase, Prefix, Query, Term

_fts = table("find_fts", column("rowid"))
MOST_RANKED = 100_000  # passages with the words of a question, of which the best can be told in good time
NOBODY: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Narrowing:
    """What narrows an answer, by the database's own names; what is empty (None) narrows nothing. A field among the words is one of these too."""

    place: Mapping[str, tuple[str, ...] | None] | None = None  # name → the dates told with which it counts; None: always
    decade: str = ""
    theme: tuple[str, ...] | None = None
    told: Span | None = None
    speaker_id: int | None = None
    traits: Traits | None = None
    recordings: frozenset[int] | None = None
    language: str = ""
    state: str = ""
    sound: str = ""

    @property
    def by_facts(self) -> bool:
        """True where it narrows by what is reckoned when a recording is indexed."""
        return bool(self.language or self.state or self.sound)


@dataclass(frozen=True, slots=True)
class Filters:
    """Who asks, when, and what narrows. `wording`: "full" or "shown", by the viewer's role; `usable`: a use, a way and a day, or None;
    `uses`: for which it is counted what of the answer may be used, in the same way and on the same day.

    `named`: who gives their full name; where it is not None, others are found by what they were only as one of several (domain/crowd.py).
    `fields`: what each field among the words comes to. `reach`: how far the account that asks does.
    """

    wording: str
    on: date
    exhibition: str
    policy: Policy
    team: Use
    usable: tuple[Use, Way, date] | None = None
    uses: tuple[Use, ...] = ()
    narrow: Narrowing = Narrowing()
    fields: Mapping[Field, Narrowing] = field(default_factory=dict)
    confirmed: bool = False
    order: str = ""
    named: frozenset[int] | None = None
    reach: Reach = EVERYTHING

    @property
    def bits(self) -> Bits:
        """Which tags count for this viewer and question."""
        return Bits(self.wording == "full", self.confirmed)


@dataclass(frozen=True, slots=True)
class Unit:
    """One find unit that was found."""

    id: int
    recording_id: int
    start_ms: int
    end_ms: int


@dataclass(frozen=True, slots=True)
class Found:
    """Ids in order, how many in all, counts beside the facets, and which of all that was found another microphone has as well.

    `confirmed`: the counts of places, decades and themes that a person confirmed. `order`: how they stand.
    """

    units: tuple[Unit, ...]
    total: int
    facets: dict[str, tuple[tuple[str, int], ...]]
    confirmed: dict[str, tuple[tuple[str, int], ...]]
    order: str
    twins: dict[int, tuple[Twin, ...]]


def find(connection: Connection, query: Query, filters: Filters, limit: int, offset: int, kept: Columns | None = None) -> Found:
    """Answer one question in the caller's read transaction: hits and counts see one state of consent. `kept`: columns of before."""
    columns = kept or Columns()
    with columns.lock:
        return Question(connection, columns.at(connection), filters).answer(query, limit, offset)


def may_be_read(connection: Connection, query: Query, filters: Filters, kept: Columns) -> bool:
    """True where something that this viewer may find has these words, whatever narrows the question."""
    with kept.lock:
        asking = Question(connection, kept.at(connection), filters)
        return bool((asking.words(query) & asking.visible).any())


def not_reckoned(connection: Connection, filters: Filters, kept: Columns) -> int:
    """How many units that this viewer may find were indexed before their state, language and sound were kept, and so are found by none."""
    with kept.lock:
        asking = Question(connection, kept.at(connection), filters)
        return int((asking.visible & (asking.columns.facts["language"] == 0)).sum())


def named_places(connection: Connection, filters: Filters, kept: Columns) -> list[tuple[int, str]]:
    """(unit id, place) of all that these filters leave, without words."""
    with kept.lock:
        asking = Question(connection, kept.at(connection), filters)
        return asking.columns.named("place", asking.left(), filters.bits)


def told_dates(connection: Connection, filters: Filters, kept: Columns) -> list[tuple[int, str]]:
    """(unit id, date as EDTF) of all that these filters leave, without words."""
    with kept.lock:
        asking = Question(connection, kept.at(connection), filters)
        return asking.columns.named("date", asking.left(), filters.bits)


def dates_told(connection: Connection) -> list[str]:
    """Every date (EDTF) that is suggested or confirmed somewhere, once."""
    return list(connection.execute(select(tag.c.value).where(tag.c.kind == "date", tag.c.state != "rejected").distinct()).scalars())


def every(connection: Connection, query: Query, filters: Filters, kept: Columns, told: Span | None = None) -> list[Unit]:
    """All that answers a question, by recording and time, without counts. `told`: of it what has a date that lies within this span."""
    with kept.lock:
        asking = Question(connection, kept.at(connection), filters)
        mask, c = asking.found(query), asking.columns
        if told is not None:
            mask &= c.lies_within(told, filters.bits)
        ids = np.flatnonzero(mask)
        ids = ids[np.lexsort((c.start_ms[ids], c.recording_id[ids]))]
        return [Unit(int(n), int(c.recording_id[n]), int(c.start_ms[n]), int(c.end_ms[n])) for n in ids]


def may_be_leads(
    connection: Connection, query: Query, left_out: Sequence[Query], fields: Sequence[Field], filters: Filters, kept: Columns
) -> Mask:  # fmt: skip
    """The units that this viewer may find under these filters and `fields`, that are no hits of the question and hold nothing of what it
    leaves out: by unit id, decided now."""
    with kept.lock:
        asking = Question(connection, kept.at(connection), filters)
        mask = asking.left() & ~asking.words(query)
        for part in left_out:
            mask &= ~asking.words(part)
        for part in fields:
            mask &= asking.words(part)
        return mask


class Question:
    """One question in one transaction."""

    def __init__(self, connection: Connection, columns: Columns, filters: Filters) -> None:
        self.connection, self.columns, self.filters = connection, columns, filters
        self._decided = columns.decided.at(connection)
        self.visible = self._within(self._allowed(filters.team, Way.WORDS, filters.on))
        self.heard = Heard(connection, columns, self._decided, self.visible, (filters.on, filters.exhibition, filters.policy, filters.reach), filters.named)

    def answer(self, query: Query, limit: int, offset: int) -> Found:
        mask = self.found(query)
        ids = np.flatnonzero(mask).astype(np.int32)
        order, page = self._page(query, ids, offset + limit)
        at = [int(n) for n in page[offset:]]
        c = self.columns
        units = tuple(Unit(n, int(c.recording_id[n]), int(c.start_ms[n]), int(c.end_ms[n])) for n in at)
        same = twins(self.connection, mask, [(u.id, u.recording_id, u.start_ms, u.end_ms) for u in units])
        facets, confirmed = self._counts(mask, ids)
        return Found(_beside_each_other(units, same), len(ids), facets, confirmed, order, same)

    def left(self) -> Mask:
        """The units that all but the words leaves."""
        found = self.visible & self._narrowed(self.filters.narrow)
        return found & self.usable if self.filters.usable is not None else found

    def found(self, query: Query) -> Mask:
        """The units that answer."""
        return self.words(query) & self.left()

    @property
    def usable(self) -> Mask:
        """The units that may be used as was asked; none where no use was."""
        return self._allowed(*self.filters.usable) if self.filters.usable is not None else self.columns.none()

    # -- which units --------------------------------------------------------------------------------------------
    def _allowed(self, use: Use, way: Way, on: date) -> Mask:
        """The units that may be used so, by the consent that this transaction sees. Not to be changed."""
        asked = (use, way, on, self.filters.exhibition, self.filters.policy)

        def decide() -> Mask:
            allowed, closed = (ints(self.connection.execute(ids(*asked)).scalar_one()) for ids in (_allowed_ids, _closed_ids))
            found = self.columns.heard(allowed)
            found[closed] = False
            found.flags.writeable = False
            return found

        return self._decided.once(asked, decide)

    def _within(self, visible: Mask) -> Mask:
        """Of these units those that the account reaches: `permitted.within`, on the columns."""
        reach = self.filters.reach
        if reach.people:
            shut = permitted.shut_voicings(reach.people).subquery()
            visible = visible & ~self.columns.heard(ints(self.connection.execute(select(func.group_concat(shut.c.voicing_id))).scalar()))
        return visible & self.columns.in_recordings(reach.recordings) if reach.recordings is not None else visible

    def _narrowed(self, to: Narrowing) -> Mask:
        c, bits = self.columns, self.filters.bits
        found = c.every()
        if to.place is not None:
            found &= self.lies_in(to.place)
        for kind, values in (("decade", (to.decade,) if to.decade else None), ("theme", to.theme)):
            if values is not None:
                found &= c.tagged(kind, values, bits)
        if to.told is not None:
            found &= c.tells_of(to.told, bits)
        if to.speaker_id is not None:
            found &= c.heard(self.heard.with_person(to.speaker_id))
        if to.traits is not None:
            found &= c.heard(self.heard.with_traits(to.traits))
        if to.recordings is not None:
            found &= c.in_recordings(to.recordings)
        for name, value in (("language", to.language), ("state", to.state), ("sound", to.sound)):
            if value:
                found &= c.is_so(name, value)
        if to.sound:  # how it sounds is told to who may hear it
            found &= self.audible
        return found

    def lies_in(self, places: Mapping[str, tuple[str, ...] | None]) -> Mask:
        """Units that name one of the places; one that counts for a time only, where a date of that time is told or none at all."""
        c, bits = self.columns, self.filters.bits
        found = c.tagged("place", [name for name, dates in places.items() if dates is None], bits)
        by_dates: dict[tuple[str, ...], list[str]] = {}
        for name, dates in places.items():
            if dates is not None:
                by_dates.setdefault(dates, []).append(name)
        for dates, names in by_dates.items():
            found |= c.tagged("place", names, bits) & (c.tells(dates, bits) | ~c.tells(None, bits))
        return found

    @property
    def audible(self) -> Mask:
        """The units whose voice may be heard."""
        return self._allowed(self.filters.team, Way.VOICE, self.filters.on)

    def words(self, query: Query) -> Mask:
        """The tree as a set of units; as much of it as FTS5 can say is one MATCH."""
        c = self.columns
        expression = match_of(query, self.filters.wording)
        if expression:
            return c.of(ints(self.connection.execute(select(func.group_concat(_fts.c.rowid)).where(_match(expression))).scalar()))
        if isinstance(query, Field):
            return self._narrowed(self.filters.fields.get(query, Narrowing(recordings=NOBODY)))
        if isinstance(query, Not):
            return c.every() & ~self.words(query.part)
        if isinstance(query, (And, Or)):
            said = [p for p in query.parts if match_of(p, self.filters.wording)]
            masks = [self.words(type(query)(tuple(said)))] if said else []
            masks += [self.words(p) for p in query.parts if p not in said]
            together: Mask = np.logical_and.reduce(masks) if isinstance(query, And) else np.logical_or.reduce(masks)
            return together
        return c.none() if isinstance(query, Nothing) else c.every()

    # -- in which order -------------------------------------------------------------------------------------------
    def _page(self, query: Query, ids: Ints, many: int) -> tuple[str, Ints]:
        """How the units stand, and so many of the first ones."""
        order = self.filters.order or ("best" if ranked_by(query, self.filters.wording) else "interview")
        if order == "best":
            best = self._best_first(query, ids, many)
            if best is not None:
                return order, best
            order = "newest"
        c = self.columns
        if order == "oldest":
            keys = c.first_told(ids, self.filters.bits)
        elif order == "newest":
            keys = -self._days()[c.recording_id[ids]]
        else:
            keys = self._places()[c.recording_id[ids]]
        if len(ids) > many:  # the first ones alone are put in order
            last = np.partition(keys, many - 1)[many - 1]
            chosen = keys <= last
            ids, keys = ids[chosen], keys[chosen]
        by_time = self._places()[c.recording_id[ids]]
        return order, ids[np.lexsort((ids, c.start_ms[ids], by_time, keys))][:many]

    def _best_first(self, query: Query, ids: Ints, many: int) -> Ints | None:
        """By FTS5's bm25; what none of the ranked words is in comes after. None where too many have the words."""
        expression = ranked_by(query, self.filters.wording)
        if not expression:
            return None
        fitting = select(_fts.c.rowid).where(_match(expression))
        if self.connection.execute(select(func.count()).select_from(fitting.limit(MOST_RANKED + 1).subquery())).scalar_one() > MOST_RANKED:
            return None
        best = fitting.order_by(literal_column("rank")).subquery()
        ranked = ints(self.connection.execute(select(func.group_concat(best.c.rowid))).scalar())
        wanted = self.columns.of(ids)
        ranked = ranked[ranked < self.columns.length]
        ranked = ranked[wanted[ranked]]
        wanted[ranked] = False
        return np.concatenate([ranked, np.flatnonzero(wanted).astype(np.int32)])[:many]

    def _places(self) -> Ints:
        """recording id → its place among all, by interview and part."""
        by = select(recording.c.id).outerjoin(interview, interview.c.id == recording.c.interview_id)
        in_order = by.order_by(interview.c.code.is_(None), interview.c.code, recording.c.position, recording.c.id).subquery()
        ids = ints(self.connection.execute(select(func.group_concat(in_order.c.id))).scalar())
        return _by_id(ids, np.arange(1, len(ids) + 1, dtype=np.int32), self.columns)

    def _days(self) -> Ints:
        """recording id → a number that is greater the later it was made; of those without a date 0."""
        dated = select(recording.c.id).where(recording.c.recorded_on.is_not(None)).order_by(recording.c.recorded_on, recording.c.id).subquery()
        ids = ints(self.connection.execute(select(func.group_concat(dated.c.id))).scalar())
        return _by_id(ids, np.arange(1, len(ids) + 1, dtype=np.int32), self.columns)

    # -- how many --------------------------------------------------------------------------------------------------
    def _counts(self, mask: Mask, ids: Ints) -> tuple[dict[str, tuple[tuple[str, int], ...]], dict[str, tuple[tuple[str, int], ...]]]:
        c, f = self.columns, self.filters
        facets = {kind: _most_first(c.count_tags(kind, mask, f.bits)) for kind in KINDS}
        facets["decade"] = tuple(sorted(facets["decade"]))
        confirmed = facets if f.confirmed else {kind: _most_first(c.count_tags(kind, mask, f.bits._replace(confirmed=True))) for kind in KINDS}
        hits = np.bincount(c.voicing_id[ids], minlength=int(c.voicing_id.max(initial=0)) + 1)
        facets |= self.heard.counts(hits)
        facets |= {name: _most_first(c.count_facts(name, ids)) for name in ("language", "state")}
        facets["sound"] = _most_first(c.count_facts("sound", np.flatnonzero(mask & self.audible).astype(np.int32)))
        facets["usable_for"] = self._usable_for(mask)
        return facets, {kind: confirmed[kind] for kind in KINDS}

    def _usable_for(self, mask: Mask) -> tuple[tuple[str, int], ...]:
        """How many of these units may be put to each use, by code, in the order of the archive's list."""
        _, way, on = self.filters.usable or (self.filters.team, Way.WORDS, self.filters.on)
        counted = ((use.code, int((mask & self._allowed(use, way, on)).sum())) for use in self.filters.uses)
        return tuple((code, number) for code, number in counted if number)


@lru_cache(maxsize=256)
def _allowed_ids(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> Select[tuple[Any]]:
    some = permitted.allowed_voicings(use, way, on, exhibition, policy).subquery()
    return select(func.group_concat(some.c.voicing_id))


@lru_cache(maxsize=256)
def _closed_ids(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> Select[tuple[Any]]:
    some = permitted.closed_units(use, way, on, exhibition, policy).subquery()
    return select(func.group_concat(some.c.id))


def _by_id(ids: Ints, values: Ints, columns: Columns) -> Ints:
    found = np.zeros(max(int(ids.max(initial=0)), int(columns.recording_id.max(initial=0))) + 1, np.int32)
    found[ids] = values
    return found


def _most_first(counted: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(counted.items(), key=lambda pair: (-pair[1], pair[0])))


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


# --- a question as FTS5 says it -----------------------------------------------------------------------------------------


def leaf(query: Term | Phrase | Prefix | Near, wording: str) -> str:
    """One FTS5 MATCH expression. Tokens hold letters and digits only, so quoting them is enough."""
    if isinstance(query, Term):
        if query.quoted:
            return f'{wording}_exact : "{query.exact}"'
        return f'{wording}_stem : "{query.stem}"'
    if isinstance(query, Phrase):
        return f'{wording}_exact : "{" ".join(query.exact)}"'
    if isinstance(query, Near):
        return f'{wording}_stem : NEAR("{" ".join(query.first)}" "{" ".join(query.second)}", {query.apart - 1})'
    return f'{wording}_exact : "{query.start}" *'


def match_of(query: Query, wording: str) -> str:
    """A question as one FTS5 expression; "" where FTS5 cannot say it."""
    if isinstance(query, (Term, Phrase, Prefix, Near)):
        return leaf(query, wording)
    if isinstance(query, Or):
        parts = [match_of(p, wording) for p in query.parts]
        return " OR ".join(f"({p})" for p in parts) if all(parts) else ""
    if isinstance(query, And):
        wanted = [match_of(p, wording) for p in query.parts if not isinstance(p, Not)]
        left_out = [match_of(p.part, wording) for p in query.parts if isinstance(p, Not)]
        if not wanted or not all(wanted) or not all(left_out):
            return ""
        together = " AND ".join(f"({p})" for p in wanted)
        for p in left_out:
            together = f"({together}) NOT ({p})"
        return together
    return ""


def ranked_by(query: Query, wording: str) -> str:
    """The expression that tells which of the units found are the best: all of the words that are wanted; "" where there are none."""
    if isinstance(query, Not):
        return ""
    whole = match_of(query, wording)
    if whole or not isinstance(query, (And, Or)):
        return whole
    parts = [p for p in (ranked_by(p, wording) for p in query.parts) if p]
    return (" AND " if isinstance(query, And) else " OR ").join(f"({p})" for p in parts)


def _match(expression: str) -> ColumnElement[bool]:
    return literal_column("find_fts").op("MATCH")(expression)
