"""The archive's own list of spellings with their mis-hearings, and the same change wherever else a mis-hearing stands.

Places and people on record are shown in it with their own names; a mis-hearing of theirs is kept where these are. Nothing here is for readers.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from archive.db import audit, consent_rows, gazetteer, people, reach, recordings, spellings
from archive.db.session import Connection
from archive.domain.attribution import shown_names
from archive.domain.cleared import ShownOccurrence
from archive.domain.letters import folded
from archive.domain.values import Role, Scan, SpellingKind, Viewer
from archive.errors import BadInput, Clash, NotFound, Refused
from archive.gate.reading import Readings
from archive.gate.show import show_person
from archive.gate.spelled import Spelled, count_same, show_same
from archive.gate.typing import LineAct
from archive.rules.spelled import MOST_LETTERS, MOST_WORDS, Misheard, is_name, letters_of, pair, run_together
from archive.services.correcting import Correcting
from archive.services.describing import hear_names_again
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.sheets import Row, Sheet, Typed

MOST_SHOWN = 300
MOST_NOTE = 1000
LIST, GAZETTEER, PEOPLE = "list", "gazetteer", "people"
_OWN_NAMES = ("full", "first", "family", "nick")


@dataclass(frozen=True, slots=True)
class Heard:
    """A mis-hearing; who added it by hand and when ("" where a sheet has it)."""

    text: str
    by: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True)
class SpellingRow:
    """One spelling. `source`: list, gazetteer, people; `also`: other right names; `more`: mis-hearings that this viewer does not see."""

    text: str
    kind: str
    heard_as: tuple[Heard, ...]
    source: str
    code: str = ""
    also: tuple[str, ...] = ()
    note: str = ""
    by: str = ""
    at: str = ""
    more: int = 0


@dataclass(frozen=True, slots=True)
class SpellingsPage:
    """What is on the list, and what was taken off it."""

    rows: tuple[SpellingRow, ...]
    off: tuple[SpellingRow, ...]


@dataclass(frozen=True, slots=True)
class Offer:
    """The same change may be wanted in so many other places."""

    wrong: str
    right: str
    places: int


@dataclass(frozen=True, slots=True)
class SamePage:
    """Where a mis-hearing stands; `number`: of all places, of which the first are in `found`. `kind`: of the spelling where it is
    known; `remembered`: the mis-hearing is on record."""

    wrong: str
    right: str
    found: tuple[ShownOccurrence, ...]
    number: int
    kind: str
    remembered: bool


@dataclass(frozen=True, slots=True)
class Picked:
    """A place as it was shown: words `first` to `last` of the line `key`."""

    recording: str
    key: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class SameDone:
    """How many places were changed, by recording; and those that were not, because their words changed or were closed meanwhile."""

    changed: dict[str, int]
    refused: tuple[Picked, ...]


class Spellings:
    """The list of spellings of one archive."""

    def __init__(self, rooms: Rooms, correcting: Correcting) -> None:
        self._rooms, self._correcting = rooms, correcting

    # -- the list ----------------------------------------------------------------------------------------------
    def page(self, viewer: Viewer) -> SpellingsPage:
        """Every spelling by its letters: the list's own, the places of the gazetteer, the people on record."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            own = [
                (SpellingRow(r.text, r.kind, tuple(Heard(t) for t in r.heard_as), LIST, "", (), r.note, r.by, r.at), r.off)
                for r in spellings.everything(connection)
            ]
            rows = [*(row for row, off in own if not off), *_places(connection), *self._people(readings, viewer)]
        return SpellingsPage(tuple(sorted(rows, key=lambda r: folded(r.text))), tuple(row for row, off in own if off))

    def _people(self, readings: Readings, viewer: Viewer) -> list[SpellingRow]:
        """People as this viewer may read their names; mis-hearings of a name that is not open to them are only counted."""
        connection = readings.connection
        hand, names = people.heard_by_hand(connection), people.names(connection)
        everyone, today = people.everyone(connection), self._rooms.today()
        standings = consent_rows.load_standings(connection, [r.id for r in everyone])
        found, shut = [], reach.of(connection, viewer).people
        for row in everyone:
            if row.id in shut:
                continue
            known = names.get(row.id, [])
            wish = standings[row.id].wish_on(today).attribution
            open_names = {n.text for n in known} if viewer.role == Role.KEEPER else shown_names(known, wish)
            heard = [n.text for n in known if n.kind == "heard_as"]
            seen = tuple(Heard(t, *hand.get((row.id, t), ())) for t in heard if t in open_names)
            label = show_person(readings, viewer, row.code).removeprefix(f"{row.code} · ")
            found.append(SpellingRow(label, SpellingKind.PERSON.value, seen, PEOPLE, row.code, more=len(heard) - len(seen)))
        return found

    def add(self, viewer: Viewer, cells: Mapping[str, str], whole: bool = False) -> str:
        """Put one spelling on the list by the columns of its sheet, or add to it; `whole`: what is typed takes the place of what is
        there. Returns where it is kept: list, gazetteer or people. Raises SheetError."""
        return self._read(viewer, Typed(cells), whole)[0]

    def read(self, viewer: Viewer, path: Path) -> int:
        """Read a sheet (spelling, kind, heard_as, note): all of it or nothing. What is on the list already is added to. Returns how many rows."""
        return len(self._read(viewer, path, whole=False))

    def _read(self, viewer: Viewer, path: Path | Typed, whole: bool) -> list[str]:
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("spelling",), key=("spelling",))
        with self._rooms.db.write() as connection:  # rolled back whole where there is a fault
            homes = _Homes(connection)
            wanted = [(row, homes.of_row(row)) for row in sheet]
            for row, home in wanted:
                _check(row, home)
            sheet.done()
            now, renamed = self._rooms.now(), False
            for row, home in wanted:
                if home is None:
                    self._write(connection, viewer, row, whole)
                elif home.source == GAZETTEER:
                    added = [gazetteer.add_heard(connection, home.id, t, viewer.name, now) for t in row.list("heard_as")]
                    audit.record(connection, viewer.name, "mis-hearing added", f"place {home.id}", now, number=sum(added))
                else:
                    added = [people.add_heard(connection, home.id, t, home.scan, viewer.name, now) for t in row.list("heard_as")]
                    audit.record(connection, viewer.name, "mis-hearing added", f"person {home.id}", now, number=sum(added))
                    renamed |= any(added)
            if renamed:  # what is heard as somebody's name is hidden like it, from now on
                hear_names_again(connection, self._rooms.context(), viewer.name, now)
        return [home.source if home is not None else LIST for _, home in wanted]

    def _write(self, connection: Connection, viewer: Viewer, row: Row, whole: bool) -> None:
        before = spellings.by_key(connection, _key(row["spelling"]))
        there = before if before is not None and not before.off else None
        heard = row.list("heard_as")
        if there is not None and not whole:
            heard = [*there.heard_as, *heard]
        kind = row["kind"] or (there.kind if there is not None else SpellingKind.OTHER.value)
        note = row["note"] if row["note"] or whole or there is None else there.note
        values = (row["spelling"], kind, tuple(dict.fromkeys(heard)), note)
        if there is None or values != (there.text, there.kind, tuple(there.heard_as), there.note):
            self._keep(connection, viewer, _key(row["spelling"]), *values, off=False)

    def _keep(
        self, connection: Connection, viewer: Viewer, key: str, text: str, kind: str, heard: Sequence[str], note: str, *, off: bool
    ) -> None:  # fmt: skip
        now = self._rooms.now()
        row = spellings.write(connection, key, text, kind, heard, note, off, viewer.name, now)
        audit.record(connection, viewer.name, "spelling taken off" if off else "spelling kept", f"spelling {row}", now, kind=kind, heard_as=len(heard))

    def drop(self, viewer: Viewer, spelling: str, heard_as: str = "", back: bool = False) -> None:
        """Take a spelling off the list, or one of its mis-hearings; `back`: put a spelling on it again as it was. Raises NotFound, and
        Refused where a sheet has it. A mis-hearing of a person's is for a keeper: it hides them."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = spellings.by_key(connection, _key(spelling))
            home = _Homes(connection).named(spelling, "") if row is None or row.off and not back else None
            if home is not None:
                self._drop_heard(connection, viewer, home, heard_as)
                return
            if row is None or row.off is not back or (heard_as and heard_as not in row.heard_as):
                raise NotFound("This is not on the list of spellings.", "See the list of spellings.")
            heard = [t for t in row.heard_as if t != heard_as]
            self._keep(connection, viewer, row.key, row.text, row.kind, heard, row.note, off=not back and not heard_as)

    def _drop_heard(self, connection: Connection, viewer: Viewer, home: _Home, heard_as: str) -> None:
        now = self._rooms.now()
        if home.source == PEOPLE:
            need(viewer, *KEEPER)
            dropped = people.drop_heard(connection, home.id, heard_as)
        else:
            dropped = gazetteer.drop_heard(connection, home.id, heard_as)
        if not dropped:
            raise Refused("Nobody added this by hand: a sheet has it.", (), "Take it out of the sheet of places or people and read that again.")
        audit.record(connection, viewer.name, "mis-hearing taken off", f"{'person' if home.source == PEOPLE else 'place'} {home.id}", now)
        if home.source == PEOPLE:
            hear_names_again(connection, self._rooms.context(), viewer.name, now)

    # -- the same elsewhere ------------------------------------------------------------------------------------
    def offer(self, viewer: Viewer, before: str, after: str) -> Offer | None:
        """What may be offered after somebody typed `after` in the place of `before`; None where it is no spelling, or stands nowhere else."""
        need(viewer, *EDITORS)
        found = pair(before[: 2 * MOST_LETTERS], after[: 2 * MOST_LETTERS])
        if found is None or not _well_made(found[1]):
            return None
        with self._rooms.db.read() as connection:
            if not is_name(found[1]) and not _Homes(connection).knows(found[1]):
                return None
            places = count_same(Readings(connection, self._rooms.context()), viewer, Misheard(*found))
        return Offer(*found, places) if places else None

    def same(self, viewer: Viewer, wrong: str, right: str, recording: str = "") -> SamePage:
        """Every place in the archive, or in one recording, where this mis-hearing stands and this viewer may correct it; what only
        sounds like it comes last. Raises BadInput, NotFound."""
        need(viewer, *EDITORS)
        wrong, right = _checked_pair(wrong, right)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, recording) if recording else None
            homes = _Homes(connection)
            known = homes.together - {run_together(right), run_together(wrong)}
            readings = Readings(connection, self._rooms.context())
            found, number = show_same(readings, viewer, Misheard(wrong, right, known), row.id if row is not None else None, MOST_SHOWN)
            return SamePage(wrong, right, found, number, homes.kind(right), wrong in homes.heard_as(right))

    def change(self, viewer: Viewer, right: str, picked: Iterable[Picked], mark: str) -> SameDone:
        """Put the spelling into exactly these places, each an edit in this person's sitting at its recording. A place whose words are
        not there any more as they were shown, or are closed now, is left as it is. `mark`: of the page; what comes twice counts once."""
        need(viewer, *EDITORS)
        if not _well_made(right):
            raise BadInput("This is no spelling.", "Write the words themselves, without brackets.")
        by_line: dict[tuple[str, int], list[Picked]] = {}
        for one in dict.fromkeys(picked):
            by_line.setdefault((one.recording, one.key), []).append(one)
        changed: dict[str, int] = {}
        refused: list[Picked] = []
        for (code, key), some in by_line.items():
            runs = tuple(sorted((p.first, p.last) for p in some))
            own = hashlib.sha256(repr((mark, code, key, runs, right)).encode("utf-8")).hexdigest()[:32]
            try:
                self._correcting.change(viewer, code, LineAct("spell", (key,), right, runs=runs), own)
            except (BadInput, Clash, NotFound, Refused):
                refused += some
            else:
                changed[code] = changed.get(code, 0) + len(some)
        return SameDone(changed, tuple(refused))

    def finish(self, viewer: Viewer, codes: Sequence[str]) -> int:
        """End this person's sittings at these recordings: what was changed becomes versions. Returns how many recordings."""
        need(viewer, *EDITORS)
        for code in codes:
            self._correcting.finish(viewer, code)
        return len(codes)


# --- where spellings live ---------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class _Home:
    """A place or a person on record, and how the last scan takes their other names."""

    source: str
    id: int
    scan: Scan = Scan.ALWAYS
    heard_as: tuple[str, ...] = ()


class _Homes:
    """The places and people on record by the letters of their names, and the list's own spellings."""

    def __init__(self, connection: Connection) -> None:
        self._own = {r.key: r for r in spellings.everything(connection) if not r.off}
        self._by_key: dict[str, dict[tuple[str, int], _Home]] = {}
        others = gazetteer.place_names(connection)
        for place in gazetteer.places(connection):
            heard = tuple(t for t, kind in others.get(place.id, []) if kind == "heard")
            for text in (place.name, *(t for t, kind in others.get(place.id, []) if kind == "also")):
                self._put(text, _Home(GAZETTEER, place.id, heard_as=heard))
        for person_id, known in people.names(connection).items():
            heard = tuple(n.text for n in known if n.kind == "heard_as")
            scan = next((n.scan for n in known if n.kind in _OWN_NAMES[1:]), Scan.ALWAYS)
            for name in (n for n in known if n.kind in _OWN_NAMES):
                self._put(name.text, _Home(PEOPLE, person_id, scan, heard))
        self.together = frozenset(key.replace(" ", "") for key in (*self._own, *self._by_key))

    def _put(self, text: str, home: _Home) -> None:
        self._by_key.setdefault(_key(text), {})[(home.source, home.id)] = home

    def named(self, text: str, kind: str) -> _Home | None:
        """Whose name this is; None where it is nobody's and no place's. Raises BadInput where it could be several'."""
        source = {"": "", SpellingKind.PERSON.value: PEOPLE, SpellingKind.PLACE.value: GAZETTEER}.get(kind)
        found = [h for h in self._by_key.get(_key(text), {}).values() if source in ("", h.source)] if source is not None else []
        if len({h.source for h in found}) > 1:
            raise BadInput("This is the name of a person and of a place.", "Say which kind is meant.")
        if len(found) > 1:
            raise BadInput("Several on record have this name.", "Write the full name, or add it in the sheet of people or places.")
        return found[0] if found else None

    def of_row(self, row: Row) -> _Home | None:
        """Where a sheet's row belongs; None: on the list itself."""
        if _key(row["spelling"]) in self._own and row["kind"] in ("", self._own[_key(row["spelling"])].kind):
            return None
        try:
            return self.named(row["spelling"], row["kind"])
        except BadInput as error:
            row.fault(f"“{row['spelling']}”: {error.message} {error.remedy}")
            return None

    def knows(self, text: str) -> bool:
        """True for a spelling of the list, of the gazetteer, or of somebody on record."""
        return _key(text) in self._own or _key(text) in self._by_key

    def kind(self, text: str) -> str:
        """The kind of a spelling that is known; "" where it is not, or could be several."""
        if _key(text) in self._own:
            return str(self._own[_key(text)].kind)
        sources = {h.source for h in self._by_key.get(_key(text), {}).values()}
        kinds = {GAZETTEER: SpellingKind.PLACE.value, PEOPLE: SpellingKind.PERSON.value}
        return kinds[sources.pop()] if len(sources) == 1 else ""

    def heard_as(self, text: str) -> frozenset[str]:
        """What is on record as mis-hearings of a spelling."""
        own = self._own[_key(text)].heard_as if _key(text) in self._own else ()
        return frozenset([*own, *(t for h in self._by_key.get(_key(text), {}).values() for t in h.heard_as)])


def listed_spellings(connection: Connection) -> list[Spelled]:
    """The list's own spellings in the order in which they were put on it, to prime the engine with."""
    return [Spelled(r.text, tuple(r.heard_as)) for r in spellings.everything(connection) if not r.off]


def _places(connection: Connection) -> list[SpellingRow]:
    hand, others = gazetteer.heard_by_hand(connection), gazetteer.place_names(connection)
    return [
        SpellingRow(
            p.name, SpellingKind.PLACE.value, tuple(Heard(t, *hand.get((p.id, t), ())) for t, kind in others.get(p.id, []) if kind == "heard"),
            GAZETTEER, "", tuple(t for t, kind in others.get(p.id, []) if kind == "also"),
        )
        for p in gazetteer.places(connection)
    ]  # fmt: skip


def _key(text: str) -> str:
    return " ".join(letters_of(text))


def _well_made(text: str) -> bool:
    return bool(letters_of(text)) and len(text) <= MOST_LETTERS and len(text.split()) <= MOST_WORDS and not set("[];") & set(text)


def _checked_pair(wrong: str, right: str) -> tuple[str, str]:
    wrong, right = " ".join(wrong.split()), " ".join(right.split())
    if not _well_made(wrong) or not _well_made(right) or wrong == right:
        raise BadInput(
            "A mis-hearing and a spelling are needed, and not the same twice.",
            f"Write the words themselves: {MOST_WORDS} words at most, without brackets and semicolons.",
        )
    return wrong, right


def _check(row: Row, home: _Home | None) -> None:
    """Note every fault of a row of the sheet."""
    text = row.needed("spelling")
    row.choice("kind", SpellingKind, SpellingKind.OTHER)
    wrote = f"Write {MOST_WORDS} words and {MOST_LETTERS} letters at most, without brackets."
    if text and not _well_made(text):
        row.fault(f"“{text[:40]}” in “spelling” is no spelling. {wrote}")
    for heard in row.list("heard_as"):
        if not _well_made(heard):
            row.fault(f"“{heard[:40]}” in “heard_as” cannot be a mis-hearing. {wrote}")
        elif heard == text:
            row.fault(f"“{heard}” in “heard_as” is the spelling itself.")
    if len(row["note"]) > MOST_NOTE:
        row.fault(f"“note” is longer than {MOST_NOTE} letters.")
    if home is not None and not row.list("heard_as"):
        row.fault(f"“{text}” is on record in the {'gazetteer' if home.source == GAZETTEER else 'sheet of people'}: only mis-hearings can be added to it here.")
    if home is not None and row["note"]:
        row.fault("“note” is kept for spellings of this list only, and this one is on record elsewhere.")

