"""Reads FLAC, Opus and Ogg files back for the last scan: comments by mutagen, every byte that is no sound beside it.

Layouts: RFC 9639 (FLAC, December 2024) §8 and §9; RFC 3533 (Ogg) §6; RFC 7845 (Opus in Ogg) §5.
"""

from __future__ import annotations

import base64
import binascii
import mmap
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO, cast

from mutagen import MutagenError
from mutagen.flac import FLAC, Picture
from mutagen.oggopus import OggOpus
from mutagen.oggvorbis import OggVorbis

from archive.gate.scan_piece import MOST_CHUNK_BYTES, MOST_MEMBERS, Piece, Unreadable, mapped, read_loose_bytes
from archive.gate.scan_tags import Found

_STREAMINFO, _PADDING, _APPLICATION, _SEEKTABLE, _COMMENT, _CUESHEET, _PICTURE = range(7)
_NAMES = ("stream", "padding", "application", "seek table", "comments", "cue sheet", "picture")
_ERRORS = (MutagenError, ValueError, KeyError, IndexError, struct.error, OverflowError)
_PICTURE_KEYS = ("metadata_block_picture", "coverart")
_LAST_BYTES = 1 << 20
_FLAC: Any = FLAC  # typed in part only
_PICTURE_BLOCK: Any = Picture
_OPUS_FILE: Any = OggOpus
_VORBIS_FILE: Any = OggVorbis
_OPUS, _VORBIS = b"OpusHead", b"\x01vorbis"


def read_flac(path: Path) -> Iterator[Piece]:
    """A FLAC: every block of metadata (padding with bytes in it too); the file has to end with its last frame."""
    with mapped(path) as data, path.open("rb") as stream:
        yield from _read_flac(data, stream)


def _read_flac(data: mmap.mmap, stream: BinaryIO) -> Iterator[Piece]:
    if data[:4] != b"fLaC":
        raise Unreadable("the file", "is not a FLAC file.")
    at, last, pictures = 4, False, list[bytes]()
    for number in range(MOST_MEMBERS + 1):
        if last or number == MOST_MEMBERS:
            break
        head = data[at : at + 4]
        length = int.from_bytes(head[1:], "big")
        if len(head) < 4 or at + 4 + length > len(data):
            raise Unreadable("the file", "does not hold what it says it holds.")
        last = bool(head[0] & 0x80)
        if length > MOST_CHUNK_BYTES and head[0] & 0x7F != _PADDING:
            raise Unreadable("a block", "is too large for what it says it is.")
        body = data[at + 4 : at + 4 + length]
        at += 4 + length
        yield from _block(head[0] & 0x7F, body, pictures)
    if not last:
        raise Unreadable("the file", f"holds more than {MOST_MEMBERS} blocks.")
    _check_ends(data, at)
    found = Found()
    try:
        sound = _FLAC(stream)
        for key, value in sound.tags or []:
            _comment(found, key, value)
    except _ERRORS as error:
        raise Unreadable("comments", "cannot be read back.") from error
    found.pictures += pictures
    yield from found.pieces("comments")


def _block(kind: int, body: bytes, pictures: list[bytes]) -> Iterator[Piece]:
    where = _NAMES[kind] if kind < len(_NAMES) else "a block"
    if kind == _STREAMINFO and len(body) == 34 or kind == _SEEKTABLE and len(body) % 18 == 0:
        return
    if kind == _PADDING and not any(body):
        return
    if kind not in (_PADDING, _APPLICATION, _COMMENT, _CUESHEET, _PICTURE):
        raise Unreadable(where, "is of a kind that cannot be read back.")
    if len(body) > MOST_CHUNK_BYTES:
        raise Unreadable(where, "is too large for what it says it is.")
    if kind == _COMMENT:
        _check_comments(body)
    if kind == _PICTURE:
        picture = _picture(body)
        pictures.append(picture.data)
        yield Piece(where, f"{picture.mime}\n{picture.desc}")
        body = body.replace(picture.data, b"\n") if picture.data else body
    yield from read_loose_bytes(body, where)


def _check_comments(body: bytes) -> None:
    """No more comments, and no longer ones, than there are bytes (RFC 9639 §8.6); mutagen makes room for what they say."""
    at = 4 + int.from_bytes(body[:4], "little")
    count = int.from_bytes(body[at : at + 4], "little")
    if at + 4 + 4 * count > len(body):
        raise Unreadable("comments", "do not hold what they say they hold.")


def _picture(body: bytes) -> Picture:
    try:
        return cast(Picture, _PICTURE_BLOCK(body))
    except _ERRORS as error:
        raise Unreadable("picture", "cannot be read back.") from error


def _comment(found: Found, key: str, value: str) -> None:
    """One comment; a picture packed into it is unpacked, its description and dots read apart."""
    found.texts += [key, value]
    if key.lower() in _PICTURE_KEYS:
        try:
            packed = base64.b64decode(value)
        except (binascii.Error, ValueError) as error:
            raise Unreadable("comments", "hold a picture that cannot be read back.") from error
        picture = _picture(packed) if key.lower() == _PICTURE_KEYS[0] else None
        found.texts += [picture.mime, picture.desc] if picture else []
        found.pictures.append(picture.data if picture else packed)


# ---------------------------------------------------------------- the end of a FLAC (RFC 9639 §9.3: CRC-16, x^16+x^15+x^2+1)


def _table() -> tuple[int, ...]:
    made = []
    for byte in range(256):
        value = byte << 8
        for _ in range(8):
            value = (value << 1 ^ 0x8005 if value & 0x8000 else value << 1) & 0xFFFF
        made.append(value)
    return tuple(made)


_CRC16 = _table()


def _crc16(data: bytes) -> int:
    value = 0
    for byte in data:
        value = (value << 8 & 0xFF00) ^ _CRC16[value >> 8 ^ byte]
    return value


def _check_ends(data: mmap.mmap, first: int) -> None:
    """Sound begins right behind the metadata, and the last frame ends with the file. Raises Unreadable."""
    if data[first : first + 1] != b"\xff" or data[first + 1] & 0xFE != 0xF8:
        raise Unreadable("the sound", "does not begin where the file says it begins.")
    sync = data[first : first + 2]
    most = 2 * int.from_bytes(data[8 + 7 : 8 + 10], "big") or _LAST_BYTES  # twice the longest frame that STREAMINFO names
    at = len(data)
    for _ in range(50):
        at = data.rfind(sync, max(first, len(data) - most), at)
        if at < 0:
            break
        if _crc16(data[at:]) == 0:
            return
    raise Unreadable("the sound", "is followed by something that is no sound.")


# ---------------------------------------------------------------- Ogg


def read_ogg(path: Path) -> Iterator[Piece]:
    """Opus or Vorbis in Ogg, one stream: its comments, maker's words, what pads them, and bytes outside all pages."""
    with mapped(path) as data, path.open("rb") as stream:
        yield from _read_ogg(data, stream)


def _read_ogg(data: mmap.mmap, stream: BinaryIO) -> Iterator[Piece]:
    if data[:4] != b"OggS":
        raise Unreadable("the file", "is not an Ogg file.")
    heads, outside = _pages(data)
    for part in outside:
        yield from read_loose_bytes(part, "outside the sound")
    opus = heads[0][:8] == _OPUS
    if not opus and heads[0][:7] != _VORBIS:
        raise Unreadable("the file", "holds sound of a kind that cannot be read back.")
    if len(heads) < 2 or len(heads[1]) > MOST_CHUNK_BYTES:
        raise Unreadable("comments", "are too long, or missing.")
    _check_comments(heads[1][8 if opus else 7 :])
    found = Found()
    try:
        for key, value in (_OPUS_FILE if opus else _VORBIS_FILE)(stream).tags or []:
            _comment(found, key, value)
    except _ERRORS as error:
        raise Unreadable("comments", "cannot be read back.") from error
    yield from found.pieces("comments")
    yield from read_loose_bytes(heads[0][19 if opus else 30 :], "the stream's head")
    yield from read_loose_bytes(heads[1], "comments")


def _pages(data: mmap.mmap) -> tuple[list[bytes], list[bytes]]:
    """The first two packets, and the bytes that lie outside all pages. Raises Unreadable for a second stream."""
    heads, outside, open_packet = list[bytes](), list[bytes](), bytearray()
    at, serial = 0, data[14:18]
    while at < len(data):
        page = data[at : at + 27]
        if page[:4] != b"OggS" or len(page) < 27:
            start, at = at, data.find(b"OggS", at + 1)
            at = len(data) if at < 0 else at
            if at - start > MOST_CHUNK_BYTES or len(outside) > MOST_MEMBERS:
                raise Unreadable("the file", "holds much that is no sound.")
            outside.append(data[start:at])
            continue
        if page[14:18] != serial or (at and page[5] & 0x02):
            raise Unreadable("the file", "holds more than one stream.")
        lengths = data[at + 27 : at + 27 + page[26]]
        at += 27 + page[26]
        if at + sum(lengths) > len(data):
            raise Unreadable("the file", "does not hold what it says it holds.")
        for length in lengths:
            if len(heads) < 2:
                open_packet += data[at : at + length]
                if length < 255:
                    heads.append(bytes(open_packet))
                    open_packet.clear()
            at += length
        if len(open_packet) > 2 * MOST_CHUNK_BYTES:
            raise Unreadable("comments", "are too long, or missing.")
    if not heads:
        raise Unreadable("the file", "holds no sound.")
    return heads, outside
