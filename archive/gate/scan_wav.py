"""Reads WAV files back for the last scan: every chunk but the sound, with no sound library at all (an ID3 tag: mutagen)."""

from __future__ import annotations

import io
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from archive.gate.scan_piece import MOST_CHUNK_BYTES, MOST_MEMBERS, Piece, Unreadable, read_loose_bytes
from archive.gate.scan_tags import id3_length, read_id3

_SOUND_CHUNKS = frozenset({b"data"})
_PLAIN_CHUNKS = frozenset(
    {b"fmt ", b"fact", b"cue ", b"smpl", b"inst", b"PEAK", b"ds64", b"LIST", b"bext", b"iXML", b"axml", b"_PMX"}
    | {b"id3 ", b"ID3 ", b"JUNK", b"junk", b"PAD ", b"FLLR", b"chna", b"umid", b"cart", b"DISP", b"levl", b"note"}
)


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
        if kind in (b"id3 ", b"ID3 ") and id3_length(data[:10]):
            yield from read_id3(data, where)
        elif kind != b"fmt ":
            yield from read_loose_bytes(data, where)
    else:
        raise Unreadable("the file", f"holds more than {MOST_MEMBERS} chunks.")
    if not has_sound:
        raise Unreadable("the file", "holds no sound.")
