"""WAVE files as recorders leave them, chunks made by hand.

EBU Tech 3285 v2 §2.3 gives the fixed part of `bext`: Description 256, Originator 32, OriginatorReference 32, OriginationDate 10,
OriginationTime 8, TimeReferenceLow and High 4 each, Version 2, UMID 64, five loudness words of 2, Reserved 180: 602 bytes.
"""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import soundfile

from tests.audio.sounds import Samples


def bext(
    description: str = "", originator: str = "", reference: str = "", day: str = "2024-05-12", time: str = "10:00:00", samples: int = 0
) -> bytes:  # fmt: skip
    """A `bext` chunk's body."""
    texts = [(description, 256), (originator, 32), (reference, 32), (day, 10), (time, 8)]
    head = b"".join(text.encode("utf-8")[:size].ljust(size, b"\0") for text, size in texts)
    body = head + struct.pack("<IIH", samples & 0xFFFFFFFF, samples >> 32, 2) + bytes(64 + 10 + 180)
    assert len(body) == 602
    return body


def with_chunks(path: Path, pcm: Samples, rate: int, *chunks: tuple[bytes, bytes], after: tuple[tuple[bytes, bytes], ...] = (), subtype: str = "PCM_16") -> Path:
    """A WAV of samples [n] or [channels, n] with chunks before and after its data."""
    plain = io.BytesIO()
    soundfile.write(plain, pcm.T, rate, subtype=subtype, format="WAV")
    raw = plain.getvalue()[12:]
    body = b"WAVE" + b"".join(map(_chunk, chunks)) + raw + b"".join(map(_chunk, after))
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    return path


def _chunk(chunk: tuple[bytes, bytes]) -> bytes:
    name, body = chunk
    return name + struct.pack("<I", len(body)) + body + bytes(len(body) % 2)


def split(folder: Path, pcm: Samples, rate: int, at: list[int], names: list[str], start: int, day: str = "2024-05-12") -> list[Path]:
    """One take as a recorder splits it: parts with `bext`, whose time reference counts on."""
    folder.mkdir(exist_ok=True)
    made = []
    for name, first, last in zip(names, [0, *at], [*at, pcm.shape[-1]], strict=True):
        begun = start + first
        seconds = begun // rate
        time = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
        made.append(with_chunks(folder / name, np.asarray(pcm[..., first:last]), rate, (b"bext", bext(originator="RECORDER 7", day=day, time=time, samples=begun))))
    return made
