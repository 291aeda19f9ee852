"""The glossary: words with their meanings, written by the team, and where they are said."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import replace
from pathlib import Path
from typing import Any

from archive.db import audit, glossary
from archive.db.session import Connection, Row
from archive.domain.cleared import ShownUtterance
from archive.domain.languages import name
from archive.domain.values import Viewer
from archive.errors import NotFound
from archive.gate.reading import Readings
from archive.gate.titles import holds_a_name
from archive.rules.glossary import Glosses
from archive.services.finding import Finding
from archive.services.language_rows import GlossaryPage, GlossaryRow
from archive.services.rooms import ANYBODY, EDITORS, Rooms, need
from archive.services.rows import Asked
from archive.services.sheets import Sheet, Typed

COLUMNS = ("word", "language", "meanings")
MOST_WORD, MOST_TEXT = 120, 2000
HOLDS_A_NAME = "Somebody's name stands in it, and the glossary stands beside every transcript. Say it without; a code may stand as its source."
_NOT_IN_CODES = re.compile(r"[^\w.-]+")
_OPERATORS = frozenset({"and", "or", "not"})


class Glossary:
    """The glossary of one archive."""

    def __init__(self, rooms: Rooms, finding: Finding) -> None:
        self._rooms, self._finding = rooms, finding

    def list(self, viewer: Viewer) -> tuple[GlossaryRow, ...]:
        """Every entry, by word. One in which a name has to be withheld by now is not there for readers."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            rows = glossary.everything(connection)
            if viewer.role in EDITORS:
                return tuple(_row(r) for r in rows)
            codes = set(readings.codes.values())  # of people: the team's, as everywhere
            return tuple(_without(_row(r), codes) for r in rows if not holds_a_name(readings, _texts(r._mapping)))

    def one(self, viewer: Viewer, entry_id: int) -> GlossaryPage:
        """An entry, and the passages in which this viewer may read its word, found by its stem."""
        row = next((r for r in self.list(viewer) if r.id == entry_id), None)
        if row is None:
            raise NotFound("There is no such word in the glossary.", "See the list of words.")
        alone = len(row.word.split()) == 1 and row.word.casefold() not in _OPERATORS
        question = row.word.replace('"', " ")
        return GlossaryPage(row, self._finding.ask(viewer, Asked(question if alone else f'"{question}"'), limit=50))

    def called(self, viewer: Viewer, word: str) -> GlossaryPage:
        """The same by its word, or its number in the list. Raises NotFound."""
        wanted = word.strip().casefold()
        found = next((r.id for r in self.list(viewer) if wanted in (r.word.casefold(), str(r.id))), None)
        if found is None:
            raise NotFound("There is no such word in the glossary.", "See the list of words: toldhere glossary list")
        return self.one(viewer, found)

    def marked(self, viewer: Viewer, utterances: Iterable[ShownUtterance]) -> dict[int, tuple[dict[int, int], tuple[GlossaryRow, ...]]]:
        """utterance id → (place of a word among those shown → entry, the entries in order) wherever a glossary word is shown."""
        entries = {row.id: row for row in self.list(viewer)}
        glosses = Glosses({n: row.word for n, row in entries.items()})
        found = {}
        for utterance in utterances:
            masks = {n for n, word in enumerate(utterance.words) if word.masked}
            places = glosses.find([word.text for word in utterance.words], masks)
            if places:
                found[utterance.utterance_id] = places, tuple(entries[n] for n in dict.fromkeys(places[p] for p in sorted(places)))
        return found

    # -- writing -----------------------------------------------------------------------------------------------
    def read(self, viewer: Viewer, sheet: Path) -> int:
        """Read glossary.csv (word, language, meanings parted by ;, sensitive yes or no, source, note): all of it or nothing."""
        return len(self._keep(viewer, sheet))

    def write(self, viewer: Viewer, typed: Mapping[str, str]) -> int:
        """Add or correct one entry that somebody typed, with the columns of the sheet; returns its number."""
        (made,) = self._keep(viewer, Typed(typed))
        return made

    def drop(self, viewer: Viewer, entry_id: int) -> None:
        """Take an entry out. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            if glossary.by_id(connection, entry_id) is None:
                raise NotFound("There is no such word in the glossary.", "See the list of words.")
            glossary.drop(connection, entry_id)
            audit.record(connection, viewer.name, "glossary word dropped", f"glossary {entry_id}", self._rooms.now())

    def _keep(self, viewer: Viewer, source: Path | Typed) -> Sequence[int]:
        need(viewer, *EDITORS)
        sheet = Sheet(source, COLUMNS, key=("word", "language"))
        with self._rooms.db.write() as connection:
            rows = self._rows(connection, sheet)
            now = self._rooms.now()
            made = [glossary.write(connection, **values, by=viewer.name, at=now) for values in rows]
            audit.record(connection, viewer.name, "glossary written", "glossary", now, words=len(made))
            return made

    def _rows(self, connection: Connection, sheet: Sheet) -> Sequence[dict[str, Any]]:
        readings = Readings(connection, self._rooms.context())
        found = []
        for row in sheet:
            word, meanings = " ".join(row.needed("word").split()), row.list("meanings")
            if not meanings and word:
                row.fault("“meanings” is empty. Say what the word means; several are parted by ;")
            row.needed("language")
            values = {
                "word": word, "language": row.language(), "meanings": meanings, "sensitive": row.yes("sensitive"), "source": row["source"],
                "note": row["note"],
            }  # fmt: skip
            if len(word) > MOST_WORD or any(len(text) > MOST_TEXT for text in _texts(values)):
                row.fault(f"A word may have {MOST_WORD} letters, each text beside it {MOST_TEXT}. Say it shorter.")
            if holds_a_name(readings, _texts(values)):
                row.fault(HOLDS_A_NAME)
            found.append(values)
        sheet.done()
        return found


def _without(row: GlossaryRow, codes: Set[str]) -> GlossaryRow:
    """An entry without a source or a note that gives somebody's code."""
    given = {text: "" if codes & {word.strip("-.") for word in _NOT_IN_CODES.split(text)} else text for text in (row.source, row.note)}
    return replace(row, source=given[row.source], note=given[row.note])


def _texts(row: Mapping[Any, Any]) -> Sequence[str]:
    return [row["word"], *row["meanings"], row["source"], row["note"]]


def _row(row: Row[Any]) -> GlossaryRow:
    return GlossaryRow(row.id, row.word, row.language, name(row.language), tuple(row.meanings), row.sensitive, row.source, row.note)
