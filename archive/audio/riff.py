"""What a WAV header claims, read by hand: readers turn lies into general errors, or quietly believe the file's length."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO

_MOST_CHUNKS = 256
_UNKNOWN = (0, 0xFFFFFFFF)  # a recorder that stopped without closing its file leaves one of these


@dataclass(frozen=True, slots=True)
class WavClaims:
    """Channels, and length of the data in ms (None where the header does not say)."""

    channels: int
    duration_ms: int | None


def wav_claims(path: Path) -> WavClaims | None:
    """Claims of a RIFF or RF64 WAVE file (EBU Tech 3306 for `ds64`); None for anything else."""
    with open(path, "rb") as stream:
        if not _is_wave(stream):
            return None
        channels = byte_rate = 0
        for name, size, start in _chunks(stream):
            stream.seek(start)
            if name == b"data":
                known = byte_rate > 0 and size not in _UNKNOWN
                return WavClaims(channels, size * 1000 // byte_rate if known else None)
            body = stream.read(min(size, 16))
            if name == b"fmt " and len(body) >= 16:
                channels = int.from_bytes(body[2:4], "little")
                byte_rate = int.from_bytes(body[8:12], "little")
    return WavClaims(channels, None) if channels else None


def wav_chunks(path: Path, wanted: Mapping[bytes, int]) -> dict[bytes, bytes]:
    """The first chunk of each wanted name with its bytes, as many at most as `wanted` says; {} where it is no WAVE file."""
    found: dict[bytes, bytes] = {}
    with open(path, "rb") as stream:
        if not _is_wave(stream):
            return found
        for name, size, start in _chunks(stream):
            if name in wanted and name not in found:
                stream.seek(start)
                found[name] = stream.read(min(size, wanted[name]))
    return found


def _is_wave(stream: IO[bytes]) -> bool:
    head = stream.read(12)
    return head[:4] in (b"RIFF", b"RF64") and head[8:] == b"WAVE"


def _chunks(stream: IO[bytes]) -> Iterator[tuple[bytes, int, int]]:
    """(name, size, where its body begins) of each chunk after the head; the size of `data` in RF64 is that of `ds64`."""
    long_size: int | None = None
    start = stream.tell()
    for _ in range(_MOST_CHUNKS):
        stream.seek(start)
        head = stream.read(8)
        if len(head) < 8:
            return
        name, size = head[:4], int.from_bytes(head[4:], "little")
        if name == b"data" and size == 0xFFFFFFFF and long_size:
            size = long_size
        elif name == b"ds64" and size >= 16:
            long_size = int.from_bytes(stream.read(16)[8:], "little")
        yield name, size, start + 8
        start += 8 + size + size % 2
