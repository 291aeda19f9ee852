"""Reads scripts that are tables (CSV, semicolons, tabs: start, end, speaker, words) and our own JSON. Pure."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from typing import Any

from archive.domain.script import Line, Script
from archive.errors import BadInput, SheetError
from archive.rules.script_text import label_of, words_of
from archive.rules.script_times import MOST_MS, time_ms

# Names of columns as sheets have them, the first being ours (common practice, no source).
_COLUMNS = {
    "start": ("start_s", "start", "start_ms", "from", "begin", "start time", "in", "time"),
    "end": ("end_s", "end", "end_ms", "to", "until", "end time", "out"),
    "speaker": ("speaker", "person", "who", "name", "speaker name"),
    "words": ("words", "text", "transcript", "transcription", "utterance", "said"),
}
_SPREADSHEET_GUARD = "'"  # stands before = + - @ where a sheet was written so that no spreadsheet reckons with it


def _cells(text: str) -> list[list[str]]:
    """The rows of a sheet, parted by the sign that its first row has most of."""
    first = text.split("\n", 1)[0]
    mark = max(("\t", ";", ","), key=first.count)
    rows: list[list[str]] = []
    try:
        rows.extend(csv.reader([f"{line}\n" for line in text.split("\n")], delimiter=mark, strict=True))
    except csv.Error:
        raise SheetError(
            f"Row {len(rows) + 1}: a quotation mark stands alone, or a cell is far too long.",
            (), "Close the quotation mark, and write one inside a cell twice (\"\"). Nothing was changed.",
        ) from None  # fmt: skip
    return rows


def _columns(first: Sequence[str]) -> dict[str, int]:
    """Which cell holds what, by the names in the first row."""
    named = [" ".join(c.lower().replace("_", " ").split()) for c in first]
    found = {}
    for what, names in _COLUMNS.items():
        at = next((named.index(n.replace("_", " ")) for n in names if n.replace("_", " ") in named), None)
        if at is not None:
            found[what] = at
    return found


def is_table(text: str) -> bool:
    """True where the first row names a column of words and one more, or begins with two times."""
    try:
        rows = _cells("\n".join(text.split("\n", 2)[:2]))
    except SheetError:
        return False
    return bool(rows) and (_is_headed(rows[0]) or _is_bare(rows[0]))


def _is_headed(first: Sequence[str]) -> bool:
    return "words" in (found := _columns(first)) and len(found) > 1


def _is_bare(first: Sequence[str]) -> bool:
    return len(first) >= 3 and time_ms(first[0]) is not None and time_ms(first[1]) is not None


def read_table(text: str) -> Script:
    """A table of intervals as a script: times in seconds or as a clock, in milliseconds where the column says so.

    Without a first row of names its columns are start, end, speaker (where there are four) and words. Raises SheetError
    with every fault; then nothing is taken.
    """
    rows = _cells(text)
    headed = bool(rows) and _is_headed(rows[0])
    if not rows or not (headed or _is_bare(rows[0])):
        raise SheetError("This table has no column of words that can be told.", (), "Name its columns start_s, end_s, speaker and words in the first row. Nothing was changed.")
    bare = {"start": 0, "end": 1, "speaker": 2, "words": 3} if len(rows[0]) > 3 else {"start": 0, "end": 1, "words": 2}
    columns = _columns(rows[0]) if headed else bare
    in_ms = {what for what, at in columns.items() if headed and rows[0][at].strip().lower().endswith("ms")}
    faults: list[str] = []
    lines = []
    for number, cells in enumerate(rows[1:] if headed else rows, 2 if headed else 1):
        cell = {what: cells[at].strip() if at < len(cells) else "" for what, at in columns.items()}
        words = words_of(cell["words"].removeprefix(_SPREADSHEET_GUARD) if cell["words"][1:2] in ("=", "+", "-", "@") else cell["words"])
        times: dict[str, int | None] = {}
        for what in ("start", "end"):
            text_of = cell.get(what, "")
            times[what] = (time_ms(text_of) if what not in in_ms else _whole(text_of)) if text_of else None
            if text_of and times[what] is None:
                faults.append(f"Row {number}: its {what} is no time. Write it in seconds (12.5) or as 0:00:12.5.")
        if words:
            lines.append(Line(words, label_of(cell.get("speaker", "")), times["start"], times["end"], place=f"row {number}"))
    if faults:
        raise SheetError("The table has faults.", tuple(faults), "Mend the rows named above and read it again. Nothing was changed.")
    return Script("table", tuple(lines))


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None


def is_json(text: str) -> bool:
    """True where the text begins as our JSON does."""
    return text.lstrip()[:1] == "{"


def read_json(text: str) -> Script:
    """Our own JSON (DEVELOPERS.md, “A transcript as JSON”) as a script. Raises BadInput with the first place that cannot be understood."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        raise BadInput("This JSON is damaged.", "Look whether the file is whole. Nothing was changed.") from None
    utterances = found.get("utterances") if isinstance(found, dict) else None
    if not isinstance(utterances, list):
        raise BadInput("This JSON has no list of utterances.", "DEVELOPERS.md says how a transcript is written as JSON. Nothing was changed.")
    lines = [line for n, said in enumerate(utterances, 1) if (line := _utterance(said, f"utterance {n}")) is not None]
    return Script("JSON", tuple(lines))


def _utterance(said: Any, place: str) -> Line | None:
    if not isinstance(said, dict):
        raise _misshapen(place)
    spoken, text = said.get("words", []), said.get("text", "")
    if not isinstance(spoken, list) or not isinstance(text, str) or not isinstance(said.get("speaker") or "", str):
        raise _misshapen(place)
    words: list[str] = []
    at: list[tuple[int, int]] = []
    for item in spoken:
        if not (isinstance(item, list) and len(item) >= 3 and isinstance(item[0], str)):
            raise _misshapen(place)
        start_ms, end_ms = _moment(item[1], place), _moment(item[2], place)
        for part in words_of(item[0]):
            words.append(part)
            at.append((start_ms, end_ms))
    if not words:
        words = list(words_of(text))
    times = [_moment(said[key], place) if said.get(key) is not None else None for key in ("start_ms", "end_ms")]
    return Line(tuple(words), label_of(said.get("speaker") or ""), times[0], times[1], tuple(at), place) if words else None


def _moment(value: Any, place: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= MOST_MS:
        raise _misshapen(place)
    return value


def _misshapen(place: str) -> BadInput:
    return BadInput(
        f"The JSON cannot be understood at {place}.", "Times are whole milliseconds, words are [text, start_ms, end_ms]. Nothing was changed."
    )
