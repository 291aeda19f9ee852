"""The child that reads one PDF with pypdf (fpdf2 wrote it): `python -m archive.gate.scan_pdf_child FILE` prints JSON.

Objects, streams and names: ISO 32000-1:2008 §7.3, §7.5 and §9.
"""

from __future__ import annotations

import io
import json
import re
import struct
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, cast

from pypdf import PdfReader, constants
from pypdf.generic import (
    ContentStream,
    DictionaryObject,
    EncodedStreamObject,
    IndirectObject,
    NameObject,
    StreamObject,
)

from archive.gate.capped import cap
from archive.gate.scan_piece import MOST_CHUNK_BYTES, MOST_TEXT_BYTES, Piece, Unreadable, read_loose_bytes
from archive.gate.scan_xml import read_xml
from archive.render.embedded import SANS, SERIF, faces

CPU_SECONDS = 4
MEMORY_BYTES = 1 << 30
_MOST_OBJECTS = 20_000
_MOST_PAGES = 500
_MOST_WITHIN = 200
_MOST_MAP = 131_072  # two bytes for each of 65,536 letters (§9.7.4.3)
_ID_BYTES = 16
_OBJECT = re.compile(rb"(?:^|[\r\n ])(\d{1,10}) (\d{1,5}) obj\b")
_BODY = re.compile(rb"\d{1,10} \d{1,5} obj\b.*?\bendobj\b", re.DOTALL)
_TABLES = re.compile(rb"\bxref\s[\d\sfn]*|\btrailer\b|\bstartxref\b|%PDF-\d\.\d|%%EOF|%[\x80-\xff]{4}(?=[\r\n])")
_COMMENT = re.compile(rb"^[ \t]*%([^\r\n]*)", re.MULTILINE)
_SHOWING = frozenset((b"Tj", b"TJ", b"'", b'"'))
_PLAIN_FILTERS = frozenset(("/FlateDecode", "/ASCII85Decode", "/ASCIIHexDecode", "/RunLengthDecode"))
_FAMILIES = tuple(f.replace(" ", "").lower() for f in (SERIF, SANS, "Helvetica", "Times", "Courier", "Symbol", "ZapfDingbats"))
_STANDARD = frozenset(
    value
    for group in vars(constants).values()
    if isinstance(group, type)
    for value in vars(group).values()
    if isinstance(value, str) and value.startswith("/")
) | frozenset(
    ("/Page", "/Pages", "/Kids", "/Parent", "/Root", "/Info", "/Lang", "/Text", "/Mark", "/MarkInfo", "/Marked", "/Span")
    + ("/First", "/Last", "/Next", "/Prev", "/Dest", "/Rect", "/Identity", "/Adobe", "/Print", "/Normal", "/Link", "/Fit")
)


class _Reading:
    """One document on its way through: pieces found, and the caps."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.reader = PdfReader(io.BytesIO(data), strict=False)
        self.strings: list[str] = []
        self.names: set[str] = set()
        self.fonts: set[int] = set()
        self.maps: set[int] = set()  # numbers of letters, which would read as letters

    def pieces(self) -> Iterator[Piece]:
        if self.reader.is_encrypted:
            raise Unreadable("the file", "is locked with a password.")
        if self.data.count(b"startxref") != 1:
            raise Unreadable("the file", "was changed after it was written, and may hold what was taken out.")
        yield from self._pages()
        objects = list(self._objects())
        for _, one in objects:
            self._gather(one)
        self._gather(self.reader.trailer)
        for number, one in objects:
            if isinstance(one, StreamObject):
                yield from self._stream(one, number)
        yield Piece("properties, notes, links and fields", "\n".join(self.strings))
        yield Piece("names of parts", "\n".join(sorted(self.names)))
        yield from self._outside({number for number, _ in objects})

    def _pages(self) -> Iterator[Piece]:
        texts = []
        for number, page in enumerate(self.reader.pages, start=1):
            if number > _MOST_PAGES:
                raise Unreadable("the file", f"has more than {_MOST_PAGES} pages.")
            runs: list[tuple[float, float, str]] = []
            text = page.extract_text(visitor_text=_noting(runs))
            texts.append(text)
            yield Piece(f"page {number}", text, by_line="line")
            yield Piece(f"page {number}, closed up", "".join(run for *_, run in runs))
            yield Piece(f"page {number}, closed up by place", "".join(run for *_, run in sorted(runs)))
            yield Piece(f"page {number}, by place", " ".join(run for *_, run in sorted(runs)))
        yield Piece("over the ends of pages", "\n".join(texts))

    def _objects(self) -> Iterator[tuple[int, Any]]:
        known = {(number, 0) for number in self.reader.xref_objStm}
        known |= {(n, generation) for generation, table in self.reader.xref.items() for n in table}
        if len(known) > _MOST_OBJECTS:
            raise Unreadable("the file", f"holds more than {_MOST_OBJECTS} parts.")
        for number, generation in sorted(known):
            one = self.reader.get_object(IndirectObject(number, generation, self.reader))
            if one is not None:
                yield number, one

    def _gather(self, value: Any) -> None:
        """Strings and names of one object, not following what it points to."""
        waiting: list[tuple[Any, int]] = [(value, 0)]
        while waiting:
            one, depth = waiting.pop()
            if depth > _MOST_WITHIN:
                raise Unreadable("the file", "is nested too deeply to be read back.")
            if isinstance(one, IndirectObject):
                continue
            if isinstance(one, DictionaryObject):
                self._check(one)
                for key, held in one.items():
                    self._name(str(key))
                    if key == "/ID" and isinstance(held, list) and all(map(_is_digest, held)):
                        continue
                    waiting.append((dict.__getitem__(one, key) if isinstance(held, IndirectObject) else held, depth + 1))
            elif isinstance(one, list | tuple):
                waiting.extend((held, depth + 1) for held in one)
            elif isinstance(one, NameObject):
                self._name(str(one))
            elif isinstance(one, str):
                self.strings.append(str(one))
            elif isinstance(one, bytes):
                self.strings += [one.decode("latin-1"), one.decode("utf-8", "ignore"), one.decode("utf-16-be", "ignore")]

    def _name(self, name: str) -> None:
        bare = re.sub(r"^/?(?:[A-Z]{6}\+)?", "", name).replace("-", "").replace("_", "").replace(" ", "").lower()
        if name not in _STANDARD and not bare.startswith(_FAMILIES):
            self.names.add(name.lstrip("/"))

    def _check(self, one: DictionaryObject) -> None:
        """What cannot be read, by its type: letters without a table of letters, letters drawn as pictures, programs."""
        kind, subtype = one.get("/Type"), one.get("/Subtype")
        if kind == "/Font" and subtype == "/Type3":
            raise Unreadable("a font", "draws its letters as pictures, which cannot be read back.")
        if kind == "/Font" and subtype == "/Type0" and "/ToUnicode" not in one:
            raise Unreadable("a font", "does not say which letters it draws.")
        if kind == "/EmbeddedFile" or "/EF" in one or "/EmbeddedFiles" in one:
            raise Unreadable("an attachment", "cannot be read back.")
        for key, kept in (("/FontFile", self.fonts), ("/FontFile2", self.fonts), ("/FontFile3", self.fonts), ("/CIDToGIDMap", self.maps)):
            held = one.raw_get(key) if key in one else None
            if isinstance(held, IndirectObject):
                kept.add(held.idnum)

    def _stream(self, one: StreamObject, number: int) -> Iterator[Piece]:
        kind, subtype, where = one.get("/Type"), one.get("/Subtype"), f"part {number}"
        if kind in ("/XRef", "/ObjStm"):
            return
        if subtype == "/Image":
            _check_dots(one, where)
            return
        data = one.get_data()
        if len(data) > MOST_TEXT_BYTES:
            raise Unreadable(where, "unpacks to more than a document may hold.")
        if number in self.maps and len(data) <= _MOST_MAP and len(data) % 2 == 0:
            return
        if number in self.fonts:
            yield from _font_names(data, where)
        elif kind == "/Metadata" or subtype == "/XML":
            yield from read_xml(re.sub(rb"<\?xpacket[^>]*\?>", b"", data).strip() or b"<a/>", "metadata")
            yield from read_loose_bytes(data, "metadata")
        elif subtype == "/Form" or "/PatternType" in one or self._is_content(number):
            yield from self._content(one, data, where, drawn=subtype == "/Form")
        elif len(data) > MOST_CHUNK_BYTES:
            raise Unreadable(where, "is too large for what it says it is.")
        else:
            yield from read_loose_bytes(data, where)

    def _is_content(self, number: int) -> bool:
        if not hasattr(self, "_contents"):
            self._contents: set[int] = set()
            for page in self.reader.pages:
                held = page.raw_get("/Contents") if "/Contents" in page else None
                held = held.get_object() if isinstance(held, IndirectObject) and isinstance(held.get_object(), list) else held
                self._contents |= {h.idnum for h in (held if isinstance(held, list) else [held]) if isinstance(h, IndirectObject)}
        return number in self._contents

    def _content(self, one: StreamObject, data: bytes, where: str, drawn: bool) -> Iterator[Piece]:
        """Drawing orders: text of a drawing within the page, and words that stand beside the shown ones (ActualText, comments)."""
        if drawn:
            yield Piece(f"{where}, words", self.reader.pages[0].extract_xform_text(cast(EncodedStreamObject, one)), by_line="line")
        before = len(self.strings)
        for operands, operator in ContentStream(one, self.reader).operations:
            if operator == b"INLINE IMAGE":
                raise Unreadable(where, "holds a picture among its words that cannot be read back.")
            if operator not in _SHOWING:
                self._gather(operands)
        yield Piece(f"{where}, words beside the shown ones", "\n".join(self.strings[before:]))
        yield from read_loose_bytes(b"\n".join(_COMMENT.findall(data)), f"{where}, comments")

    def _outside(self, known: set[int]) -> Iterator[Piece]:
        """Bytes in no object, and objects that the document's own list does not name."""
        bare = re.sub(rb"\bstream\r?\n.*?\bendstream\b", b"", self.data, flags=re.DOTALL)
        if {int(m.group(1)) for m in _OBJECT.finditer(bare)} - known:
            raise Unreadable("the file", "holds parts that its own list does not name.")
        left = _TABLES.sub(b" ", re.sub(rb"<<.*?>>", b" ", _BODY.sub(b" ", bare), flags=re.DOTALL))
        yield from read_loose_bytes(left[:MOST_CHUNK_BYTES], "outside all parts")
        yield from read_loose_bytes(b"\n".join(re.findall(rb"%([^\r\n]*)", _TABLES.sub(b" ", bare))), "comments")
        if len(left) > MOST_CHUNK_BYTES:
            raise Unreadable("the file", "holds much that belongs to none of its parts.")


def _is_digest(one: object) -> bool:
    """The 16 bytes by chance that tell one document from another (§14.4), which would now and then read as initials."""
    raw = getattr(one, "original_bytes", one)
    return isinstance(raw, bytes) and len(raw) == _ID_BYTES and not all(0x20 <= byte < 0x7F for byte in raw)


def _noting(runs: list[tuple[float, float, str]]) -> Callable[..., None]:
    """Notes each run with its place on the page: from the top, from the left (§8.3.4, §9.4.4)."""

    def note(said: str, current: list[float], text: list[float], *_: object) -> None:
        if words := said.strip("\r\n "):
            x, y = text[4], text[5]
            left, up = (x * current[n] + y * current[n + 2] + current[n + 4] for n in (0, 1))
            runs.append((-round(up), left, words))

    return note


def _check_dots(one: StreamObject, where: str) -> None:
    """A picture may be dots alone: its bytes are counted, other kinds of picture (JPEG, …) carry words and are refused."""
    filters = one.get("/Filter") or []
    filters = [filters] if isinstance(filters, NameObject) else list(filters)
    if not set(map(str, filters)) <= _PLAIN_FILTERS or "/DecodeParms" in one and not isinstance(one["/DecodeParms"], dict):
        raise Unreadable(where, "is a picture of a kind that cannot be read back.")
    space = one.get("/ColorSpace")
    channels = {"/DeviceGray": 1, "/DeviceRGB": 3, "/DeviceCMYK": 4}.get(str(space), 1 if "/ImageMask" in one else 0)
    if isinstance(space, list) and space and space[0] == "/Indexed":
        channels = 1
    bits, width, height = (int(str(one.get(key, 1))) for key in ("/BitsPerComponent", "/Width", "/Height"))
    if not channels or len(one.get_data()) > (width * channels * bits + 7) // 8 * height + 2:
        raise Unreadable(where, "is a picture that holds more than its dots.")


def _font_names(data: bytes, where: str) -> Iterator[Piece]:
    """The words in a font (its table "name", OpenType 1.9.1), but those of the fonts that we ship."""
    if data[:4] not in (b"\0\1\0\0", b"true", b"OTTO"):
        raise Unreadable(where, "is a font of a kind that cannot be read back.")
    for number in range(min(int.from_bytes(data[4:6], "big"), 60)):
        tag, _, start, length = struct.unpack(">4sIII", data[12 + 16 * number : 28 + 16 * number])
        if tag != b"name":
            continue
        table = data[start : start + length]
        count, base = struct.unpack(">HH", table[2:6])
        for at in range(6, 6 + 12 * count, 12):
            size, offset = struct.unpack(">HH", table[at + 8 : at + 12])
            said = table[base + offset : base + offset + size]
            if said and not any(said in face.data for face in faces()):
                yield from read_loose_bytes(said, f"{where}, words in a font")


def read(path: Path) -> dict[str, Any]:
    """All pieces of a document, and (where, why) of a refusal. Never raises for what the document holds."""
    pieces: list[tuple[str, str]] = []
    refused: tuple[str, str] | None = None
    left = 2 * MOST_TEXT_BYTES
    try:
        for piece in _Reading(path.read_bytes()).pieces():
            left -= len(piece.text)
            if left < 0:
                raise Unreadable("the file", "holds more text than can be read back in one file.")
            if piece.text.strip():
                pieces.append((piece.where, piece.text))
    except Unreadable as error:
        refused = (error.where, error.words)
    except MemoryError:
        raise
    except Exception:  # pypdf raises many kinds for what is broken; every one means: not read
        refused = ("the file", "is not a PDF document that can be read back.")
    return {"pieces": pieces, "refused": refused}


def main() -> None:
    """The child: one path as its argument, one answer to standard output."""
    cap(MEMORY_BYTES, CPU_SECONDS)
    sys.stdout.buffer.write(json.dumps(read(Path(sys.argv[1]))).encode("utf-8"))
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
