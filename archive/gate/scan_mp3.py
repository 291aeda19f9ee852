"""Reads MP3 files back for the last scan: tags at both ends, and every byte that is in no frame of sound.

Frame lengths: ISO/IEC 11172-3 §2.4.2.3 and 13818-3 (half rates); ID3v1 and APE are common practice without a standard.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterator
from pathlib import Path

from archive.gate.scan_piece import MOST_CHUNK_BYTES, Piece, Unreadable, mapped, read_loose_bytes
from archive.gate.scan_tags import id3_length, read_ape, read_id3

_KBPS_1 = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
_KBPS_2 = (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)
_RATES_HZ = {3: (44_100, 48_000, 32_000), 2: (22_050, 24_000, 16_000), 0: (11_025, 12_000, 8_000)}
_LAYER_3 = 1
_MOST_BEFORE = 65_536
_MOST_GAP = 4096
_MOST_TAGS = 20


def read_mp3(path: Path) -> Iterator[Piece]:
    """An MP3: ID3v2 (each frame), ID3v1, APE, the first frame (it holds the maker's words), and bytes outside all frames."""
    with mapped(path) as data:
        yield from _tags_and_rest(data)


def _tags_and_rest(data: mmap.mmap) -> Iterator[Piece]:
    at, end = 0, len(data)
    for _ in range(_MOST_TAGS):
        length = id3_length(data[at : at + 10])
        if not length:
            break
        if at + length > end:
            raise Unreadable("ID3 tag", "says that it is longer than the whole file.")
        if length > MOST_CHUNK_BYTES:
            raise Unreadable("ID3 tag", "is too large for what it says it is.")
        yield from read_id3(data[at : at + length], "ID3 tag")
        at += length
    end, last = _tags_at_end(data, at)
    for piece in last:
        yield from piece
    yield from _outside_frames(data, at, end)


def _tags_at_end(data: mmap.mmap, first: int) -> tuple[int, list[Iterator[Piece]]]:
    """Where the sound ends, and readers for the tags behind it."""
    end, found = len(data), list[Iterator[Piece]]()
    for _ in range(_MOST_TAGS):
        if end - first >= 128 and data[end - 128 : end - 125] == b"TAG":
            end -= 128
            fields = (data[end + at : end + to] for at, to in ((3, 33), (33, 63), (63, 93), (93, 97), (97, 127)))
            found.append(read_loose_bytes(b"\n".join(fields), "ID3v1 tag"))
        elif end - first >= 32 and data[end - 32 : end - 24] == b"APETAGEX":
            size, _, flags = struct.unpack("<III", data[end - 20 : end - 8])
            start = end - size - (32 if flags & 0x8000_0000 else 0)
            if start < first or end - start > MOST_CHUNK_BYTES:
                raise Unreadable("APE tag", "says that it is longer than it can be.")
            found.append(read_ape(data[start:end], "APE tag"))
            end = start
        elif end - first >= 10 and data[end - 10 : end - 7] == b"3DI":
            length = id3_length(b"ID3" + data[end - 7 : end])
            if not length or end - length < first:
                raise Unreadable("ID3 tag", "says that it is longer than it can be.")
            found.append(read_id3(data[end - length : end], "ID3 tag"))
            end -= length
        else:
            break
    return end, found


def _frame_bytes(head: bytes) -> int:
    """Length of the Layer III frame with this header; 0 where there is none."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return 0
    version, layer = head[1] >> 3 & 3, head[1] >> 1 & 3
    rate, kbps = head[2] >> 2 & 3, head[2] >> 4
    if version == 1 or layer != _LAYER_3 or rate == 3 or kbps in (0, 15):
        return 0
    speed = (_KBPS_1 if version == 3 else _KBPS_2)[kbps]
    return (144_000 if version == 3 else 72_000) * speed // _RATES_HZ[version][rate] + (head[2] >> 1 & 1)


def _outside_frames(data: mmap.mmap, at: int, end: int) -> Iterator[Piece]:
    """Walks from frame to frame; what lies between, before and behind them is read as loose bytes."""
    loose: list[bytes] = []
    frames = outside = 0
    while at < end:
        length = _frame_bytes(data[at : at + 4])
        if length and at + length <= end:
            if frames == 0:
                loose.append(data[at + 4 : at + length])
            frames += 1
            at += length
            continue
        start = at
        at = _next_frame(data, at + 1, min(end, start + (_MOST_GAP if frames else _MOST_BEFORE)), end)
        outside += at - start
        if outside > _MOST_BEFORE:
            raise Unreadable("the sound", "holds much that is no sound.")
        loose.append(data[start:at])
    if not frames:
        raise Unreadable("the file", "holds no sound.")
    for part in loose:
        yield from read_loose_bytes(part, "outside the sound")


def _next_frame(data: mmap.mmap, at: int, limit: int, end: int) -> int:
    """The next place before `limit` where two frames follow one another (one at the very end will do); else `limit`."""
    while (at := data.find(b"\xff", at, limit)) >= 0:
        length = _frame_bytes(data[at : at + 4])
        if length and at + length <= end and (at + length == end or _frame_bytes(data[at + length : at + length + 4])):
            return at
        at += 1
    return limit
