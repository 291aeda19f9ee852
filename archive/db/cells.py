"""Place × decade: what each place has a decade, counted on the columns of Find with the consent of this transaction.

A cell holds exactly the units that Find answers for its place and decade.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from sqlalchemy import Connection, select

from archive.db.columns import Columns, Ints, Rows
from archive.db.search import Filters, Question
from archive.db.tables import participation, voicing_person


@dataclass(frozen=True, slots=True)
class Cell:
    """What one place and decade have: passages, their time, how much of both is usable for the use that was asked, and which narrators."""

    passages: int
    ms: int
    usable: int
    usable_ms: int
    people: frozenset[int]


class Cells:
    """All that may be known today. `filters`: whose wording, which use, on which day. The lock of the columns is held by who asks."""

    def __init__(self, connection: Connection, kept: Columns, filters: Filters) -> None:
        columns = kept.at(connection)
        asking = Question(connection, columns, filters)
        self._asking, self._columns, self._visible, self._usable, self._bit = asking, columns, asking.visible, asking.usable, filters.bits.flag
        self._place_units, self._places = self._seen(columns.tags["place"])
        self._units, self._decades = self._seen(columns.tags["decade"])
        both = np.zeros(columns.length, np.bool_)
        both[self._place_units] = True
        told = both[self._units]
        order = np.argsort(self._units[told], kind="stable")
        self._units, self._decades = self._units[told][order], self._decades[told][order]
        self._first = np.concatenate([[0], np.cumsum(np.bincount(self._units, minlength=columns.length))])  # of each unit's decades
        self._ms = (columns.end_ms - columns.start_ms)[self._units]
        self._names = {code: value for value, code in columns.values["decade"].items()}
        self.decades = tuple(sorted(int(self._names[int(code)]) for code in np.unique(self._decades)))
        self.passages = int(np.count_nonzero(np.bincount(self._units, minlength=1)))
        narrators = select(participation.c.person_id).where(participation.c.role == "narrator")
        heard = select(voicing_person.c.voicing_id, voicing_person.c.person_id).where(voicing_person.c.person_id.in_(narrators))
        self._heard = np.array([tuple(r) for r in connection.execute(heard)], np.int32).reshape(-1, 2)

    def _seen(self, rows: Rows) -> tuple[Ints, Ints]:
        """(unit, code of the value) of the tags that this viewer may know of, of units that they may find."""
        parts = [
            (unit_ids[seen], codes[seen])
            for unit_ids, codes, flags in rows.segments
            for seen in [(flags & self._bit > 0) & self._visible[unit_ids]]
        ]  # fmt: skip
        none = np.empty(0, np.int32)
        return (np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])) if parts else (none, none)

    @property
    def places(self) -> frozenset[str]:
        """Names of the places that are told of."""
        found = set(np.unique(self._places).tolist())
        return frozenset(name for name, code in self._columns.values["place"].items() if code in found)

    def of(self, places: Mapping[str, tuple[str, ...] | None]) -> dict[int, Cell]:
        """decade → its cell, for these places together: a passage that names two of them counts once. name → the dates told with which it
        counts; None: always."""
        codes = self._columns.values["place"]
        wanted = np.zeros(len(codes) + 1, np.bool_)
        wanted[[codes[name] for name, dates in places.items() if dates is None and name in codes]] = True
        there = np.zeros(self._columns.length, np.bool_)
        there[self._place_units[wanted[self._places]]] = True
        for_a_time = {name: dates for name, dates in places.items() if dates is not None}
        if for_a_time:
            there |= self._asking.lies_in(for_a_time) & self._visible
        found = np.flatnonzero(there)
        many_each = self._first[found + 1] - self._first[found]
        mine = np.repeat(self._first[found] - np.cumsum(many_each) + many_each, many_each) + np.arange(int(many_each.sum()))
        units, decades, ms = self._units[mine], self._decades[mine], self._ms[mine]
        usable = self._usable[units]
        many = len(self._names)
        voicings = self._columns.voicing_id[units]
        voiced = np.zeros((many, max(int(voicings.max(initial=0)), int(self._heard[:, 0].max(initial=0))) + 1), np.bool_)
        voiced[decades, voicings] = True
        count, of_usable = np.bincount(decades, minlength=many), np.bincount(decades[usable], minlength=many)
        time, usable_time = np.bincount(decades, ms, many), np.bincount(decades[usable], ms[usable], many)
        return {
            int(name): Cell(
                int(count[code]), int(time[code]), int(of_usable[code]), int(usable_time[code]),
                frozenset(self._heard[voiced[code][self._heard[:, 0]], 1].tolist()),
            )
            for code, name in self._names.items() if count[code]
        }  # fmt: skip
