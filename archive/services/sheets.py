"""Sheets (CSV) as people make them: commas or semicolons, with or without a byte-order mark. Every fault is named with its row.

A sheet is taken whole or not at all: the caller reads all rows, adds its own faults, then calls `done`.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import TypeVar

from archive.domain import languages
from archive.errors import BadInput, SheetError

MAX_BYTES = 20_000_000
MOST = 2**31 - 1  # what a number in a sheet may reach
E = TypeVar("E", bound=StrEnum)
V = TypeVar("V")


class Row:
    """One row: its cells by column, stripped. Faults are collected in the sheet, not raised."""

    def __init__(self, sheet: Sheet, number: int, cells: Mapping[str, str]) -> None:
        self.sheet, self.number, self.cells = sheet, number, cells

    def __getitem__(self, column: str) -> str:
        return self.cells.get(column, "")

    def fault(self, words: str) -> None:
        """Note a fault of this row."""
        self.sheet.fault(self.number, words)

    def needed(self, column: str) -> str:
        """The cell, which must not be empty."""
        if not self[column]:
            self.fault(f"“{column}” is empty. Fill it in.")
        return self[column]

    def list(self, column: str) -> list[str]:
        """The parts of a cell that holds several, parted by semicolons."""
        return [part.strip() for part in self[column].split(";") if part.strip()]

    def day(self, column: str) -> date | None:
        """The cell as a day; None where empty."""
        text = self[column]
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.fault(f"“{text}” in “{column}” is no date. Write it as 2025-03-14.")
            return None

    def choice(self, column: str, kind: type[E], default: E) -> E:
        """The cell as one of a list; `default` where empty."""
        text = self[column]
        try:
            return kind(text) if text else default
        except ValueError:
            self.fault(f"“{text}” in “{column}” is not known. Write one of: {', '.join(kind)}.")
            return default

    def one_of(self, column: str, known: Mapping[str, V]) -> V | None:
        """What the cell's code stands for; None where empty or unknown (then a fault)."""
        text = self[column]
        if text and text not in known:
            self.fault(f"“{text}” in “{column}” is not on record. Add it first, or correct the code.")
        return known.get(text)

    def number_of(self, column: str, default: int = 0) -> int:
        """The cell as a whole number."""
        text = self[column]
        try:
            number = int(text) if text else default
        except ValueError:
            number = MOST + 1
        if abs(number) > MOST:
            self.fault(f"“{text}” in “{column}” is no whole number.")
            return default
        return number

    def ms(self, column: str) -> int:
        """The cell, in seconds, as milliseconds."""
        text = self[column].replace(",", ".")
        try:
            found = round(float(text) * 1000)
        except (ValueError, OverflowError):
            found = -1
        if not 0 <= found <= MOST:
            self.fault(f"“{text}” in “{column}” is no time in seconds. Write it as 12.5.")
            return 0
        return found

    def yes(self, column: str) -> bool:
        """The cell as yes or no; no where empty."""
        text = self[column].lower()
        if text not in ("", "yes", "no", "true", "false", "1", "0"):
            self.fault(f"“{text}” in “{column}” is neither yes nor no.")
        return text in ("yes", "true", "1")

    def language(self, column: str = "language") -> str:
        """The cell, a language by its tag or English name, as a tag; "" where empty."""
        try:
            return languages.tag(self[column]) if self[column] else ""
        except BadInput as error:
            self.fault(f"“{column}”: {error.message} {error.remedy}")
            return ""

    def check(self, column: str, test: Callable[[str], object]) -> str:
        """The cell after a test that raises BadInput."""
        if self[column]:
            try:
                test(self[column])
            except BadInput as error:
                self.fault(f"“{column}”: {error.message} {error.remedy}")
        return self[column]


class Typed:
    """Rows that somebody typed as options of a command: read by the same code as a sheet, and with the same faults."""

    name = "What you typed"

    def __init__(self, *rows: Mapping[str, str]) -> None:
        self.columns = list(dict.fromkeys(column for row in rows for column in row))
        self.table = [[unicodedata.normalize("NFC", row.get(c, "")) for c in self.columns] for row in rows]

    def where(self, row: int) -> str:
        """What stands before a fault of a row (the first has the number 2, as in a sheet)."""
        return ""


class Listed(Typed):
    """Rows that a file holds in a form of its own: `each` is what it calls one."""

    def __init__(self, name: str, each: str, *rows: Mapping[str, str]) -> None:
        super().__init__(*rows)
        self.name, self.each = name, each

    def where(self, row: int) -> str:
        """The file and the number of what is at fault."""
        return f"{self.name}, {self.each} {row - 1}: "


class Sheet:
    """A sheet that was opened: iterate its rows, then call `done`, which raises SheetError with every fault."""

    def __init__(self, path: Path | Typed, needed: Sequence[str], key: Sequence[str] = ()) -> None:
        self.path, self.key = path, tuple(key)
        self.faults: list[str] = []
        if isinstance(path, Typed):
            self.columns, self._table = path.columns, path.table
            return
        text = _text(path)
        first = text.split("\n", 1)[0]
        mark = ";" if first.count(";") > first.count(",") else ","
        # strict: otherwise a quotation mark that is never closed swallows every row after it in silence
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
        table: list[list[str]] = []
        try:
            table.extend(reader)
        except csv.Error:
            raise SheetError(
                f"{path.name}, row {len(table) + 1}: a quotation mark stands alone, or a cell is far too long.",
                (), "Close the quotation mark, and write one inside a cell twice (\"\"). Nothing was taken.",
            ) from None  # fmt: skip
        self.columns = [c.strip().lower() for c in table[0]] if table else []
        twice = sorted({c for c in self.columns if c and self.columns.count(c) > 1})
        if twice:
            raise SheetError(f"{path.name}, row 1: the column “{twice[0]}” stands there twice.", (), "Keep one of them. Nothing was taken.")
        missing = [c for c in needed if c not in self.columns]
        if missing:
            raise SheetError(
                f"{path.name}, row 1: the column {', '.join(f'“{c}”' for c in missing)} is missing.",
                (f"{path.name}, row 1: it has {', '.join(self.columns) or 'no columns'}.",),
                "Add the column (its name in the first row) and read the sheet again. Nothing was taken.",
            )
        self._table = table[1:]

    def fault(self, row: int, words: str) -> None:
        """Note a fault."""
        self.faults.append(self.path.where(row) + words if isinstance(self.path, Typed) else f"{self.path.name}, row {row}: {words}")

    def __iter__(self) -> Iterator[Row]:
        seen: dict[tuple[str, ...], int] = {}
        for number, cells in enumerate(self._table, 2):
            if not any(c.strip() for c in cells) and not isinstance(self.path, Typed):
                continue
            row = Row(self, number, dict(zip(self.columns, (c.strip() for c in cells), strict=False)))
            if len(cells) > len(self.columns) and any(c.strip() for c in cells[len(self.columns) :]):
                row.fault("It has more cells than the first row has columns. Put quotation marks around a cell with commas.")
            if self.key:
                key = tuple(row[c] for c in self.key)
                if key in seen:
                    place = f"in {self._called(seen[key])} already" if self._called(seen[key]) else "twice"
                    row.fault(f"{' '.join(key).strip()} stands {place}. Keep one of them.")
                seen.setdefault(key, number)
            yield row

    def _called(self, row: int) -> str:
        """How a row is called: row 3, feature 2; "" where it was typed."""
        if isinstance(self.path, Listed):
            return f"{self.path.each} {row - 1}"
        return "" if isinstance(self.path, Typed) else f"row {row}"

    def done(self) -> None:
        """Raises SheetError where any fault was found; then nothing of the sheet may be kept."""
        if self.faults:
            count = "a fault" if len(self.faults) == 1 else f"{len(self.faults)} faults"
            remedy = "Nothing was taken. Mend it and give the command again." if isinstance(self.path, Typed) and not isinstance(self.path, Listed) else ""
            raise SheetError(f"{self.path.name} has {count}.", tuple(self.faults), remedy)


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_BYTES:
            raise SheetError(f"{path.name} is too large for a sheet.")
        data = path.read_bytes()
    except OSError:
        raise SheetError(f"{path.name} cannot be opened.", (), "Check the name and try again.") from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SheetError(
            f"{path.name} is not in UTF-8.", (), "Save it again as “CSV UTF-8”. Nothing was taken."
        ) from None
    if "\x00" in text:
        raise SheetError(f"{path.name} is not a sheet.", (), "Save the table as CSV. Nothing was taken.")
    # NFC: a Mac writes names of files in parts, and recordings are on record in NFC
    return unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
