"""recordings.csv: what it says about each file of a card, and which row is whose. Cards repeat names in their folders."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from archive.db import people, recordings
from archive.db.session import Connection
from archive.db.session import Row as Recorded
from archive.domain.values import Part
from archive.errors import BadInput
from archive.files.guard import Source, shown_name
from archive.gate.forbidden import forbidden_names
from archive.gate.scan_match import Matcher
from archive.services.sheets import Row, Sheet

SHEET = "recordings.csv"
AGAIN = "and take that sheet in again."


@dataclass(frozen=True, slots=True)
class Described:
    """What the sheet says about one file. `part` 0: the next one of its interview."""

    interview: str
    part: int = 0
    recorded_on: date | None = None
    title: str = ""
    language: str = ""  # a BCP 47 tag; "": not said
    microphones: str = "one"
    left: str = ""
    right: str = ""
    participants: tuple[tuple[str, Part], ...] = ()


Rows = Mapping[str, Described]  # by "file": a name, or a path below the sheet's own folder with /


@dataclass(frozen=True, slots=True)
class Match:
    """Whose row a file is. `doubt`: why a row that fits it was not taken for its own, and what to do."""

    said: Described | None = None
    doubt: str = ""
    row: tuple[Path, str] | None = None  # folder of the sheet, and “file” as the row has it; also where in doubt


def read_sheet(connection: Connection, path: Path) -> dict[str, Described]:
    """recordings.csv: file → what it says. Raises SheetError; nothing is written."""
    sheet = Sheet(path, ("file", "interview", "part"))
    known = people.ids_by_code(connection)
    named = Matcher(forbidden_names(people.names(connection)))
    found: dict[str, Described] = {}
    taken: dict[tuple[str, int], str] = {}
    stands: dict[str, int] = {}
    for row in sheet:
        file = "/".join(p for p in row.needed("file").replace("\\", "/").split("/") if p not in ("", "."))
        if row["microphones"] not in ("", "one", "two"):
            row.fault(f"“{row['microphones']}” in “microphones” is not known. Write one or two.")
        row.one_of("left", known)
        row.one_of("right", known)
        interview, part = row.needed("interview"), row.number_of("part", 1)
        if part < 1:
            row.fault(f"“{row['part']}” in “part” is no place in an order. Write 1, 2, …")
        if named.first_hit(interview, any_case=True):
            row.fault("“interview” has somebody's name in it, and codes stand in addresses and lists. Use a number.")
        other = taken.setdefault((interview, part), file)
        if other != file:
            row.fault(f"“{other}” is part {part} of {interview} already. Write the order of its files in “part”: 1, 2, …")
        if stands.setdefault(file, row.number) != row.number:
            row.fault(f"“{file}” stands in row {stands[file]} already. Keep one of them.")
        found[file] = Described(
            interview, part, row.day("recorded_on"), row["title"], row.language(), row["microphones"] or "one",
            row["left"], row["right"], _participants(row, known),
        )  # fmt: skip
    sheet.done()
    return found


def _participants(row: Row, known: Mapping[str, int]) -> tuple[tuple[str, Part], ...]:
    took_part = []
    for item in row.list("participants"):
        code, _, role = item.partition(":")
        if code not in known:
            row.fault(f"“{code}” in “participants” is not on record. Read people.csv first.")
        try:
            took_part.append((code, Part(role or "narrator")))
        except ValueError:
            row.fault(f"“{role}” is no role. Write one of: {', '.join(Part)}.")
    return tuple(took_part)


def recording_of(connection: Connection, row: Row) -> Recorded[Any] | None:
    """The recording that a sheet's row means by “file”; None with the row's fault where there is none, or more than one."""
    try:
        found = recordings.by_file(connection, row.needed("file"))
    except BadInput as error:
        row.fault(f"{error.message} {error.remedy}")
        return None
    if found is None and row["file"]:
        row.fault(f"No recording came from “{row['file']}”. Take it in first.")
    return found


def interview_alone(connection: Connection, code: str) -> Described:
    """What `--interview` says about a file without a row. Raises BadInput for a code with somebody's name in it."""
    if Matcher(forbidden_names(people.names(connection))).first_hit(code, any_case=True):
        raise BadInput("That interview has somebody's name in it, and codes stand in addresses and lists.", "Use a number.")
    return Described(code)


def match(sheets: Sequence[tuple[Path, Rows]], sources: Sequence[Source], anywhere: bool = False) -> list[Match]:
    """Whose row each file is. `sheets`: (folder of the sheet, rows); `anywhere`: files outside that folder fit as well.

    A row fits the files whose path below the sheet's folder ends with it; the longest row that fits counts. Fits one row
    several files, it is the one's that it names in full, else nobody's: a guess here would be somebody else's consent.
    """
    nearest = sorted(sheets, key=lambda s: -len(s[0].parts))
    fits = [_fit(nearest, source, anywhere) for source in sources]
    rivals: dict[tuple[Path, str], dict[str, _Fit]] = {}
    for fit in fits:
        if fit is not None and not fit.source.refusal:
            rivals.setdefault((fit.folder, fit.row), {})[os.path.realpath(fit.source.path)] = fit
    return [_settled(source, fit, rivals.get((fit.folder, fit.row), {}) if fit else {}) for source, fit in zip(sources, fits, strict=True)]


@dataclass(frozen=True, slots=True)
class _Fit:
    source: Source
    folder: Path
    row: str
    path: str  # below the sheet's folder
    said: Described


def _fit(sheets: Sequence[tuple[Path, Rows]], source: Source, anywhere: bool) -> _Fit | None:
    for folder, rows in sheets:
        inside = source.path.is_relative_to(folder)
        if not inside and not anywhere:
            continue
        parts = (source.path.relative_to(folder) if inside else source.path).parts
        names = [source.name] if source.ours else [shown_name(Path(part)) for part in parts]  # what was sent lies under a key
        for first in range(len(names)):  # from the whole path to the name alone
            row = "/".join(names[first:])
            if row in rows:
                return _Fit(source, folder, row, "/".join(names), rows[row])
    return None


def _settled(source: Source, fit: _Fit | None, rivals: Mapping[str, _Fit]) -> Match:
    if fit is None:
        return Match()
    mine = os.path.realpath(source.path)
    named_in_full = {path for path, rival in rivals.items() if rival.path == rival.row}
    if len(rivals) < 2 or mine in named_in_full:
        return Match(fit.said, "", (fit.folder, fit.row))
    others = sorted(rival.path for path, rival in rivals.items() if path != mine and (path in named_in_full or not named_in_full))
    doubt = f"It is in no interview yet: “{fit.row}” in {SHEET} fits {' and '.join(others)} as well. Write this one as “{fit.path}” there {AGAIN}"
    return Match(None, doubt, (fit.folder, fit.row))
