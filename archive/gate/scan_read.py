"""Reads finished files back with readers that did not write them: text, metadata, names of parts. Within caps.

Each reader returns pieces of text; what it cannot read is a refusal in words.
"""

from __future__ import annotations

import csv
import io
import json
import re
import struct
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO
from xml.parsers import expat

MOST_TEXT_BYTES = 10_000_000
MOST_MEMBERS = 500
MOST_MEMBER_BYTES = 10_000_000
MOST_ZIP_BYTES = 30_000_000
MOST_RATIO = 300  # a member that unpacks to more than this many times its size, past a megabyte, is a bomb
MOST_CHUNK_BYTES = 1_000_000
MOST_DEPTH = 500


@dataclass(frozen=True, slots=True)
class Piece:
    """Some text of a file. `by_line`: the line within it helps a person; `any_case`: a name counts in lower case too."""

    where: str
    text: str
    by_line: str = ""
    any_case: bool = False


class Unreadable(Exception):
    """A file, or a part of one, that cannot be read back. `where`, and a sentence that holds nothing of its content."""

    def __init__(self, where: str, words: str) -> None:
        super().__init__(words)
        self.where = where
        self.words = words


# ---------------------------------------------------------------- plain text


def _utf8(data: bytes, where: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Unreadable(where, "is not written in UTF-8, so it cannot be read back.") from error


def _whole(path: Path) -> bytes:
    if path.stat().st_size > MOST_TEXT_BYTES:
        raise Unreadable("the file", f"is larger than {MOST_TEXT_BYTES // 1_000_000} MB, too large to be read back.")
    return path.read_bytes()


def read_text(path: Path) -> Iterator[Piece]:
    """A plain text file in UTF-8."""
    yield Piece("text", _utf8(_whole(path), "the file"), by_line="line")


def read_csv(path: Path) -> Iterator[Piece]:
    """A sheet: as text, and cell by cell."""
    text = _utf8(_whole(path), "the file")
    yield Piece("text", text, by_line="line")
    try:
        rows = [" \n".join(row) for row in csv.reader(io.StringIO(text, newline=""))]
    except csv.Error as error:
        raise Unreadable("the file", "is not a sheet that can be read back.") from error
    yield Piece("cells", "\n".join(rows))


def read_json(path: Path) -> Iterator[Piece]:
    """Every key and every text of a JSON file, repeated keys too, with escapes undone."""
    text = _utf8(_whole(path), "the file")
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
    text = _utf8(_whole(path), "the file")
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
    text = _utf8(_whole(path), "the file")
    yield Piece("source", text, by_line="line")
    bare = _without_comments(text)
    yield Piece("words", _HTML_TAG.sub(lambda m: "" if m.group(1).lower() in _INLINE else "\n", bare))
    yield Piece("tags", "\n".join(m.group(2) for m in _HTML_TAG.finditer(bare)))


# ---------------------------------------------------------------- DOCX

_DRAWN_NAMESPACES = ("schemas.openxmlformats.org", "schemas.microsoft.com", "purl.org/dc", "www.w3.org")
# Whole values that every sheet of ours holds and that say nothing, though some are people's names too ("Page").
_STANDARD_PARTS = frozenset(
    ("[Content_Types].xml", "_rels/.rels", "docProps/core.xml", "word/_rels/document.xml.rels", "word/document.xml")
    + ("word/_rels/fontTable.xml.rels", "word/fontTable.xml", "word/settings.xml", "word/styles.xml")
    + ("word/footer1.xml", "word/header1.xml", *(f"word/fonts/font{number}.odttf" for number in range(1, 5)))
)
_STANDARD_VALUES = frozenset(
    {"PAGE", "NUMPAGES", "single", "Public Sans", "Literata", "http://schemas.microsoft.com/office/word"}
)
_RUNNING_TEXT = ("/wordprocessingml/", "/drawingml/")  # here only the ends below part words; elsewhere every end does
_BREAKS = {"br": "\n", "cr": "\n", "tab": "\t", "ptab": "\t", "softHyphen": "\u00ad", "noBreakHyphen": "-"}
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
            if value not in _STANDARD_VALUES and value.lstrip("/") not in _STANDARD_PARTS:
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
        if local in _ENDS or not any(running in name for running in _RUNNING_TEXT):
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


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, where: str, left: int) -> bytes:
    """One member's bytes, counted while they unpack: what a zip says of its own sizes is not believed."""
    if info.flag_bits & 0x1:
        raise Unreadable(where, "is locked with a password.")
    most = min(MOST_MEMBER_BYTES, left, max(1_000_000, info.compress_size * MOST_RATIO))
    try:
        with archive.open(info) as stream:
            data = stream.read(most + 1)
    except (zipfile.BadZipFile, NotImplementedError, EOFError, OSError, RuntimeError, ValueError) as error:
        raise Unreadable(where, "cannot be unpacked.") from error
    except Exception as error:  # zlib.error and its like: one per method of packing
        raise Unreadable(where, "cannot be unpacked.") from error
    if len(data) > most:
        raise Unreadable(where, "unpacks to more than a document may hold.")
    return data


def _outside_members(path: Path, archive: zipfile.ZipFile, infos: list[zipfile.ZipInfo]) -> Iterator[Piece]:
    """Text in the zip itself: names, comments, extra fields, and bytes before or after the members."""
    yield Piece("names of parts", "\n".join(i.filename for i in infos if i.filename not in _STANDARD_PARTS), any_case=True)
    loose = [archive.comment, *(i.comment for i in infos), *(i.extra for i in infos)]
    with path.open("rb") as stream:
        first = min((i.header_offset for i in infos), default=0)
        if first:
            loose.append(stream.read(min(first, MOST_CHUNK_BYTES)))
    for data in loose:
        if data:
            yield from read_loose_bytes(data, "the container")


def read_docx(path: Path, known_parts: frozenset[str], digest: Callable[[bytes], str]) -> Iterator[Piece]:
    """A DOCX: every part, its properties, custom XML, links, comments, footnotes; parts that are no XML are refused.

    `known_parts`: digests of binary parts that the product itself ships (its fonts).
    """
    try:
        archive = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError, ValueError) as error:
        raise Unreadable("the file", "is not a DOCX document.") from error
    with archive:
        infos = archive.infolist()
        if len(infos) > MOST_MEMBERS:
            raise Unreadable("the file", f"holds more than {MOST_MEMBERS} parts.")
        if sum(i.file_size for i in infos) > MOST_ZIP_BYTES:
            raise Unreadable("the file", "unpacks to more than a document may hold.")
        names = [i.filename for i in infos]
        if len({n.lower() for n in names}) != len(names):
            raise Unreadable("the file", "holds two parts of one name.")
        if "word/document.xml" not in names:
            raise Unreadable("the file", "is not a DOCX document.")
        yield from _outside_members(path, archive, infos)
        left = MOST_ZIP_BYTES
        for number, info in enumerate(infos, start=1):
            where = info.filename if re.fullmatch(r"[A-Za-z0-9_./\[\]-]{1,120}", info.filename) else f"part {number}"
            data = _member(archive, info, where, left)
            left -= len(data)
            if info.filename.endswith("/") and not data:
                continue
            if info.filename.endswith((".xml", ".rels")):
                yield from read_xml(data, where)
            elif digest(data) not in known_parts:
                raise Unreadable(where, "is a part of a kind that cannot be read back.")


# ---------------------------------------------------------------- WAV

_SOUND_CHUNKS = frozenset({b"data"})
_PLAIN_CHUNKS = frozenset(
    {b"fmt ", b"fact", b"cue ", b"smpl", b"inst", b"PEAK", b"ds64", b"LIST", b"bext", b"iXML", b"axml", b"_PMX"}
    | {b"id3 ", b"ID3 ", b"JUNK", b"junk", b"PAD ", b"FLLR", b"chna", b"umid", b"cart", b"DISP", b"levl", b"note"}
)


def read_loose_bytes(data: bytes, where: str) -> Iterator[Piece]:
    """Bytes that may hold text in any of the usual encodings, each tried."""
    for label, encoding, start in (
        ("UTF-8", "utf-8", 0),
        ("Latin-1", "latin-1", 0),
        ("UTF-16", "utf-16-le", 0),
        ("UTF-16", "utf-16-le", 1),
        ("UTF-16", "utf-16-be", 0),
        ("UTF-16", "utf-16-be", 1),
    ):
        text = data[start:].decode(encoding, errors="replace" if encoding == "utf-8" else "ignore")
        yield Piece(f"{where} ({label})", text)
        if encoding == "utf-8" and "\x00" in text:
            yield Piece(f"{where} ({label})", text.replace("\x00", ""))


def _packed_id3(data: bytes) -> bool:
    """True where an ID3v2 tag has frames that are compressed, encrypted or unsynchronised (ID3v2.3 §3.3.1, 2.4 §4.1)."""
    if data[:3] != b"ID3" or len(data) < 10:
        return False
    version, flags = data[3], data[5]
    if flags & 0x80:
        return True
    at, mask = 10, 0xC0 if version == 3 else 0x0E
    while at + 10 <= len(data) and data[at : at + 4].isalnum():
        size = int.from_bytes(data[at + 4 : at + 8], "big")
        if version >= 4:
            size = sum((byte & 0x7F) << shift for byte, shift in zip(data[at + 4 : at + 8], (21, 14, 7, 0), strict=True))
        if data[at + 9] & mask:
            return True
        at += 10 + size
    return False


def read_wav(path: Path) -> Iterator[Piece]:
    """A WAV file (RIFF, RF64): every chunk but the sound (LIST INFO, bext, iXML, ID3, …) and what follows the last one."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(12)
        if len(head) < 12 or head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
            raise Unreadable("the file", "is not a WAV file.")
        yield from _chunks(stream, size)


def _chunks(stream: BinaryIO, size: int) -> Iterator[Piece]:
    sound_bytes: int | None = None
    has_sound = False
    for _ in range(MOST_MEMBERS):
        header = stream.read(8)
        if len(header) < 8:
            if header:
                yield from read_loose_bytes(header, "the end of the file")
            break
        kind, length = header[:4], struct.unpack("<I", header[4:])[0]
        where = f"chunk {kind.decode('latin-1').strip()}" if kind.isascii() and kind.isalnum() else "a chunk"
        if kind in _SOUND_CHUNKS:
            length = sound_bytes if length == 0xFFFFFFFF and sound_bytes is not None else length
            if has_sound or stream.tell() + length > size:
                raise Unreadable(where, "does not hold the sound that it says it holds.")
            has_sound = True
            stream.seek(length + (length & 1), io.SEEK_CUR)
            continue
        if kind not in _PLAIN_CHUNKS:
            raise Unreadable(f"a chunk after {stream.tell() - 8} bytes", "is of a kind that cannot be read back.")
        if length > MOST_CHUNK_BYTES:
            raise Unreadable(where, "is too large for what it says it is.")
        data = stream.read(length + (length & 1))
        if kind == b"ds64" and len(data) >= 16:
            sound_bytes = struct.unpack("<Q", data[8:16])[0]
        if kind in (b"id3 ", b"ID3 ") and _packed_id3(data):
            raise Unreadable(where, "holds a packed or encrypted tag.")
        if kind != b"fmt ":
            yield from read_loose_bytes(data, where)
    else:
        raise Unreadable("the file", f"holds more than {MOST_MEMBERS} chunks.")
    if not has_sound:
        raise Unreadable("the file", "holds no sound.")
