"""Sound for listening on a page: one permitted stretch as a WAV that exists only byte by byte. Masters are never served.

Nothing is stored, so a withdrawal has nothing to hunt: each range of bytes is decoded, muted and given when asked for.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from archive.audio.decode import pcm_of
from archive.audio.mute import edge_faded, muted, samples_down, samples_up
from archive.errors import BadInput

PLAY_RATE_HZ = 24000
HEADER_BYTES = 44
_BYTES = 2
_MOST_PCM = 0xFFFFFFFF - 36  # RIFF's own limit; 24 hours at this rate


class PlayedStretch:
    """A stretch of a recording as a WAV of 16 bits, mono, 24 kHz, readable by ranges of bytes."""

    def __init__(
        self,
        path: Path,
        start_ms: int,
        end_ms: int,
        mutes: Sequence[tuple[int, int]] = (),
        channels: Sequence[int] = (),
    ) -> None:
        if not 0 <= start_ms < end_ms:
            raise BadInput("A stretch must end after it starts, and start at 0 or later.")
        self._path = path
        self._start_ms = start_ms
        self._end_ms = end_ms
        self._mutes = list(mutes)
        self._channels = tuple(channels)
        self._first = samples_down(start_ms, PLAY_RATE_HZ)
        self._samples = samples_up(end_ms, PLAY_RATE_HZ) - self._first
        if self._samples * _BYTES > _MOST_PCM:
            raise BadInput("That stretch is too long for one player.")

    @property
    def size(self) -> int:
        """Bytes of the whole WAV."""
        return HEADER_BYTES + self._samples * _BYTES

    def read(self, first: int, end: int) -> bytes:
        """Bytes [first, end) of the WAV. Keep ranges to a few MiB: 4 MiB are 87 s. Raises BadInput outside the file."""
        if not 0 <= first < end <= self.size:
            raise BadInput("That range lies outside the sound.")
        out = self._header()[first:end] if first < HEADER_BYTES else b""
        if end > HEADER_BYTES:
            low = max(0, first - HEADER_BYTES)
            high = end - HEADER_BYTES
            from_sample, to_sample = low // _BYTES, -(-high // _BYTES)
            raw = self._pcm(from_sample, to_sample)
            out += raw[low - from_sample * _BYTES : high - from_sample * _BYTES]
        return out

    def _pcm(self, from_sample: int, to_sample: int) -> bytes:
        """Samples of the stretch, decoded from a whole millisecond on (24 samples) with a little before it."""
        per_ms = PLAY_RATE_HZ // 1000
        skip_ms = max(0, from_sample // per_ms - 20)
        start_ms = self._start_ms + skip_ms
        end_ms = min(self._end_ms, self._start_ms + -(-to_sample // per_ms) + 20)
        first = samples_down(start_ms, PLAY_RATE_HZ)
        sound = pcm_of(self._path, start_ms, end_ms, self._channels, PLAY_RATE_HZ)
        sound = muted(sound, first, PLAY_RATE_HZ, self._mutes)
        if start_ms == self._start_ms and end_ms == self._end_ms:
            sound = edge_faded(sound, PLAY_RATE_HZ, 5)
        offset = self._first + from_sample - first
        sound = sound[offset : offset + to_sample - from_sample]
        return bytes(np.clip(np.rint(sound * 32767.0), -32768, 32767).astype("<i2").tobytes())

    def _header(self) -> bytes:
        pcm_size = self._samples * _BYTES
        head = struct.pack(
            "<4sI4s4sIHHIIHH",
            b"RIFF",
            36 + pcm_size,
            b"WAVE",
            b"fmt ",
            16,
            1,
            1,
            PLAY_RATE_HZ,
            PLAY_RATE_HZ * _BYTES,
            _BYTES,
            16,
        )
        return head + struct.pack("<4sI", b"data", pcm_size)


def piece(
    path: Path, start_ms: int, end_ms: int, mutes: Sequence[tuple[int, int]] = (), channels: Sequence[int] = ()
) -> bytes:
    """A whole stretch of minutes as one WAV."""
    stretch = PlayedStretch(path, start_ms, end_ms, mutes, channels)
    return stretch.read(0, stretch.size)
