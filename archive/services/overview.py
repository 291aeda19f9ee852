"""What the archive has: place × decade with how much testimony, and tellings of different people side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from archive.db import describing, search, units, uses
from archive.db.cells import Cell, Cells
from archive.db.session import Connection, Row
from archive.domain.beside import Compared, compare, same_time, within
from archive.domain.cleared import ShownCell, ShownHit
from archive.domain.dates import bounds
from archive.domain.phrases import told
from archive.domain.spans import Span, span_of
from archive.domain.values import Stretch, Viewer
from archive.errors import BadInput, NotFound
from archive.gate.reading import Readings
from archive.gate.show import show_hits
from archive.gate.show_kept import apart, show_cells, show_passages
from archive.rules.questions import Everything
from archive.services.finding import Finding
from archive.services.list_rows import Grid, PlaceRow, Tellings
from archive.services.narrowing import Ground, Narrow
from archive.services.rooms import EVERYBODY, Rooms, need
from archive.services.rows import Asked

MOST_ROWS, MOST_SIDES = 80, 6
EXHIBITION = "exhibition"


class Overview:
    """The grid and the comparison of one archive."""

    def __init__(self, rooms: Rooms, finding: Finding) -> None:
        self._rooms, self._finding = rooms, finding

    # -- place × decade ----------------------------------------------------------------------------------------
    def grid(self, viewer: Viewer, use: str = EXHIBITION) -> Grid:
        """How much testimony each place and decade have, counted over what this viewer may know today: each cell has exactly what Find
        answers for its place (with what lies within) and its decade. `use`: usable for what, as words."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            filters = Narrow(self._rooms, readings, viewer).filters(Asked(usable_for=use or EXHIBITION), Everything())
            places = {r.id: r for r in describing.places(connection)}
            ground = Ground(places.values())
            around = {p: frozenset(str(places[n].name) for n in ground.of([p])) for p in places}
            with self._finding.columns.lock:
                cells = Cells(connection, self._finding.columns, filters)
                rows, bare = _rows(places, around, cells)
                counted = {p: cells.of(around[p]) for p, _ in rows}
            decades = tuple(range(cells.decades[0], cells.decades[-1] + 10, 10)) if cells.decades else ()
            shown = show_cells(readings, viewer, ({d: counted[p].get(d, NO_CELL) for d in decades} for p, _ in rows))
            label = uses.every_use(connection)[use or EXHIBITION].label
        made = tuple(
            PlaceRow(p, places[p].name, places[p].kind, depth, row) for (p, depth), row in zip(rows, shown, strict=True)
        )
        every: list[ShownCell] = [c for row in made for c in row.cells]
        return Grid(
            decades, made, use or EXHIBITION, label, cells.passages, max((c.ms for c in every), default=0),
            sum(not c.passages for c in every), bare,
        )  # fmt: skip

    def asked_of(self, viewer: Viewer, place: int, decade: int, use: str = "") -> Asked:
        """The question of Find that a cell of the grid stands for. Raises NotFound."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            return Asked(place=_named(describing.places(connection), place, "place").name, decade=str(decade), usable_for=use)

    # -- side by side ------------------------------------------------------------------------------------------
    def choices(self, viewer: Viewer) -> dict[str, tuple[tuple[int, str], ...]]:
        """What can be compared: events of the calendar, with when they were, and places; each by its number."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            events = tuple((r.id, f"{r.name} ({told(r.edtf)})") for r in describing.events(connection))
            return {"events": events, "places": tuple((r.id, r.name) for r in describing.places(connection))}

    def beside(self, viewer: Viewer, event: int = 0, place: int = 0, decade: str = "") -> Tellings:
        """Passages of different people about one event of the calendar (a date told in it lies within the event's), or one place and
        decade: of each person the one that tells most. Raises NotFound, BadInput."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            asked, about, days = self._about(connection, event, place, decade)
            readings = Readings(connection, self._rooms.context())
            found = self._finding.every(readings, viewer, asked, days)
            chosen = _of_different_people(readings, viewer, found)
            stretches = [Stretch(u.recording_id, u.start_ms, u.end_ms) for u in chosen]
            hits = show_hits(readings, viewer, [(u.id, s) for u, s in zip(chosen, stretches, strict=True)], Everything(), {})
            passages = show_passages(readings, viewer, stretches, self._rooms.options.doubtful_below)
            compared = _compared(connection, hits)
        return Tellings(about, event, place, decade, hits, passages, compared, len(found) - len(hits), asked)

    def beside_called(self, viewer: Viewer, event: str = "", place: str = "", decade: str = "") -> Tellings:
        """The same, with event and place by name. Raises NotFound."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            events, places = describing.events(connection), describing.places(connection)
        return self.beside(viewer, _number(events, event, "event"), _number(places, place, "place"), decade)

    def _about(self, connection: Connection, event: int, place: int, decade: str) -> tuple[Asked, str, Span | None]:
        """What is asked of Find, in words, and the days in which a told date has to lie (None: any)."""
        asked, words = Asked(), []
        days: Span | None = None
        if event:
            row = _named(describing.events(connection), event, "event")
            first, last = bounds(row.edtf)
            days = span_of(f"{(first or last)}/{(last or first)}")  # one that is open at an end counts by the day that is known
            words.append(f"{row.name}, {told(row.edtf)}")
        if place:
            asked = replace(asked, place=_named(describing.places(connection), place, "place").name)
            words.append(asked.place)
        if decade:
            asked = replace(asked, decade=decade)
            words.append(f"{decade.rstrip('s')}s")
        if not event and not (place and decade):
            raise BadInput("It is not told what to compare.", "Choose an event, or a place and a decade.")
        return asked, ", ".join(words), days


NO_CELL = Cell(0, 0, 0, 0, frozenset())


def _rows(places: Mapping[int, Row[Any]], around: Mapping[int, frozenset[str]], cells: Cells) -> tuple[list[tuple[int, int]], tuple[str, ...]]:
    """(place, depth) in the order in which one lies within another. Where the gazetteer is long, only places that are told of."""
    below: dict[int, list[int]] = {}
    for place in sorted(places, key=lambda p: str(places[p].name).casefold()):
        below.setdefault(places[place].within_id or 0, []).append(place)
    ordered: list[tuple[int, int]] = []
    seen: set[int] = set()
    waiting = [(p, 0) for p in reversed(below.get(0, []))]
    while waiting:
        place, depth = waiting.pop()
        if place not in seen:
            seen.add(place)
            ordered.append((place, depth))
            waiting += [(p, depth + 1) for p in reversed(below.get(place, []))]
    ordered += [(p, 0) for p in sorted(places.keys() - seen)]  # places within one another in a ring: none is lost
    if len(ordered) <= MOST_ROWS:
        return ordered, ()
    told_of = [row for row in ordered if around[row[0]] & cells.places][:MOST_ROWS]
    rows = {p for p, _ in told_of}
    return told_of, tuple(str(places[p].name) for p, _ in ordered if p not in rows)


def _named(rows: list[Row[Any]], number: int, what: str) -> Row[Any]:
    found = next((r for r in rows if r.id == number), None)
    if found is None:
        raise NotFound(f"There is no such {what} on record.", "Choose one from the list.")
    return found


def _number(rows: list[Row[Any]], name: str, what: str) -> int:
    if not name:
        return 0
    found = next((int(r.id) for r in rows if r.name.casefold() == name.strip().casefold()), 0)
    if not found:
        raise NotFound(f"There is no such {what} on record.", "Write it as it stands in the sheet.")
    return found


def _of_different_people(readings: Readings, viewer: Viewer, found: list[search.Unit]) -> list[search.Unit]:
    """Of each person the unit with the most tags; nobody in two of them, as far as this viewer may tell people apart."""
    heard = units.narrators_of(readings.connection, [u.id for u in found])
    many = units.count_tags(readings.connection, [u.id for u in found])
    with_somebody = sorted((u for u in found if heard.get(u.id)), key=lambda u: (-many.get(u.id, 0), u.id))
    people = apart(readings, viewer, (heard[u.id] for u in with_somebody))
    chosen: list[search.Unit] = []
    taken: set[int] = set()
    for unit, who in zip(with_somebody, people, strict=True):
        if len(chosen) < MOST_SIDES and not who & taken:
            chosen.append(unit)
            taken |= who
    return chosen


def _compared(connection: Connection, hits: tuple[ShownHit, ...]) -> tuple[Compared, ...]:
    def of(kind: str) -> list[list[str]]:
        return [[t.value for t in hit.tags if t.kind == kind and t.state != "rejected"] for hit in hits]

    places, themes = describing.places(connection), describing.themes(connection)
    of_place, of_theme = {r.id: r.name for r in places}, {r.id: r.name for r in themes}
    return (
        compare("date", of("date"), same_time),
        compare("place", of("place"), within({r.name: of_place.get(r.within_id, "") for r in places})),
        compare("theme", of("theme"), within({r.name: of_theme.get(r.broader_id, "") for r in themes})),
    )
