"""What a WAV header claims, read by hand: readers turn lies into general errors, or quietly believe the file's length."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

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
        head = stream.read(12)
        if head[:4] not in (b"RIFF", b"RF64") or head[8:] != b"WAVE":
            return None
        channels = byte_rate = 0
        long_size: int | None = None
        for _ in range(_MOST_CHUNKS):
            chunk = stream.read(8)
            if len(chunk) < 8:
                break
            name, size = chunk[:4], int.from_bytes(chunk[4:], "little")
            if name == b"data":
                data = long_size if size == 0xFFFFFFFF and long_size else size
                known = byte_rate > 0 and data not in _UNKNOWN
                return WavClaims(channels, data * 1000 // byte_rate if known else None)
            start = stream.tell()
            body = stream.read(min(size, 64))
            if name == b"fmt " and len(body) >= 16:
                channels = int.from_bytes(body[2:4], "little")
                byte_rate = int.from_bytes(body[8:12], "little")
            elif name == b"ds64" and len(body) >= 16:
                long_size = int.from_bytes(body[8:16], "little")
            stream.seek(start + size + size % 2)
    return WavClaims(channels, None) if channels else None
