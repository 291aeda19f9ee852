"""Place × decade as integers: what each find unit tells of, kept a recording a row beside `unit_tag` and read in one go.

A join of a million units' tags takes seconds in SQL; these bytes are read and counted in a fraction of one (tests/bench/grid.py). Consent
is in none of it: it is asked live, by voicing and unit.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, Select, delete, insert, select

from archive.db import permitted
from archive.db.search import Filters
from archive.db.tables import find_unit, participation, place, unit_cell, unit_tag, voicing_person
from archive.domain.values import Use, Way

Numbers = NDArray[np.int32]
Marks = NDArray[np.bool_]
COLUMNS = 6  # unit, voicing, ms, decade, place, shown; in the order of unit, decade, place


@dataclass(frozen=True, slots=True)
class Cell:
    """What one place and decade have: passages, their time, how much of both is usable for the use that was asked, and which narrators."""

    passages: int
    ms: int
    usable: int
    usable_ms: int
    people: frozenset[int]


def write(connection: Connection, recording_id: int) -> None:
    """Make these integers anew from the units and tags of a recording. Part of whatever writes those."""
    forget(connection, [recording_id])
    packed = _packed(connection, recording_id)
    if packed:
        connection.execute(insert(unit_cell).values(recording_id=recording_id, cells=packed))


def forget(connection: Connection, recording_ids: Collection[int]) -> None:
    """Leave nothing of these recordings."""
    connection.execute(delete(unit_cell).where(unit_cell.c.recording_id.in_(recording_ids)))


def faults(connection: Connection) -> list[str]:
    """Where they do not agree with the units and tags, in a sentence; empty when all is well."""
    kept = {r.recording_id: r.cells for r in connection.execute(select(unit_cell))}
    with_units = set(connection.execute(select(find_unit.c.recording_id).distinct()).scalars())
    wrong = [r for r in with_units | kept.keys() if kept.get(r, b"") != _packed(connection, r)]
    return ["The grid of places and decades does not agree with its passages."] if wrong else []


def _packed(connection: Connection, recording_id: int) -> bytes:
    # Tags are looked up by unit, whatever their kind: by kind SQLite would walk those of the whole archive.
    query = (
        select(find_unit.c.id, find_unit.c.voicing_id, find_unit.c.end_ms - find_unit.c.start_ms, unit_tag.c.kind, unit_tag.c.value, unit_tag.c.shown)
        .join(unit_tag, unit_tag.c.unit_id == find_unit.c.id)
        .where(find_unit.c.recording_id == recording_id)
    )
    told: dict[tuple[int, int, int], dict[str, dict[str, bool]]] = {}
    for unit_id, voicing_id, ms, kind, value, shown in connection.execute(query):
        if kind in ("place", "decade"):
            values = told.setdefault((unit_id, voicing_id, ms), {"place": {}, "decade": {}})[kind]
            values[value] = values.get(value, False) or shown
    names = {name for values in told.values() for name in values["place"]}
    ids = {r.name: r.id for r in connection.execute(select(place.c.name, place.c.id).where(place.c.name.in_(names)))} if names else {}
    found = sorted(
        (unit_id, int(decade), ids[name], voicing_id, ms, in_decade and at_place)
        for (unit_id, voicing_id, ms), values in told.items()
        for decade, in_decade in values["decade"].items()
        for name, at_place in values["place"].items() if name in ids
    )  # fmt: skip
    return np.array([(u, v, ms, d, p, s) for u, d, p, v, ms, s in found], dtype="<i4").tobytes()


class Cells:
    """All that may be known today about place × decade, with the consent of this transaction. `filters`: its wording, use and day."""

    def __init__(self, connection: Connection, filters: Filters) -> None:
        every = np.frombuffer(b"".join(connection.execute(select(unit_cell.c.cells)).scalars()), dtype="<i4").reshape(-1, COLUMNS)
        unit, voicing = every[:, 0], every[:, 1]
        may = _allowed(connection, filters, filters.team, Way.WORDS, unit, voicing)
        if filters.wording != "full":
            may &= every[:, 5] == 1
        self._cells = every[may]
        self._usable: Marks = np.zeros(len(self._cells), dtype=bool)
        if filters.usable is not None:
            self._usable = _allowed(connection, filters, *filters.usable, unit, voicing)[may]
        self.decades: tuple[int, ...] = tuple(int(d) for d in np.unique(self._cells[:, 3]))
        self.places = frozenset(int(p) for p in np.unique(self._cells[:, 4]))  # by the id of their row
        self.passages = int(len(np.unique(self._cells[:, 0])))
        self._voicings = int(voicing.max(initial=0)) + 1
        heard = select(voicing_person.c.voicing_id, voicing_person.c.person_id).where(
            voicing_person.c.person_id.in_(select(participation.c.person_id).where(participation.c.role == "narrator"))
        )
        pairs = np.array([tuple(r) for r in connection.execute(heard)], dtype=np.int32).reshape(-1, 2)
        self._heard = pairs[pairs[:, 0] < self._voicings]

    def of(self, places: Collection[int]) -> dict[int, Cell]:
        """decade → its cell, for these places together: a passage that names two of them counts once."""
        wanted = np.zeros(int(self._cells[:, 4].max(initial=0)) + 1, dtype=bool)
        wanted[[p for p in places if p < len(wanted)]] = True
        mine = wanted[self._cells[:, 4]]
        cells, usable = self._cells[mine], self._usable[mine]
        if len(places) > 1 and len(cells):  # in the order of unit and decade, so what counts twice stands side by side
            first = np.ones(len(cells), dtype=bool)
            first[1:] = (np.diff(cells[:, 0]) != 0) | (np.diff(cells[:, 3]) != 0)
            cells, usable = cells[first], usable[first]
        column = np.searchsorted(self.decades, cells[:, 3])
        many = len(self.decades)
        count, ms, of_usable, usable_ms = (
            np.bincount(column[some], weights=weights, minlength=many)
            for some in (np.ones(len(cells), dtype=bool), usable) for weights in (None, cells[some, 2])
        )  # fmt: skip
        voiced = np.zeros((many, self._voicings), dtype=bool)
        voiced[column, cells[:, 1]] = True
        return {
            decade: Cell(
                int(count[n]), int(ms[n]), int(of_usable[n]), int(usable_ms[n]),
                frozenset(int(p) for p in self._heard[voiced[n][self._heard[:, 0]], 1]),
            )
            for n, decade in enumerate(self.decades) if count[n]
        }  # fmt: skip


def _allowed(connection: Connection, filters: Filters, use: Use, way: Way, unit: Numbers, voicing: Numbers) -> Marks:
    """Which of the cells are allowed for a use today: their voicing is, and no restraint on a stretch closes their unit."""
    asked = (use, way, filters.on, filters.exhibition, filters.policy)
    found: Marks = _table(connection, permitted.allowed_voicings(*asked), voicing)[voicing]
    found &= ~_table(connection, permitted.closed_units(*asked), unit)[unit]
    return found


def _table(connection: Connection, ids: Select[Any], among: Numbers) -> Marks:
    """id → whether it is one of these, for every id up to the largest of those looked at."""
    marks = np.zeros(int(among.max(initial=0)) + 1, dtype=bool)
    found = np.fromiter(connection.execute(ids).scalars(), dtype=np.int64)
    marks[found[found < len(marks)]] = True
    return marks
