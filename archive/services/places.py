"""The gazetteer: read from a sheet or a file of another one, corrected by hand, looked at, written out; and mis-hearings of it to decide."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from archive.db import audit, describing, gazetteer
from archive.db.gazetteer import ALSO, HEARD, NOT
from archive.db.session import Connection
from archive.domain.cleared import ShownFound, ShownMisheard
from archive.domain.placenames import COLUMNS, Named, PlaceEntry
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound, ScanRefused, SheetError
from archive.gate.indexing import index_tags
from archive.gate.places import (
    Withheld,
    clear_gazetteer,
    entries,
    forbidden_in_gazetteer,
    show_gazetteer,
    show_misheard,
)
from archive.gate.reading import Readings
from archive.gate.scan import matcher_for, scan_with
from archive.render.gazetteer import FORMS, OWN_WORDINGS
from archive.rules.place_files import read_features
from archive.rules.place_sounds import SOUNDS_LIKE
from archive.rules.places import parts_of
from archive.services.finding import Finding
from archive.services.place_rows import cleaned, no_circles, odd_points, others, read_row, says
from archive.services.rooms import EDITORS, EVERYBODY, Rooms, need
from archive.services.rows import Asked
from archive.services.sheets import MAX_BYTES, Listed, Row, Sheet, Typed

SHOWN = 50


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A place and how many passages that this viewer may read name it or what lies within it."""

    place: PlaceEntry
    passages: int


@dataclass(frozen=True, slots=True)
class PlacesPage:
    """The gazetteer as this viewer may know it. `notes`: what seems wrong with it; `misheard`: how many mis-hearings wait."""

    rows: tuple[PlaceRow, ...]
    notes: tuple[str, ...]
    misheard: int


@dataclass(frozen=True, slots=True)
class PlacePage:
    """One place. `inside`: what lies within it, with the time for which it did ("" always); `found`: passages of which it is said."""

    place: PlaceEntry
    inside: tuple[Named, ...]
    found: ShownFound


@dataclass(frozen=True, slots=True)
class PlacesRead:
    """What became of a file of places. `notes`: what was taken as it stands but looks wrong, or could not be kept."""

    rows: int
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MisheardGroup:
    """The same words, wherever they may be a mis-hearing of one place."""

    number: int
    place: str
    said: str
    why: str
    at: tuple[ShownMisheard, ...]


class Places:
    """The gazetteer of one archive."""

    def __init__(self, rooms: Rooms, finding: Finding) -> None:
        self._rooms, self._finding = rooms, finding

    # -- looking -------------------------------------------------------------------------------------------------
    def page(self, viewer: Viewer) -> PlacesPage:
        """Every place that this viewer may know of, by name, with what they may find there."""
        need(viewer, *EVERYBODY)
        counts = self._finding.per_place(viewer)
        with self._rooms.db.read() as connection:
            shown = show_gazetteer(Readings(connection, self._rooms.context()), viewer)
        rows = tuple(PlaceRow(p, counts.get(p.name, 0)) for p in sorted(shown.places, key=lambda p: p.name.casefold()))
        if viewer.role not in EDITORS:
            return PlacesPage(rows, (), 0)
        return PlacesPage(rows, tuple(words for _, words in odd_points(shown.places)), len(self.misheard(viewer)))

    def one(self, viewer: Viewer, number: int) -> PlacePage:
        """A place by its number, and the passages that name it. Raises NotFound."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            shown = show_gazetteer(Readings(connection, self._rooms.context()), viewer).places
        place = next((p for p in shown if p.number == number), None)
        if place is None:
            raise NotFound("There is no such place in the gazetteer.", "See the list of places.")
        inside = tuple(Named(p.name, w.edtf) for p in shown for w in p.within if w.text == place.name)
        return PlacePage(place, inside, self._finding.ask(viewer, Asked(place=place.name), limit=SHOWN))

    def called(self, viewer: Viewer, name: str) -> PlacePage:
        """The same by one of its names. Raises NotFound, and BadInput where several bear it."""
        wanted = name.strip().casefold()
        places = [r.place for r in self.page(viewer).rows]
        found = [p for p in places if p.name.casefold() == wanted] or [
            p for p in places if wanted in {t.casefold() for t in (*(n.text for n in p.also), *p.heard_as)}
        ]
        if not found:
            raise NotFound("There is no such place in the gazetteer.", "See the list of places: toldhere places list")
        if len(found) > 1:
            raise BadInput("Several places are called so.", "Write the name under which it stands in the list of places.")
        return self.one(viewer, found[0].number)

    # -- writing -------------------------------------------------------------------------------------------------
    def read(self, viewer: Viewer, path: Path) -> PlacesRead:
        """Read a gazetteer from places.csv, GeoJSON or Linked Places: all of it or nothing. Places that are on record are corrected, none is
        taken out. Raises SheetError with every fault."""
        need(viewer, *EDITORS)
        if path.suffix.lower() not in (".json", ".geojson", ".jsonld"):
            return self._take(viewer, Sheet(path, ("name", "kind", "within"), key=("name",)), ())
        try:
            if path.stat().st_size > MAX_BYTES:
                raise SheetError(f"{path.name} is too large for a gazetteer.")
            features = read_features(path.read_bytes().decode("utf-8-sig"))
        except OSError:
            raise SheetError(f"{path.name} cannot be opened.", (), "Check the name and try again.") from None
        except UnicodeDecodeError:
            raise SheetError(f"{path.name} is not in UTF-8.", (), "Export it again as UTF-8. Nothing was taken.") from None
        except BadInput as error:
            raise SheetError(f"{path.name}: {error.message}", (), error.remedy) from None
        sheet = Sheet(Listed(path.name, "place", *features.rows), (), key=("name",))
        for number, words in features.faults:
            sheet.fault(number + 1, words)
        return self._take(viewer, sheet, features.notes)

    def read_sent(self, viewer: Viewer, name: str, data: bytes) -> PlacesRead:
        """The same from a file that came by the page, under the name it has there."""
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / (Path(name.replace("\\", "/")).name[-80:] or "places.csv")
            path.write_bytes(data)
            return self.read(viewer, path)

    def write(self, viewer: Viewer, typed: Mapping[str, str], number: int | None = None) -> PlacesRead:
        """Add one place that somebody typed, with the columns of the sheet; or correct the place with this number, its name too.
        Raises SheetError, NotFound."""
        need(viewer, *EDITORS)
        return self._take(viewer, Sheet(Typed({c: typed.get(c, "") for c in COLUMNS}), (), key=("name",)), (), number)

    def _take(self, viewer: Viewer, sheet: Sheet, notes: Sequence[str], number: int | None = None) -> PlacesRead:
        by_hand = isinstance(sheet.path, Typed) and not isinstance(sheet.path, Listed)
        with self._rooms.db.write() as connection:  # rolled back whole where there is a fault
            rows = [cleaned(row) for row in sheet]
            wanted = [(row, read_row(row)) for row in rows]
            now = self._rooms.now()
            by = viewer.name if by_hand else ""
            if number is not None:
                self._rename(connection, number, wanted[0][1].name, wanted[0][0])
            withheld = Withheld(Readings(connection, self._rooms.context()))
            old = gazetteer.other_names(connection)
            ids = {r.name: r.id for r in gazetteer.places(connection)}
            for row, place in wanted:
                keep = [] if by_hand else [o.text for o in old.get(ids.get(place.name, 0), ()) if not says(row, _COLUMN[o.kind]) or o.text in withheld]
                ids[place.name] = gazetteer.write_place(connection, place.name, others(place), keep, by, now if by else "", **_values(row, place))
            for row, place in wanted:
                unknown = [n for n in (*(w.text for w in place.within), place.same_as) if n and n not in ids]
                for name in dict.fromkeys(unknown):
                    row.fault(f"“{name}” is no place on record. Add a row for it.")
                if not unknown:
                    if says(row, "within"):
                        gazetteer.write_within(connection, ids[place.name], [(ids[w.text], w.edtf) for w in place.within])
                    if says(row, "same_as"):
                        gazetteer.write_same(connection, ids[place.name], ids.get(place.same_as))
            every = entries(connection)
            no_circles(wanted, every)
            sheet.done()
            audit.record(connection, viewer.name, "place written" if by_hand else "places read", "gazetteer", now, rows=len(rows))
            names = {place.name for _, place in wanted}
            return PlacesRead(len(rows), (*notes, *(n for p, n in odd_points(every) if p in names)))

    def _rename(self, connection: Connection, number: int, name: str, row: Row) -> None:
        place = gazetteer.by_id(connection, number)
        if place is None:
            raise NotFound("There is no such place in the gazetteer.", "See the list of places.")
        if name == place.name or not name:
            return
        if any(r.name == name for r in gazetteer.places(connection)):
            row.fault(f"“{name}” is another place on record. Correct that one, or take this one out.")
            return
        for recording_id in gazetteer.rename_place(connection, number, name):
            index_tags(connection, recording_id, self._rooms.context())

    def drop(self, viewer: Viewer, number: int) -> None:
        """Take a place out. Raises NotFound, and Clash where somebody confirmed that it is spoken of."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            place = gazetteer.by_id(connection, number)
            if place is None:
                raise NotFound("There is no such place in the gazetteer.", "See the list of places.")
            if gazetteer.number_of_tags(connection, place.name, "confirmed"):
                raise Clash("Somebody confirmed that passages speak of this place.", "Correct it, or take these decisions back on the recordings' pages first.")
            for recording_id in gazetteer.drop_place(connection, number):
                index_tags(connection, recording_id, self._rooms.context())
            audit.record(connection, viewer.name, "place taken out", f"place {number}", self._rooms.now())

    # -- mis-hearings ----------------------------------------------------------------------------------------------
    def misheard(self, viewer: Viewer) -> tuple[MisheardGroup, ...]:
        """What sounds like a place and waits for somebody to say whether it is, as far as this viewer may read it."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return self._misheard(connection, viewer)

    def _misheard(self, connection: Connection, viewer: Viewer) -> tuple[MisheardGroup, ...]:
        rows = gazetteer.tags_by_rule(connection, SOUNDS_LIKE)
        shown = show_misheard(Readings(connection, self._rooms.context()), viewer, rows, self._rooms.options.doubtful_below) if rows else {}
        numbers = {r.name: r.id for r in gazetteer.places(connection)} if rows else {}
        groups: dict[tuple[str, tuple[str, ...]], list[ShownMisheard]] = {}
        why: dict[tuple[str, tuple[str, ...]], str] = {}
        for row in rows:
            if row.id in shown and row.value in numbers:
                key = (row.value, parts_of(row.evidence))
                groups.setdefault(key, []).append(shown[row.id])
                why.setdefault(key, row.reckoning)
        return tuple(
            MisheardGroup(numbers[key[0]], key[0], at[0].said.strip(" .,;:!?\"'“”‘’"), why[key], tuple(at))
            for key, at in sorted(groups.items(), key=lambda g: (-len(g[1]), g[0]))
        )

    def decide_misheard(self, viewer: Viewer, number: int, said: str, tags: Iterable[int], is_it: bool) -> int:
        """Say that these words are a mis-hearing of a place (or are none, from now on), and decide the suggestions that were shown with them.
        Returns how many were decided. Raises NotFound where nothing of it waits any more."""
        need(viewer, *EDITORS)
        wanted = set(tags)
        with self._rooms.db.write() as connection:
            group = next((g for g in self._misheard(connection, viewer) if (g.number, g.said) == (number, said)), None)
            decided = [m.tag_id for m in group.at if m.tag_id in wanted] if group is not None else []
            if not decided:
                raise NotFound("This does not wait for a decision any more.", "See the list of what may be mis-heard.")
            now = self._rooms.now()
            gazetteer.add_heard(connection, number, said, viewer.name, now, HEARD if is_it else NOT)
            changed = set()
            for tag_id in decided:
                describing.decide_tag(connection, tag_id, "confirmed" if is_it else "rejected", viewer.name, now)
                tag = describing.tag_by_id(connection, tag_id)
                changed.add(tag.recording_id if tag is not None else 0)
                audit.record(connection, viewer.name, f"tag {'confirmed' if is_it else 'rejected'}", f"tag {tag_id}", now, kind="place")
            for recording_id in sorted(changed):
                index_tags(connection, recording_id, self._rooms.context())
            audit.record(connection, viewer.name, "mis-hearing added" if is_it else "no mis-hearing", f"place {number}", now, number=len(decided))
        return len(decided)

    def take_back(self, viewer: Viewer, number: int, text: str) -> None:
        """Forget that something was added by hand as a mis-hearing of a place, or said to be none. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            if not (gazetteer.drop_heard(connection, number, text, NOT) or gazetteer.drop_heard(connection, number, text)):
                raise NotFound("Nobody added this by hand.", "What a sheet has is corrected there, or by changing the place.")
            audit.record(connection, viewer.name, "mis-hearing taken back", f"place {number}", self._rooms.now())

    # -- files -----------------------------------------------------------------------------------------------------
    def file(self, viewer: Viewer, form: str) -> tuple[str, bytes, int]:
        """The gazetteer as a file (csv, geojson, linked) for whoever is outside: its name, its bytes, and how many names were left out because
        a withheld name stands in them. Read back by the last scan. Raises BadInput, ScanRefused."""
        need(viewer, *EDITORS)
        if form not in FORMS:
            raise BadInput("There is no such form of a gazetteer.", f"Choose one of: {', '.join(FORMS)}.")
        name, _, made = FORMS[form]
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            cleared, forbidden = clear_gazetteer(readings), forbidden_in_gazetteer(readings)
        data = made(cleared)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"places{'.csv' if form == 'csv' else '.json'}"
            path.write_bytes(data)
            findings = scan_with(matcher_for(forbidden, OWN_WORDINGS), path)
        if findings:
            raise ScanRefused("The file cannot leave as it is.", tuple(f.sentence() for f in findings), "Look for somebody's name among the places, and take it out there.")
        with self._rooms.db.write() as connection:
            audit.record(connection, viewer.name, "places written out", "gazetteer", self._rooms.now(), form=form, rows=len(cleared.places))
        return name, data, cleared.left_out


_COLUMN = {ALSO: "also", HEARD: "heard_as", NOT: "heard_as"}


def _values(row: Row, place: PlaceEntry) -> dict[str, object]:
    """The columns of a place that its row says something about."""
    every = {
        "kind": ("kind", place.kind), "language": ("language", place.language), "valid_from": ("from", place.valid_from or None),
        "valid_until": ("until", place.valid_until or None), "x_m": ("x_m", place.x_m), "y_m": ("y_m", place.y_m),
        "latitude": ("latitude", place.latitude), "longitude": ("longitude", place.longitude),
    }  # fmt: skip
    return {name: value for name, (column, value) in every.items() if says(row, column)}
