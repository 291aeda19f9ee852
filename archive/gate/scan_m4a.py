"""Reads M4A files back for the last scan: every box but the tables and the sound; mutagen reads the tags once more.

Boxes: ISO/IEC 14496-12 (2022) §4.2, §8; chapters and tags are common practice (QuickTime file format).
"""

from __future__ import annotations

import mmap
import struct
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from mutagen import MutagenError
from mutagen.mp4 import MP4

from archive.gate.scan_piece import MOST_CHUNK_BYTES, MOST_MEMBERS, Piece, Unreadable, mapped, read_loose_bytes
from archive.gate.scan_tags import Found, is_picture

_FOLDERS = frozenset((b"moov", b"trak", b"mdia", b"minf", b"stbl", b"udta", b"ilst", b"edts", b"dinf", b"moof", b"traf"))
# Tables of numbers: bytes before the count, bytes an entry.
_TABLES = {
    b"stts": (4, 8), b"ctts": (4, 8), b"stsc": (4, 12), b"stco": (4, 4), b"co64": (4, 8), b"stss": (4, 4), b"elst": (4, 12),
}  # fmt: skip
_SOUND = {b"mp4a", b"alac", b"Opus", b"fLaC"}
_MOST_WITHIN = 12
_MOST_UNUSED = 1024
_TAGS = "box ilst"
_MP4: Any = MP4  # typed in part only


@dataclass
class _Boxes:
    """What a file's boxes hold: loose bytes with their box, the sound's own regions, tables that say where the sound lies."""

    loose: list[tuple[str, bytes]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    pictures: list[bytes] = field(default_factory=list)
    sound: list[tuple[int, int]] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    chunks: list[int] = field(default_factory=list)
    runs: list[tuple[int, int]] = field(default_factory=list)
    tracks: int = 0
    count: int = 0


def read_m4a(path: Path) -> Iterator[Piece]:
    """An M4A with one track of sound: tags, names, chapters, cover (PNG or refused), free space, bytes that no sample uses."""
    with mapped(path) as data, path.open("rb") as stream:
        yield from _read(data, stream)


def _read(data: mmap.mmap, stream: BinaryIO) -> Iterator[Piece]:
    if data[4:8] != b"ftyp":
        raise Unreadable("the file", "is not an M4A file.")
    boxes = _Boxes()
    _walk(data, 0, len(data), boxes, 0, "")
    if boxes.tracks != 1:
        raise Unreadable("the file", "holds no sound." if not boxes.tracks else "holds more than its one track of sound.")
    tags = _tags(stream)
    tags.pictures += boxes.pictures
    yield from tags.pieces("tags")
    yield Piece("names of boxes", "\n".join(boxes.names))
    unused = _unused(boxes, len(data))
    between = [("between the sound", data[at : min(end, at + MOST_CHUNK_BYTES)]) for at, end in unused]
    if len(unused) > MOST_MEMBERS or sum(len(part) for _, part in boxes.loose) > 2 * MOST_CHUNK_BYTES:
        raise Unreadable("the file", "holds much that is no sound.")
    for where, part in [*boxes.loose, *between]:
        for picture in tags.pictures:
            part = part.replace(picture, b"\n")
        yield from read_loose_bytes(part, where)
    if sum(end - at for at, end in unused) > _MOST_UNUSED:
        raise Unreadable("the sound", "holds much that is no sound.")


def _tags(stream: BinaryIO) -> Found:
    found = Found()
    try:
        sound = _MP4(stream)
        for key, value in (sound.tags or {}).items():
            found.gather(key, 0)
            found.gather([bytes(v) if isinstance(v, bytes) else v for v in value] if isinstance(value, list) else value, 0)
        for chapter in sound.chapters or []:
            found.texts.append(str(chapter.title))
    except (MutagenError, ValueError, KeyError, IndexError, RecursionError, struct.error, OverflowError) as error:
        raise Unreadable("tags", "cannot be read back.") from error
    return found


def _walk(data: mmap.mmap, at: int, end: int, boxes: _Boxes, depth: int, inside: str) -> None:
    if depth > _MOST_WITHIN:
        raise Unreadable("the file", "is nested too deeply to be read back.")
    while at < end:
        boxes.count += 1
        if boxes.count > 20 * MOST_MEMBERS:
            raise Unreadable("the file", "holds too many parts to be read back.")
        if end - at < 8:
            boxes.loose.append((inside or "the end of the file", data[at:end]))
            return
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        head = 8
        if size == 1 and end - at >= 16:
            size, head = struct.unpack(">Q", data[at + 8 : at + 16])[0], 16
        elif size == 0:
            size = end - at
        if size < head or at + size > end:
            raise Unreadable(inside or "the file", "does not hold what it says it holds.")
        if inside == _TAGS:
            boxes.names.append(kind.decode("latin-1"))
            _walk(data, at + head, at + size, boxes, depth + 1, "a tag")
        else:
            _box(data, at + head, at + size, kind, boxes, depth)
        at += size


def _box(data: mmap.mmap, at: int, end: int, kind: bytes, boxes: _Boxes, depth: int) -> None:
    where = f"box {kind.decode('ascii')}" if kind.isalnum() and kind.isascii() else "a box"
    if kind == b"mdat":
        boxes.sound.append((at, end))
        return
    boxes.names.append(kind.decode("latin-1"))
    if kind in (b"moof", b"mfra", b"sidx"):
        raise Unreadable(where, "is of a kind that cannot be read back.")
    if kind == b"trak":
        boxes.tracks += 1
    if kind in _FOLDERS:
        _walk(data, at, end, boxes, depth + 1, where)
        return
    if end - at > MOST_CHUNK_BYTES and kind not in (*_TABLES, b"stsz", b"free", b"skip"):
        raise Unreadable(where, "is too large for what it says it is.")
    body = data[at:end]
    if kind == b"data" and is_picture(body[8:]):  # type, locale, then what mutagen would see in the first list alone
        boxes.pictures.append(body[8:])
        return
    if kind in (b"free", b"skip", b"wide") and not any(body):
        return
    if kind == b"meta":
        skip = 0 if body[4:8] == b"hdlr" else 4
        boxes.loose.append((where, body[:skip]))
        _walk(data, at + skip, end, boxes, depth + 1, where)
    elif kind == b"hdlr" and body[8:12] not in (b"soun", b"mdir", b"mdta", b"\0\0\0\0"):
        raise Unreadable("the file", "holds a track that is no sound.")
    elif kind == b"stsd" and body[12:16] not in _SOUND:
        raise Unreadable("the file", "holds sound of a kind that cannot be read back.")
    else:
        _keep(kind, body, where, boxes)


def _keep(kind: bytes, body: bytes, where: str, boxes: _Boxes) -> None:
    """Tables are taken apart, so that their numbers are not taken for letters; the rest is loose."""
    used = 0
    if kind == b"stsz" and len(body) >= 12:
        fixed, count = struct.unpack(">II", body[4:12])
        used = 12 + (0 if fixed else 4 * count)
        if used <= len(body) and count <= 10_000_000:
            boxes.sizes = [fixed] * count if fixed else list(struct.unpack(f">{count}I", body[12:used]))
    elif kind in _TABLES and len(body) >= 8:
        (count,) = struct.unpack(">I", body[4:8])
        used = 8 + count * (_TABLES[kind][1] if kind != b"elst" or not body[0] else 20)
        if used <= len(body) and kind in (b"stco", b"co64"):
            boxes.chunks = list(struct.unpack(f">{count}{'I' if kind == b'stco' else 'Q'}", body[8:used]))
        elif used <= len(body) and kind == b"stsc":
            boxes.runs = [struct.unpack(">II", body[n : n + 8]) for n in range(8, used, 12)]
    if used > len(body):
        raise Unreadable(where, "does not hold what it says it holds.")
    boxes.loose.append((where, body[used:]))


def _unused(boxes: _Boxes, length: int) -> list[tuple[int, int]]:
    """Where bytes of the sound's boxes lie that no sample uses (§8.7: chunk offsets, samples a chunk, sample sizes)."""
    used: list[tuple[int, int]] = []
    starts = [first for first, _ in boxes.runs]
    sample = 0
    for number, offset in enumerate(boxes.chunks, start=1):
        run = bisect_right(starts, number) - 1
        held = boxes.runs[run][1] if run >= 0 else 0
        used.append((offset, offset + sum(boxes.sizes[sample : sample + held])))
        sample += held
    if sample < len(boxes.sizes) or any(end > length for _, end in used):
        raise Unreadable("the sound", "does not lie where the file says it lies.")
    found = []
    for at, end in boxes.sound:
        for first, last in sorted(u for u in used if u[0] < end and u[1] > at):
            if first > at:
                found.append((at, first))
            at = max(at, last)
        if at < end:
            found.append((at, end))
    return found
