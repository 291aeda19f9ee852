"""Reads pictures back for the last scan: PNG by its chunks, SVG as XML. What is drawn with dots cannot be read by a machine of ours.

Chunks and their layouts: W3C, Portable Network Graphics (Third Edition), 24 June 2025, §5 and §11.
"""

from __future__ import annotations

import base64
import binascii
import re
import struct
import zlib
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote_to_bytes

from archive.gate.scan_piece import (
    MOST_CHUNK_BYTES,
    MOST_MEMBER_BYTES,
    MOST_MEMBERS,
    MOST_TEXT_BYTES,
    Piece,
    Unreadable,
    read_loose_bytes,
    utf8,
    whole,
)
from archive.gate.scan_xml import read_xml

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_NUMBERS = frozenset({b"gAMA", b"cHRM", b"sRGB", b"sBIT", b"bKGD", b"tRNS", b"pHYs", b"tIME", b"hIST", b"PLTE", b"cICP"})
_MOST_NUMBERS = 800  # a palette is the longest: 256 colours of 3 bytes
_TEXTS = frozenset({b"tEXt", b"eXIf", b"sPLT"})
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_MOST_DOTS_BYTES = 64_000_000
_DATA_ADDRESS = re.compile(r"data:([\w.+/-]*)((?:;[\w.=+-]*)*),([^\"')\s>]*)", re.IGNORECASE)


def read_png(path: Path) -> Iterator[Piece]:
    """A PNG file: text chunks, packed ones too, EXIF, names of profiles, and bytes where no picture is."""
    yield from read_png_bytes(whole(path, MOST_MEMBER_BYTES), "the file")


def read_png_bytes(data: bytes, where: str) -> Iterator[Piece]:
    """As `read_png`, for a picture within another file. Raises Unreadable."""
    if data[:8] != _SIGNATURE:
        raise Unreadable(where, "is not a PNG picture.")
    dots = bytearray()
    at, size, others = 8, 0, 0
    while True:
        head = data[at : at + 8]
        if len(head) < 8:
            raise Unreadable(where, "is a picture that stops before its end.")
        length, kind = struct.unpack(">I4s", head)
        body = data[at + 8 : at + 8 + length]
        if len(body) < length:
            raise Unreadable(where, "is a picture that does not hold what it says it holds.")
        at += 12 + length
        if kind == b"IHDR":
            size = _dots_bytes(body, where)
        elif kind == b"IDAT":
            dots += body
        elif kind == b"IEND":
            break
        else:
            others += 1
            if others > MOST_MEMBERS:
                raise Unreadable(where, f"holds more than {MOST_MEMBERS} chunks.")
            yield from _chunk(kind, body, where)
    _check_dots(bytes(dots), size, where)
    yield from read_loose_bytes(data[at : at + MOST_CHUNK_BYTES], f"{where}, after the picture")
    if len(data) > at:
        raise Unreadable(where, "holds something behind its picture.")


def _chunk(kind: bytes, body: bytes, where: str) -> Iterator[Piece]:
    place = f"{where}, chunk {kind.decode('ascii')}" if kind.isalpha() and kind.isascii() else where
    if len(body) > MOST_CHUNK_BYTES:
        raise Unreadable(place, "is too large for what it says it is.")
    if kind in _NUMBERS and len(body) <= _MOST_NUMBERS:
        return
    if kind in _TEXTS:
        yield from read_loose_bytes(body, place)
    elif kind in (b"zTXt", b"iCCP"):
        name, _, rest = body.partition(b"\0")
        yield from read_loose_bytes(name + b"\n" + unpacked(rest[1:], place), place)
    elif kind == b"iTXt":
        yield from read_loose_bytes(_international(body, place), place)
    else:
        raise Unreadable(place, "is a chunk of a kind that cannot be read back.")


def _international(body: bytes, where: str) -> bytes:
    """Keyword, language, translated keyword and text of an iTXt chunk (§11.3.3.4), one under the other."""
    name, _, rest = body.partition(b"\0")
    if len(rest) < 2:
        raise Unreadable(where, "is too short for what it says it is.")
    language, _, more = rest[2:].partition(b"\0")
    translated, _, text = more.partition(b"\0")
    return b"\n".join((name, language, translated, unpacked(text, where) if rest[0] else text))


def unpacked(data: bytes, where: str, most: int = MOST_CHUNK_BYTES) -> bytes:
    """A zlib stream undone, at most so many bytes. Raises Unreadable."""
    stream = zlib.decompressobj()
    try:
        found = stream.decompress(data, most + 1)
    except zlib.error as error:
        raise Unreadable(where, "cannot be unpacked.") from error
    if len(found) > most:
        raise Unreadable(where, "unpacks to more than it may hold.")
    return found + b"\n" + stream.unused_data


def _dots_bytes(head: bytes, where: str) -> int:
    """How many bytes the dots of this picture take at most. Raises Unreadable for more than a screen ever shows."""
    if len(head) != 13 or head[9] not in _CHANNELS:
        raise Unreadable(where, "is not a PNG picture.")
    width, height = struct.unpack(">II", head[:8])
    row = (width * head[8] * _CHANNELS[head[9]] + 7) // 8 + 1
    size: int = row * height
    if head[12]:
        size += height * 7 + 64 * 8  # interlaced in seven passes: at most one filter byte more a row and pass
    if size > _MOST_DOTS_BYTES:
        raise Unreadable(where, "is a picture too large to be read back.")
    return size


def _check_dots(data: bytes, size: int, where: str) -> None:
    """The picture's stream ends where its dots end: nothing is packed behind them."""
    stream = zlib.decompressobj()
    done, rest = 0, data
    try:
        while rest and not stream.eof and done <= size:
            done += len(stream.decompress(rest, 1 << 20))
            rest = stream.unconsumed_tail
    except zlib.error as error:
        raise Unreadable(where, "is a picture that cannot be unpacked.") from error
    if not size or done > size or not stream.eof or stream.unused_data:
        raise Unreadable(where, "is a picture that holds more, or less, than its dots.")


def read_svg(path: Path) -> Iterator[Piece]:
    """A drawing in SVG: its words as drawn, titles, attributes, styles, comments; pictures within it are read too."""
    data = whole(path)
    text = utf8(data, "the file")
    if "<svg" not in text[:4000] and ":svg" not in text[:4000]:
        raise Unreadable("the file", "is not an SVG drawing.")
    yield Piece("source", text, by_line="line")
    yield from read_xml(data, "drawing")
    yield from read_data_addresses(text)


def read_data_addresses(text: str) -> Iterator[Piece]:
    """Whatever is packed into the addresses of a page or drawing ("data:…", RFC 2397): text and PNG are read, all else refused."""
    for number, found in enumerate(_DATA_ADDRESS.finditer(text)):
        where = "something packed into an address"
        kind, options, packed = found.group(1).lower(), found.group(2).lower(), found.group(3)
        if number >= MOST_MEMBERS:
            raise Unreadable(where, f"is one of more than {MOST_MEMBERS}, too many to be read back.")
        data = unquote_to_bytes(packed)
        if ";base64" in options:
            try:
                data = base64.b64decode(data, validate=False)
            except (binascii.Error, ValueError) as error:
                raise Unreadable(where, "cannot be unpacked.") from error
        if kind == "image/png":
            yield from read_png_bytes(data, where)
        elif (not kind or kind.startswith("text/") or kind.endswith(("json", "xml"))) and len(data) <= MOST_TEXT_BYTES:
            yield from read_loose_bytes(data, where)
        else:
            raise Unreadable(where, "is of a kind that cannot be read back.")
