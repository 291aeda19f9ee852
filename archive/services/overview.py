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
from archive.domain.placenames import PlaceEntry
from archive.domain.spans import Span, span_of
from archive.domain.values import Stretch, Viewer
from archive.errors import BadInput, NotFound
from archive.gate.listed import open_events
from archive.gate.places import show_gazetteer
from archive.gate.reading import Readings
from archive.gate.show import show_hits
from archive.gate.show_kept import apart, show_cells, show_passages
from archive.rules.questions import Everything
from archive.services.finding import Finding
from archive.services.grounds import Ground
from archive.services.list_rows import Grid, GridRow, Tellings
from archive.services.narrowing import Narrow
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
            places = _places(readings, viewer)
            ground = Ground(connection)
            around = {p: ground.inside([entry.name]) for p, entry in places.items()}
            with self._finding.columns.lock:
                cells = Cells(connection, self._finding.columns, filters)
                rows, bare = _rows(places, around, cells)
                counted = {p: cells.of(around[p]) for p, _ in rows}
            decades = tuple(range(cells.decades[0], cells.decades[-1] + 10, 10)) if cells.decades else ()
            shown = show_cells(readings, viewer, ({d: counted[p].get(d, NO_CELL) for d in decades} for p, _ in rows))
            label = uses.every_use(connection)[use or EXHIBITION].label
        made = tuple(
            GridRow(p, places[p].name, places[p].kind, depth, row) for (p, depth), row in zip(rows, shown, strict=True)
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
            places = _places(Readings(connection, self._rooms.context()), viewer)
            return Asked(place=_place_named(places, place), decade=str(decade), usable_for=use)

    # -- side by side ------------------------------------------------------------------------------------------
    def choices(self, viewer: Viewer) -> dict[str, tuple[tuple[int, str], ...]]:
        """What can be compared: events of the calendar, with when they were, and places; each by its number."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            events = tuple((r.id, f"{r.name} ({told(r.edtf)})") for r in open_events(readings, viewer, describing.events(connection)))
            places = _places(readings, viewer)
            return {"events": events, "places": tuple((n, p.name) for n, p in sorted(places.items(), key=lambda one: one[1].name))}

    def beside(self, viewer: Viewer, event: int = 0, place: int = 0, decade: str = "") -> Tellings:
        """Passages of different people about one event of the calendar (a date told in it lies within the event's), or one place and
        decade: of each person the one that tells most. Raises NotFound, BadInput."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            places = _places(readings, viewer)
            events = {r.id: r for r in open_events(readings, viewer, describing.events(connection))}
            asked, about, days = self._about(events, places, event, place, decade)
            found = self._finding.every(readings, viewer, asked, days)
            chosen = _of_different_people(readings, viewer, found)
            stretches = [Stretch(u.recording_id, u.start_ms, u.end_ms) for u in chosen]
            hits = show_hits(readings, viewer, [(u.id, s) for u, s in zip(chosen, stretches, strict=True)], Everything(), {})
            passages = show_passages(readings, viewer, stretches, self._rooms.options.doubtful_below)
            compared = _compared(connection, places, hits)
        return Tellings(about, event, place, decade, hits, passages, compared, len(found) - len(hits), asked)

    def beside_called(self, viewer: Viewer, event: str = "", place: str = "", decade: str = "") -> Tellings:
        """The same, with event and place by name. Raises NotFound."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            events = [(r.id, r.name) for r in open_events(readings, viewer, describing.events(connection))]
            places = [(n, p.name) for n, p in _places(readings, viewer).items()]
        return self.beside(viewer, _number(events, event, "event"), _number(places, place, "place"), decade)

    def _about(self, events: Mapping[int, Row[Any]], places: Mapping[int, PlaceEntry], event: int, place: int, decade: str) -> tuple[Asked, str, Span | None]:
        """What is asked of Find, in words, and the days in which a told date has to lie (None: any)."""
        asked, words = Asked(), []
        days: Span | None = None
        if event:
            row = events.get(event)
            if row is None:
                raise NotFound("There is no such event on record.", "Choose one from the list.")
            first, last = bounds(row.edtf)
            days = span_of(f"{(first or last)}/{(last or first)}")  # one that is open at an end counts by the day that is known
            words.append(f"{row.name}, {told(row.edtf)}")
        if place:
            asked = replace(asked, place=_place_named(places, place))
            words.append(asked.place)
        if decade:
            asked = replace(asked, decade=decade)
            words.append(f"{decade.rstrip('s')}s")
        if not event and not (place and decade):
            raise BadInput("It is not told what to compare.", "Choose an event, or a place and a decade.")
        return asked, ", ".join(words), days


NO_CELL = Cell(0, 0, 0, 0, frozenset())


def _places(readings: Readings, viewer: Viewer) -> dict[int, PlaceEntry]:
    """The places whose names this viewer may know, by number."""
    return {entry.number: entry for entry in show_gazetteer(readings, viewer).places}


def _rows(places: Mapping[int, PlaceEntry], around: Mapping[int, Mapping[str, object]], cells: Cells) -> tuple[list[tuple[int, int]], tuple[str, ...]]:
    """(place, depth) in the order in which one lies within another. Where the gazetteer is long, only places that are told of."""
    below: dict[int, list[int]] = {}
    called = {entry.name: p for p, entry in places.items()}
    for place in sorted(places, key=lambda p: places[p].name.casefold()):
        below.setdefault(next((called[w.text] for w in places[place].within if w.text in called), 0), []).append(place)
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
    told_of = [row for row in ordered if not cells.places.isdisjoint(around[row[0]])][:MOST_ROWS]
    rows = {p for p, _ in told_of}
    return told_of, tuple(places[p].name for p, _ in ordered if p not in rows)


def _place_named(places: Mapping[int, PlaceEntry], number: int) -> str:
    if number not in places:
        raise NotFound("There is no such place on record.", "Choose one from the list.")
    return places[number].name


def _number(rows: list[tuple[int, str]], name: str, what: str) -> int:
    if not name:
        return 0
    found = next((n for n, called in rows if called.casefold() == name.strip().casefold()), 0)
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


def _compared(connection: Connection, places: Mapping[int, PlaceEntry], hits: tuple[ShownHit, ...]) -> tuple[Compared, ...]:
    def of(kind: str) -> list[list[str]]:
        return [[t.value for t in hit.tags if t.kind == kind and t.state != "rejected"] for hit in hits]

    themes = describing.themes(connection)
    of_theme = {r.id: r.name for r in themes}
    return (
        compare("date", of("date"), same_time),
        compare("place", of("place"), within({p.name: p.within[0].text if p.within else "" for p in places.values()})),
        compare("theme", of("theme"), within({r.name: of_theme.get(r.broader_id, "") for r in themes})),
    )
