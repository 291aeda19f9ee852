"""Reads the tags of sound files back for the last scan (ID3, APE, comments), with mutagen, which writes nothing of ours; the
raw bytes are read beside it. Whatever is packed is refused before mutagen sees it.

Layouts: id3.org, ID3v2.4.0 structure and native frames (2000), ID3v2.3.0 (1999).
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

from mutagen import MutagenError
from mutagen.apev2 import APEv2
from mutagen.id3 import ID3

from archive.gate.scan_pictures import read_png_bytes
from archive.gate.scan_piece import MOST_CHUNK_BYTES, MOST_MEMBERS, Piece, Unreadable, read_loose_bytes

PICTURE = "a picture in the tags"
_MOST_WITHIN = 8
_ID3: Any = ID3  # typed in part only
_APE: Any = APEv2
_HEAD = 10


def syncsafe(data: bytes) -> int:
    """A number in bytes of seven bits (ID3v2.4 §6.2)."""
    return sum((byte & 0x7F) << (7 * (len(data) - 1 - at)) for at, byte in enumerate(data))


def id3_length(head: bytes) -> int:
    """Length in bytes of the ID3v2 tag whose first ten bytes these are, footer included; 0 where it is none."""
    if len(head) < _HEAD or head[:3] != b"ID3" or head[3] == 0xFF or any(b & 0x80 for b in head[6:10]):
        return 0
    return _HEAD + syncsafe(head[6:10]) + (_HEAD if head[3] >= 4 and head[5] & 0x10 else 0)


def packed_id3(data: bytes) -> bool:
    """True where an ID3v2 tag has frames that are compressed, encrypted or unsynchronised (ID3v2.3 §3.3.1, 2.4 §4.1)."""
    if data[:3] != b"ID3" or len(data) < _HEAD:
        return False
    version, flags = data[3], data[5]
    if flags & 0x80 or (version == 2 and flags & 0x40):
        return True
    if version == 2:
        return False
    return flags & 0x40 != 0 or _packed_frames(data[_HEAD:], version)


def _packed_frames(data: bytes, version: int, depth: int = 0) -> bool:
    at, mask = 0, 0xC0 if version == 3 else 0x0E
    while at + _HEAD <= len(data) and data[at : at + 4].isalnum():
        raw = data[at + 4 : at + 8]
        size = int.from_bytes(raw, "big") if version == 3 else syncsafe(raw)
        if data[at + 9] & mask:
            return True
        if data[at : at + 4] in (b"CHAP", b"CTOC") and depth < _MOST_WITHIN:  # frames within: past the name and the times
            inside = data[at + _HEAD : at + _HEAD + size]
            first = inside.find(b"\0") + 1
            skip = 16 if data[at : at + 4] == b"CHAP" else 0
            if _packed_frames(inside[first + skip :], version, depth + 1):
                return True
        at += _HEAD + size
    return False


def read_id3(data: bytes, where: str) -> Iterator[Piece]:
    """One ID3v2 tag, cut out of its file: every frame by mutagen, and its raw bytes. Raises Unreadable."""
    if len(data) > MOST_CHUNK_BYTES:
        raise Unreadable(where, "is too large for what it says it is.")
    if packed_id3(data):
        raise Unreadable(where, "holds a packed or encrypted tag.")
    pictures = Found()
    try:
        tag = _ID3(io.BytesIO(data), translate=False, load_v1=False)
    except (MutagenError, ValueError, RecursionError, KeyError, IndexError) as error:
        raise Unreadable(where, "is a tag that cannot be read back.") from error
    for frame in tag.values():
        pictures.gather(vars(frame), 0)
    for loose in tag.unknown_frames:
        pictures.others.append(bytes(loose))
    yield from pictures.pieces(where)
    yield from read_loose_bytes(_without(data, pictures.pictures), where)


class Found:
    """Texts, pictures and other bytes that stand in the frames of a tag."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self.pictures: list[bytes] = []
        self.others: list[bytes] = []

    def gather(self, value: Any, depth: int) -> None:
        """Walk a value of mutagen's: texts, lists, frames within frames. Raises Unreadable where it goes too deep."""
        if depth > _MOST_WITHIN:
            raise Unreadable("the tags", "are nested too deeply to be read back.")
        if isinstance(value, str):
            self.texts.append(value)
        elif isinstance(value, bytes | bytearray):
            (self.pictures if is_picture(bytes(value)) else self.others).append(bytes(value))
        elif isinstance(value, dict):
            for key, one in value.items():
                self.gather(key, depth + 1)
                self.gather(one, depth + 1)
        elif isinstance(value, list | tuple):
            for one in value:
                self.gather(one, depth + 1)
        elif value is not None and not isinstance(value, int | float):
            text = getattr(value, "text", None)  # a date of ID3v2.4
            self.texts.append(text if isinstance(text, str) else "")
            inner = getattr(value, "__dict__", None)
            if inner:
                self.gather(inner, depth + 1)

    def pieces(self, where: str) -> Iterator[Piece]:
        """All of it, pictures by their own reader."""
        yield Piece(f"{where}, tags", "\n".join(self.texts))
        for data in self.others:
            yield from read_loose_bytes(data, f"{where}, tags")
        for data in self.pictures:
            if len(data) > MOST_CHUNK_BYTES or data[:4] != b"\x89PNG":
                raise Unreadable(f"{where}, {PICTURE}", "is of a kind that cannot be read back.")
            yield from read_png_bytes(data, f"{where}, {PICTURE}")


def is_picture(data: bytes) -> bool:
    """Do these bytes begin as a picture does (PNG, JPEG, GIF, WebP, TIFF, BMP)?"""
    return data[:4] == b"\x89PNG" or data[:3] == b"\xff\xd8\xff" or data[:4] in (b"GIF8", b"RIFF", b"II*\0", b"MM\0*", b"BM")


def _without(data: bytes, pictures: list[bytes]) -> bytes:
    for picture in pictures:
        data = data.replace(picture, b"\n")
    return data


def read_ape(data: bytes, where: str) -> Iterator[Piece]:
    """One APE tag, cut out of its file: items by mutagen, and its raw bytes. Raises Unreadable."""
    if len(data) > MOST_CHUNK_BYTES:
        raise Unreadable(where, "is too large for what it says it is.")
    try:
        tag = _APE(io.BytesIO(data))
        if len(tag) > MOST_MEMBERS:
            raise Unreadable(where, f"holds more than {MOST_MEMBERS} entries.")
        texts = [f"{key}\n{value}" for key, value in tag.items() if isinstance(value, str) or hasattr(value, "value")]
    except (MutagenError, ValueError, KeyError) as error:
        raise Unreadable(where, "is a tag that cannot be read back.") from error
    yield Piece(f"{where}, tags", "\n".join(texts))
    if b"\x89PNG" in data or b"\xff\xd8\xff" in data:
        raise Unreadable(f"{where}, {PICTURE}", "is of a kind that cannot be read back.")
    yield from read_loose_bytes(data, where)
