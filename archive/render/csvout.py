"""Rows as CSV: one form safe to open in a spreadsheet, one raw."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from archive.render.sanitise import printable

# A cell that starts with one of these is taken as a formula by spreadsheets (PITFALLS, "CSV formulas").
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def safe_cell(value: object) -> str:
    """The cell's text; an apostrophe goes before whatever a spreadsheet would calculate."""
    text = "" if value is None else printable(str(value))
    if text.startswith(_FORMULA_STARTS) or text.lstrip().startswith(_FORMULA_STARTS):
        return "'" + text
    return text


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[object]], *, raw: bool = False) -> bytes:
    """A sheet in UTF-8, comma separated, CRLF line ends (RFC 4180). `raw`: cells as they are, for machines."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow(["" if c is None else str(c) for c in row] if raw else [safe_cell(c) for c in row])
    return out.getvalue().encode("utf-8")
