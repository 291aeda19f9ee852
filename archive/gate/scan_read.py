"""Reads plain files back for the last scan: text, sheets, JSON, captions, HTML. Within caps; not with what wrote them."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path
from typing import Any

from archive.gate.scan_pictures import read_data_addresses
from archive.gate.scan_piece import Piece, Unreadable, utf8, whole

# ---------------------------------------------------------------- plain text


def read_text(path: Path) -> Iterator[Piece]:
    """A plain text file in UTF-8."""
    yield Piece("text", utf8(whole(path), "the file"), by_line="line")


def read_csv(path: Path) -> Iterator[Piece]:
    """A sheet: as text, and cell by cell."""
    text = utf8(whole(path), "the file")
    yield Piece("text", text, by_line="line")
    try:
        rows = list(csv.reader(io.StringIO(text, newline="")))
    except csv.Error as error:
        raise Unreadable("the file", "is not a sheet that can be read back.") from error
    yield Piece("cells", "\n".join(" \n".join(row) for row in rows))
    if sum(map(len, rows)) * 3 > max(map(len, rows), default=0) * len(rows):  # a ragged sheet would grow without end
        yield Piece("columns", "\n".join("\n".join(column) for column in zip_longest(*rows, fillvalue="")))


def read_json(path: Path) -> Iterator[Piece]:
    """Every key and every text of a JSON file, repeated keys too, with escapes undone."""
    text = utf8(whole(path), "the file")
    keys: list[str] = []
    texts: list[str] = []

    def pairs(found: list[tuple[str, Any]]) -> dict[str, Any]:
        for key, value in found:
            keys.append(key)
            gather(value)
        return {}

    def gather(value: object) -> None:
        waiting = [value]
        while waiting:
            one = waiting.pop()
            if isinstance(one, str):
                texts.append(one)
            elif isinstance(one, list):
                waiting.extend(reversed(one))

    try:
        gather(json.loads(text, object_pairs_hook=pairs))
    except (ValueError, RecursionError) as error:
        raise Unreadable("the file", "is not JSON that can be read back.") from error
    yield Piece("text", text, by_line="line")
    yield Piece("keys", "\n".join(keys), any_case=True)
    yield Piece("values", "\n".join(texts))


# ---------------------------------------------------------------- captions

_VTT_TAG = re.compile(r"<([^<>]*)>")
_TIME_LINE = re.compile(r"^[ \t]*[\d:.,]+[ \t]*-->")


def _cue_texts(text: str) -> list[str]:
    """The words of each caption: whatever follows a time line up to an empty line."""
    found: list[list[str]] = []
    inside = False
    for line in text.splitlines():
        if _TIME_LINE.match(line):
            found.append([])
            inside = True
        elif not line.strip():
            inside = False
        elif inside:
            found[-1].append(line)
    return ["\n".join(lines) for lines in found]


def read_captions(path: Path) -> Iterator[Piece]:
    """WebVTT or SRT: the whole text (header, notes, settings), and the words over all cues with tags taken out."""
    text = utf8(whole(path), "the file")
    if path.suffix.lower() == ".vtt" and not text.startswith("WEBVTT"):
        raise Unreadable("the file", "does not begin as a WebVTT file does.")
    if path.suffix.lower() == ".srt" and text.strip() and "-->" not in text:
        raise Unreadable("the file", "holds no time line as an SRT file does.")
    yield Piece("text", text, by_line="line")
    cues = _cue_texts(text)
    yield Piece("captions", "\n".join(_VTT_TAG.sub("", cue) for cue in cues))
    yield Piece("tags", "\n".join(tag for cue in cues for tag in _VTT_TAG.findall(cue)))


# ---------------------------------------------------------------- HTML

# Not html.parser: it takes quadratic time on broken markup (2 MB of "<!" in minutes [measured, Python 3.11]).
_HTML_TAG = re.compile(r"</?([a-zA-Z][a-zA-Z0-9-]*)([^<>]*)>")
_INLINE = frozenset(
    ("a", "abbr", "b", "bdi", "bdo", "cite", "code", "em", "i", "mark", "q", "s", "small", "span", "strong", "sub")
    + ("sup", "u", "wbr")
)


def _without_comments(text: str) -> str:
    kept, at = [], 0
    while (start := text.find("<!--", at)) >= 0:
        kept.append(text[at:start])
        end = text.find("-->", start)
        at = len(text) if end < 0 else end + 3
    return "".join([*kept, text[at:]])


def read_html(path: Path) -> Iterator[Piece]:
    """An HTML page: its source with comments, its words (inline tags closed up), and what stands inside tags."""
    text = utf8(whole(path), "the file")
    yield Piece("source", text, by_line="line")
    bare = _without_comments(text)
    yield Piece("words", _HTML_TAG.sub(lambda m: "" if m.group(1).lower() in _INLINE else "\n", bare))
    yield Piece("tags", "\n".join(m.group(2) for m in _HTML_TAG.finditer(bare)))
    yield from read_data_addresses(text)
