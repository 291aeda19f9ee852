"""Sound for listening on a page: one permitted stretch as a WAV, decoded and muted when asked for. Masters are never served.

It is cut from the access copy where there is one (audio/accesscopy.py), else from the master. Pieces are not stored. Where a name is withheld there is silence and no made noise: who
reads along sees the mask at the same moment, and who corrects words must not take noise for the room.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from archive.audio.decode import pcm_of
from archive.audio.mute import edge_faded, kept_gain, need_silence, samples_down, thinned

PLAY_RATE_HZ = 24000
_BYTES = 2
_EDGE_MS = 5


def piece(
    path: Path, start_ms: int, end_ms: int, mutes: Sequence[tuple[int, int]] = (), channels: Sequence[int] = ()
) -> bytes:
    """A stretch of minutes as a WAV of 16 bits, mono, 24 kHz, `mutes` (ms) as exact zeros. Raises BadInput, BadMedia."""
    sound = pcm_of(path, start_ms, end_ms, channels, PLAY_RATE_HZ)
    gain = kept_gain(len(sound), samples_down(start_ms, PLAY_RATE_HZ), PLAY_RATE_HZ, list(mutes))
    sound = edge_faded(thinned(sound, gain), PLAY_RATE_HZ, _EDGE_MS)
    need_silence(sound, gain)
    raw = bytes(np.clip(np.rint(sound * 32767.0), -32768, 32767).astype("<i2").tobytes())
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, PLAY_RATE_HZ, PLAY_RATE_HZ * _BYTES, _BYTES, 16)
    return struct.pack("<4sI4s", b"RIFF", 36 + len(raw), b"WAVE") + form + struct.pack("<4sI", b"data", len(raw)) + raw
