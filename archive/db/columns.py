"""Columns of whole numbers over the find units, kept between questions: facets are counted on them.

They carry the revision of the index (`units.index_revision`): a question reads what was written since, a recording at a time. Arrays run
by unit id, so that a set of units is an array of true and false (SEARCH.md, traps: ids to numpy, counts on cached columns).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import lru_cache
from threading import RLock
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from sqlalchemy import BindParameter, ColumnElement, Connection, Select, and_, bindparam, case, func, literal, select

from archive.db import units
from archive.db.decided import Kept
from archive.db.tables import find_unit, tag, unit_tag
from archive.domain.spans import Span, span_of

Ints = npt.NDArray[np.int32]
Mask = npt.NDArray[np.bool_]
KINDS = ("place", "decade", "theme")
FACTS = ("state", "language", "sound")
_MOST_SEGMENTS = 24
_STRETCH = ("voicing_id", "recording_id", "start_ms", "end_ms")


def ints(joined: str | None) -> Ints:
    """Whole numbers that SQL joined by commas into one value."""
    return np.fromstring(joined, np.int32, sep=",") if joined else np.empty(0, np.int32)


class Rows:
    """Rows (unit, numbers …, flags) in segments sorted by unit. What is forgotten keeps its place without a flag."""

    def __init__(self) -> None:
        self.segments: list[tuple[Ints, ...]] = []

    def add(self, columns: Sequence[Ints]) -> None:
        """Add rows of units that have none here."""
        if not len(columns[0]):
            return
        order = np.argsort(columns[0], kind="stable")
        self.segments.append(tuple(np.ascontiguousarray(c[order]) for c in columns))
        if len(self.segments) > _MOST_SEGMENTS:
            small = self.segments[1:]
            self.segments[1:] = []
            self.add([np.concatenate([s[n] for s in small]) for n in range(len(columns))])

    def forget(self, unit_ids: Ints) -> None:
        """Drop every row of these units."""
        for segment in self.segments:
            first, last = (np.searchsorted(segment[0], unit_ids, side) for side in ("left", "right"))
            for a, b in zip(first, last, strict=True):
                segment[-1][a:b] = 0


class Bits(NamedTuple):
    """What a viewer may know of a tag, and whether only confirmed ones are asked for, as one flag of a row."""

    full: bool
    confirmed: bool

    @property
    def flag(self) -> int:
        """Its bit in the flags of a row."""
        return 1 << (2 * self.confirmed + (not self.full))


class Columns:
    """The columns of one archive. `lock` is held while they are read: a question that comes later may bring them up to date. `decided`: what
    consent came to, which is no column and has its own revisions."""

    def __init__(self) -> None:
        self.lock = RLock()
        self.decided = Kept()
        self._revision = -1

    def at(self, connection: Connection) -> Columns:
        """These columns as this transaction sees the index. One that began before the last question gets its own, read whole."""
        now = units.index_revision(connection)
        if now < self._revision:
            return Columns().at(connection)
        if self._revision < 0:
            self._empty()
            self._read(connection, None)
        elif now > self._revision:
            changed = units.indexed_since(connection, self._revision)
            gone = np.flatnonzero(np.isin(self.recording_id, changed)).astype(np.int32)
            for name in _STRETCH:
                getattr(self, name)[gone] = 0
            for rows in (*self.tags.values(), self.told):
                rows.forget(gone)
            self._read(connection, changed)
        self._revision = now
        return self

    def _empty(self) -> None:
        self.voicing_id = self.recording_id = self.start_ms = self.end_ms = np.zeros(1, np.int32)
        self.facts = {name: np.zeros(1, np.int16) for name in FACTS}
        self.values: dict[str, dict[str, int]] = {name: {"": 0} for name in FACTS} | {kind: {} for kind in (*KINDS, "date")}
        self.tags = {kind: Rows() for kind in KINDS}
        self.told = Rows()

    def _read(self, connection: Connection, recordings: Collection[int] | None) -> None:
        """Read the units of these recordings (None: of all) into rows that are empty."""
        self._read_units(connection, recordings)
        for kind in KINDS:
            self._read_tags(connection, kind, recordings)
        self._read_told(connection, recordings)

    def _read_units(self, connection: Connection, recordings: Collection[int] | None) -> None:
        some = {"recordings": list(recordings)} if recordings is not None else {}
        ids, *stretch = map(ints, connection.execute(_stretches(recordings is None), some).one())
        self._grow(int(ids.max(initial=0)) + 1)
        for name, column in zip(_STRETCH, stretch, strict=True):
            getattr(self, name)[ids] = column
        for name in FACTS:
            self.facts[name][ids] = 0
            for value, those in connection.execute(_values(name, recordings is None), some):
                self.facts[name][ints(those)] = self._code(name, value)

    def _grow(self, length: int) -> None:
        have = len(self.voicing_id)
        if length <= have:
            return
        more = length + length // 8 - have
        for name in _STRETCH:
            setattr(self, name, np.concatenate([getattr(self, name), np.zeros(more, np.int32)]))
        self.facts = {name: np.concatenate([old, np.zeros(more, np.int16)]) for name, old in self.facts.items()}

    def _read_tags(self, connection: Connection, kind: str, recordings: Collection[int] | None) -> None:
        parts = []
        for value, ids, flags in _flagged(connection, kind, recordings, by_date=False):
            parts.append((ids, np.full(len(ids), self._code(kind, value), np.int32), flags))
        self.tags[kind].add(_joined(parts, 3))

    def _read_told(self, connection: Connection, recordings: Collection[int] | None) -> None:
        """When it is told of, a row a unit and date: its code, first and last day."""
        parts = []
        for edtf, ids, flags in _flagged(connection, "decade", recordings, by_date=True):
            span = span_of(edtf)
            code = self._code("date", edtf)
            parts.append((ids, *(np.full(len(ids), n, np.int32) for n in (code, span.first, span.last)), flags))
        self.told.add(_joined(parts, 5))

    def _code(self, name: str, value: str) -> int:
        known = self.values[name]
        return known.setdefault(value, len(known))

    # -- sets of units, and counts of them --------------------------------------------------------------------------
    @property
    def length(self) -> int:
        """One more than the greatest unit id there is room for."""
        return len(self.voicing_id)

    def none(self) -> Mask:
        """No unit."""
        return np.zeros(self.length, np.bool_)

    def every(self) -> Mask:
        """All units there are."""
        return self.voicing_id > 0

    def of(self, unit_ids: Ints) -> Mask:
        """These units."""
        found = self.none()
        found[unit_ids[unit_ids < self.length]] = True
        return found

    def heard(self, voicing_ids: Ints) -> Mask:
        """The units in which exactly one of these voicings is heard."""
        allowed = np.zeros(max(int(self.voicing_id.max(initial=0)), int(voicing_ids.max(initial=0))) + 1, np.bool_)
        allowed[voicing_ids] = True
        allowed[0] = False
        return allowed[self.voicing_id]

    def in_recordings(self, recording_ids: Iterable[int]) -> Mask:
        """The units of these recordings."""
        return np.isin(self.recording_id, np.array(sorted(recording_ids), np.int32)) & self.every()

    def is_so(self, name: str, value: str) -> Mask:
        """The units of which a fact is this."""
        code = self.values[name].get(value)
        return self.none() if not code else self.facts[name] == code

    def tagged(self, kind: str, values: Iterable[str], bits: Bits) -> Mask:
        """The units with a tag of one of these values."""
        wanted = np.zeros(len(self.values[kind]) + 1, np.bool_)
        wanted[[self.values[kind][v] for v in values if v in self.values[kind]]] = True
        found = self.none()
        for unit_ids, codes, flags in self.tags[kind].segments:
            found[unit_ids[wanted[codes] & (flags & bits.flag > 0)]] = True
        return found

    def tells_of(self, span: Span, bits: Bits) -> Mask:
        """The units with a date that may lie in this span."""
        found = self.none()
        for unit_ids, _, first, last, flags in self.told.segments:
            found[unit_ids[(first <= span.last) & (last >= span.first) & (flags & bits.flag > 0)]] = True
        return found

    def tells(self, dates: Iterable[str] | None, bits: Bits) -> Mask:
        """The units with one of these dates (EDTF); None: with any."""
        wanted = np.zeros(len(self.values["date"]) + 1, np.bool_)
        wanted[[self.values["date"][d] for d in (self.values["date"] if dates is None else dates) if d in self.values["date"]]] = True
        found = self.none()
        for unit_ids, codes, _, _, flags in self.told.segments:
            found[unit_ids[wanted[codes] & (flags & bits.flag > 0)]] = True
        return found

    def named(self, kind: str, mask: Mask, bits: Bits) -> list[tuple[int, str]]:
        """(unit id, value) of these units: places, decades or themes, or dates as EDTF."""
        values = list(self.values[kind])
        found: list[tuple[int, str]] = []
        for unit_ids, codes, *_, flags in (self.told if kind == "date" else self.tags[kind]).segments:
            some = mask[unit_ids] & (flags & bits.flag > 0)
            found += [(int(u), values[n]) for u, n in zip(unit_ids[some], codes[some], strict=True)]
        return found

    def lies_within(self, span: Span, bits: Bits) -> Mask:
        """The units with a date all of which lies in this span."""
        found = self.none()
        for unit_ids, _, first, last, flags in self.told.segments:
            found[unit_ids[(first >= span.first) & (last <= span.last) & (flags & bits.flag > 0)]] = True
        return found

    def first_told(self, unit_ids: Ints, bits: Bits) -> Ints:
        """The first day that each of these units tells of, as an ordinal; of those that tell of none the greatest number."""
        days = np.full(self.length, np.iinfo(np.int32).max, np.int32)
        for ids, _, first, last, flags in self.told.segments:
            some = flags & bits.flag > 0
            begins = np.where(first > 1, first, last)  # an open start says only when it ended
            np.minimum.at(days, ids[some], begins[some])
        return days[unit_ids]

    def count_tags(self, kind: str, mask: Mask, bits: Bits) -> dict[str, int]:
        """value → how many of these units have it."""
        total = np.zeros(len(self.values[kind]), np.int64)
        for unit_ids, codes, flags in self.tags[kind].segments:
            total += np.bincount(codes[mask[unit_ids] & (flags & bits.flag > 0)], minlength=len(total))
        return {value: int(total[code]) for value, code in self.values[kind].items() if total[code]}

    def count_facts(self, name: str, unit_ids: Ints) -> dict[str, int]:
        """value → of how many of these units it is so."""
        total = np.bincount(self.facts[name][unit_ids], minlength=len(self.values[name]))
        return {value: int(total[code]) for value, code in self.values[name].items() if value and total[code]}


# The statements are built once: for one recording, building them costs more than running them.
_SOME: BindParameter[Any] = bindparam("recordings", expanding=True)


@lru_cache(maxsize=2)
def _stretches(of_all: bool) -> Select[Any]:
    query = select(*(func.group_concat(c) for c in (find_unit.c.id, *(find_unit.c[name] for name in _STRETCH)))).select_from(find_unit)
    return query if of_all else query.where(find_unit.c.recording_id.in_(_SOME))


@lru_cache(maxsize=2 * len(FACTS))
def _values(name: str, of_all: bool) -> Select[Any]:
    """Each value of a fact with the units of which it is so."""
    fact = find_unit.c[name]
    query = select(fact, func.group_concat(find_unit.c.id)).where(fact != "").group_by(fact)
    return query if of_all else query.where(find_unit.c.recording_id.in_(_SOME))


def _flagged(connection: Connection, kind: str, recordings: Collection[int] | None, by_date: bool) -> Iterator[tuple[str, Ints, Ints]]:
    """(value, units that have it, the flags of each), each value once; `by_date`: the dates themselves instead of their decades."""
    some = {"recordings": list(recordings)} if recordings is not None else {}
    for row in connection.execute(_flags(kind, recordings is None, by_date), some):
        yield str(row[0]), ints(row[1]), ints(row[2])


@lru_cache(maxsize=4 * len(KINDS))
def _flags(kind: str, of_all: bool, by_date: bool) -> Select[Any]:
    value = tag.c.value if by_date else unit_tag.c.value
    flags = [func.max(_flag(n)) for n in range(4)]
    one = (
        select(unit_tag.c.unit_id, value.label("value"), (flags[0] + flags[1] + flags[2] + flags[3]).label("flags"))
        .join_from(unit_tag, tag, tag.c.id == unit_tag.c.tag_id)
        .where(unit_tag.c.kind == kind)
        .group_by(unit_tag.c.unit_id, value)
    )
    if not of_all:
        one = one.where(unit_tag.c.unit_id.in_(select(find_unit.c.id).where(find_unit.c.recording_id.in_(_SOME))))
    each = one.subquery()
    return select(each.c.value, func.group_concat(each.c.unit_id), func.group_concat(each.c.flags)).group_by(each.c.value)


def _flag(n: int) -> ColumnElement[int]:
    """The bit n of a tag of a unit (`Bits`): for who reads all, for everybody, and both where a person confirmed it."""
    needs = [*([unit_tag.c.shown.is_(True)] if n % 2 else []), *([tag.c.state == "confirmed"] if n >= 2 else [])]
    return case((and_(*needs), 1 << n), else_=0) if needs else literal(1)


def _joined(parts: Sequence[tuple[Ints, ...]], width: int) -> list[Ints]:
    return [np.concatenate([p[n] for p in parts]) if parts else np.empty(0, np.int32) for n in range(width)]
