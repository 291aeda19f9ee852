"""Reads XML back for the last scan: its words as a page shows them, and everything else that is written in it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from archive.gate.scan_piece import MOST_DEPTH, Piece, Unreadable

_DRAWN_NAMESPACES = ("schemas.openxmlformats.org", "schemas.microsoft.com", "purl.org/dc", "www.w3.org")
# Whole values that every sheet of ours holds and that say nothing, though some are people's names too ("Page").
STANDARD_PARTS = frozenset(
    ("[Content_Types].xml", "_rels/.rels", "docProps/core.xml", "word/_rels/document.xml.rels", "word/document.xml")
    + ("word/_rels/fontTable.xml.rels", "word/fontTable.xml", "word/settings.xml", "word/styles.xml")
    + ("word/footer1.xml", "word/header1.xml", *(f"word/fonts/font{number}.odttf" for number in range(1, 5)))
)
_STANDARD_VALUES = frozenset(
    {"PAGE", "NUMPAGES", "single", "Public Sans", "Literata", "http://schemas.microsoft.com/office/word"}
)
_RUNNING_TEXT = ("/wordprocessingml/", "/drawingml/")  # here only the ends below part words; elsewhere every end does
_BREAKS = {"br": "\n", "cr": "\n", "tab": "\t", "ptab": "\t", "softHyphen": "\u00ad", "noBreakHyphen": "-"}
_INLINE = ("\ntspan", "\ntextPath")  # SVG: a change of style or place within a word
_ENDS = frozenset({"p", "tr", "tc", "comment", "footnote", "endnote", "si", "Relationship"})
_GONE = frozenset({"del", "moveFrom"})
_NEW = frozenset({"ins", "moveTo"})
_XML_START = re.compile(rb"^(?:\xef\xbb\xbf)?\s*<\?xml[^>]*?encoding\s*=\s*[\"']([A-Za-z0-9._-]+)[\"']")


@dataclass
class _Part:
    """One XML part read by expat: its words three ways (as is, deletions away, insertions away) and all else."""

    where: str
    words: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    before: list[str] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)
    attributes: list[str] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    comments: list[str] = field(default_factory=list)
    path: list[str] = field(default_factory=list)
    within: Counter[str] = field(default_factory=Counter)  # how many open elements of each kind stand around the text

    def start(self, name: str, attrs: list[str]) -> None:
        space, _, local = name.rpartition("\n")
        self.path.append(local)
        self.within[local] += 1
        if len(self.path) > MOST_DEPTH:
            raise Unreadable(self.where, "is nested too deeply to be read back.")
        if not any(known in space for known in _DRAWN_NAMESPACES):
            self.names.add(local)
        for key, value in zip(attrs[::2], attrs[1::2], strict=True):
            if value not in _STANDARD_VALUES and value.lstrip("/") not in STANDARD_PARTS:
                self.attributes.append(value)
            key_space, _, key_local = key.rpartition("\n")
            if not any(known in (key_space or space) for known in _DRAWN_NAMESPACES):
                self.names.add(key_local)
            if local == "sym" and key_local == "char":
                self.text(_symbol(value))
        if local in _BREAKS:
            self.text(_BREAKS[local])

    def end(self, name: str) -> None:
        local = name.rpartition("\n")[2]
        inline = name.endswith(_INLINE) or any(running in name for running in _RUNNING_TEXT)
        if local in _ENDS or not inline:
            self.text("\n")
        self.within[self.path.pop()] -= 1

    def text(self, data: str) -> None:
        if self.within["instrText"] or self.within["delInstrText"]:
            self.codes.append(data)
            return
        self.words.append(data)
        if not any(self.within[gone] for gone in _GONE):
            self.kept.append(data)
        if not any(self.within[new] for new in _NEW):
            self.before.append(data)

    def pieces(self) -> Iterator[Piece]:
        whole = "".join(self.words)
        yield Piece(f"{self.where}, words", whole, by_line="paragraph")
        for label, parts in (("words without deletions", self.kept), ("words without insertions", self.before)):
            if (other := "".join(parts)) != whole:
                yield Piece(f"{self.where}, {label}", other, by_line="paragraph")
        yield Piece(f"{self.where}, field codes", "".join(self.codes))
        yield Piece(f"{self.where}, attributes", "\n".join(dict.fromkeys(self.attributes)))
        yield Piece(f"{self.where}, names of elements", "\n".join(sorted(self.names)), any_case=True)
        yield Piece(f"{self.where}, comments of the file", "\n".join(self.comments))


def _symbol(code: str) -> str:
    try:
        return chr(int(code, 16))
    except (ValueError, OverflowError):
        return ""


def _refuse(where: str, words: str) -> Callable[..., int]:
    def refuse(*_: object) -> int:
        raise Unreadable(where, words)

    return refuse


def read_xml(data: bytes, where: str) -> Iterator[Piece]:
    """One XML part in UTF-8. A document type (and with it every entity of its own) is refused."""
    declared = _XML_START.match(data)
    if (declared and declared.group(1).lower() not in (b"utf-8", b"us-ascii", b"ascii")) or b"\x00" in data[:4]:
        raise Unreadable(where, "is not written in UTF-8.")
    part = _Part(where)
    parser = expat.ParserCreate("utf-8", namespace_separator="\n")
    parser.ordered_attributes = True
    parser.buffer_text = True
    parser.StartElementHandler = part.start
    parser.EndElementHandler = part.end
    parser.CharacterDataHandler = part.text
    parser.CommentHandler = part.comments.append
    parser.ProcessingInstructionHandler = lambda target, words: part.comments.append(f"{target} {words}")
    parser.StartDoctypeDeclHandler = _refuse(where, "brings a document type of its own.")
    parser.EntityDeclHandler = _refuse(where, "brings entities of its own.")
    parser.ExternalEntityRefHandler = _refuse(where, "points outside itself.")
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise Unreadable(where, "is not XML that can be read back.") from error
    yield from part.pieces()
