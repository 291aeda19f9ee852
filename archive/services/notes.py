"""Field notes: sheets to print, what was written on them, and what has none. For keepers and editors; nothing of them is indexed or leaves."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from archive.db import audit, notes, recordings
from archive.db.notes import FIELDS
from archive.db.session import Connection
from archive.db.session import Row as Found
from archive.domain.phrases import day
from archive.domain.sheetcode import LENGTH, SIGNS, code_of, read_code
from archive.domain.values import Viewer
from archive.errors import BadInput, NotFound
from archive.gate.closed import NOT_AVAILABLE, is_held
from archive.gate.reading import Readings
from archive.render.fieldsheet import field_sheets
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import NoteRow, NotesPage
from archive.services.sheets import Row, Sheet, Typed

MOST_SHEETS = 100
MOST_LETTERS = 10_000
NOBODY = frozenset({"nobody", "no one", "no-one", "none", "nobody else"})
NOT_SAID = "Who else was in the room is not said."
SOMEBODY = "Somebody else was in the room: whoever is heard and signed nothing has allowed nothing. Listen for them, and ask them."
NO_SHEET = "No sheet has this code."
CLOSED = "Something in what these notes are about is closed, and they may tell of it: they are for a keeper."


class Notes:
    """Field notes of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def page(self, viewer: Viewer) -> NotesPage:
        """Every sheet, the newest first, and what has none."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            rows = tuple(_row(r, _is_closed(readings, viewer, r)) for r in notes.everything(connection))
            return NotesPage(rows, tuple(notes.without(connection)))

    def one(self, viewer: Viewer, typed: str) -> NoteRow:
        """The sheet of a code, as it was typed or scanned; or the newest about an interview or recording. Raises BadInput, NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            interview, recording = recordings.find_interview(connection, typed), recordings.by_code(connection, typed)
            if interview is not None or recording is not None:
                found = notes.about(connection, interview.id if interview is not None else None, recording.id if recording is not None else None)
                row = found[-1] if found else None
            else:
                row = notes.by_code(connection, read_code(typed))
            if row is None:
                raise NotFound("There is no such sheet of field notes.", "Look at its code again; it may belong to another archive.")
            return _row(row, _is_closed(Readings(connection, self._rooms.context()), viewer, row))

    def print_sheets(self, viewer: Viewer, number: int) -> tuple[tuple[str, ...], bytes]:
        """New blank sheets: their codes and the PDF."""
        need(viewer, *EDITORS)
        if not 1 <= number <= MOST_SHEETS:
            raise BadInput(f"Between 1 and {MOST_SHEETS} sheets can be printed at once.")
        with self._rooms.db.write() as connection:
            codes = tuple(self._new(connection, viewer)[1] for _ in range(number))
            audit.record(connection, viewer.name, "field sheets made", "field notes", self._rooms.now(), sheets=number)
        return codes, field_sheets(codes, self._rooms.today())

    def _new(self, connection: Connection, viewer: Viewer) -> tuple[int, str]:
        while True:
            code = code_of([secrets.randbelow(len(SIGNS)) for _ in range(LENGTH)])
            if notes.by_code(connection, code) is None:
                return notes.new_sheet(connection, code, viewer.name, self._rooms.now()), code

    def write(self, viewer: Viewer, cells: Mapping[str, str], whole: bool = False) -> str:
        """Keep what somebody typed (`code` or nothing, `about`, the fields); `whole`: an empty field empties what is there. Returns the code."""
        return self._read(viewer, Typed(cells), whole)[0]

    def read(self, viewer: Viewer, path: Path) -> int:
        """Read a sheet (CSV): all of it or nothing. An empty cell leaves what is there. Returns how many rows."""
        return len(self._read(viewer, path, whole=False))

    def _read(self, viewer: Viewer, path: Path | Typed, whole: bool) -> list[str]:
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("about",))
        now = self._rooms.now()
        wanted: list[tuple[int, str, dict[str, Any]]] = []
        with self._rooms.db.write() as connection:  # rolled back whole where there is a fault
            for row in sheet:
                about = _about(connection, row)
                found = _sheet_of(connection, row, about)
                if found is not None and found.written_at and _is_closed(Readings(connection, self._rooms.context()), viewer, found):
                    row.fault(f"{CLOSED} A keeper may change them.")
                fields = {name: row[name] for name in FIELDS if whole or row[name]}
                if not any(fields.values()):
                    row.fault("Nothing is written in it. Fill in at least one of: " + ", ".join(FIELDS) + ".")
                if any(len(text) > MOST_LETTERS for text in fields.values()):
                    row.fault(f"A cell is longer than {MOST_LETTERS} letters.")
                note_id, code = (found.id, found.code) if found is not None else (0, "")
                if note_id and any(note_id == n for n, *_ in wanted):
                    row.fault(f"{code} stands in this sheet already. Keep one of them.")
                wanted.append((note_id, code, {**about, **fields, "written_by": viewer.name, "written_at": now}))
            sheet.done()
            codes = []
            for note_id, code, values in wanted:
                note_id, code = (note_id, code) if note_id else self._new(connection, viewer)
                notes.write(connection, note_id, **values)
                audit.record(connection, viewer.name, "field notes written", f"field note {note_id}", now, fields=sum(bool(values.get(n)) for n in FIELDS))
                codes.append(code)
        return codes


def _about(connection: Connection, row: Row) -> dict[str, int | None]:
    """What the notes are about: an interview's code or a recording's."""
    text = row.needed("about")
    interview = recordings.find_interview(connection, text) if text else None
    recording = recordings.by_code(connection, text) if text and interview is None else None
    if text and interview is None and recording is None:
        row.fault(f"“{text}” in “about” is neither an interview nor a recording on record. Take the recordings in first, or correct the code.")
    return {"interview_id": interview.id if interview is not None else None, "recording_id": recording.id if recording is not None else None}


def _sheet_of(connection: Connection, row: Row, about: Mapping[str, int | None]) -> Found[Any] | None:
    """The sheet that a row is of: by its code, else the only one about the same; None: a new one."""
    if row["code"]:
        try:
            found = notes.by_code(connection, read_code(row["code"]))
        except BadInput as bad:
            row.fault(f"“code”: {bad.message}")
            return None
        if found is None:
            row.fault(f"“code”: {NO_SHEET}")
        elif found.written_at and (found.interview_id, found.recording_id) != (about["interview_id"], about["recording_id"]):
            row.fault(f"{found.code} is about {found.interview or found.recording} already. Correct “about”, or leave “code” empty.")
        return found
    if about["interview_id"] is None and about["recording_id"] is None:
        return None
    there = notes.about(connection, about["interview_id"], about["recording_id"])
    if len(there) > 1:
        row.fault(f"There are {len(there)} sheets about {row['about']}: {', '.join(r.code for r in there)}. Write the code of one into “code”.")
    return there[0] if len(there) == 1 else None


def _is_closed(readings: Readings, viewer: Viewer, row: Found[Any]) -> bool:
    """True where anything in what these notes are about is held back from this viewer: they may tell of it."""
    ids = [row.recording_id] if row.recording_id is not None else []
    if row.interview_id is not None:
        ids += [r.id for r in recordings.of_interview(readings.connection, row.interview_id)]
    return any(is_held(readings, viewer, recording_id) for recording_id in ids)


def _row(row: Found[Any], closed: bool = False) -> NoteRow:
    if closed and row.written_at:
        nothing = dict.fromkeys(FIELDS, "")
        return NoteRow(row.code, row.interview or row.recording or "", **nothing, written=NOT_AVAILABLE, cautions=(CLOSED,), closed=True)
    said = row.in_the_room.strip().rstrip(".").casefold()
    cautions = (NOT_SAID,) if not said else () if said in NOBODY else (SOMEBODY,)
    written = f"written by {row.written_by} on {day(row.written_at)}" if row.written_at else ""
    return NoteRow(
        row.code, row.interview or row.recording or "", row.who, row.where, row.when, row.with_what, row.in_the_room, row.remarks,
        written, cautions if written else (),
    )  # fmt: skip
