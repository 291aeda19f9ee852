"""How loud each 10 ms of a recording is, one byte a step: where a word really begins and ends can be read off it.

A byte is the level below full scale in steps of 0.5 dB (0: full scale, 255: silence), of the sound after pre-emphasis: s, f, t
and k, which are high and faint, then stand out of the room's rumble. Step and filter are choices of this project.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

LEVEL_MS = 10
RATE_HZ = 16000
SILENT = 255  # nothing at all, or fainter than -127 dB
HALF_DB = 2  # steps a dB
_EMPHASIS = 0.95  # y[n] = x[n] - 0.95 x[n-1]: -25 dB at 50 Hz, -8 dB at 1 kHz, +3 dB at 4 kHz
_STEP = RATE_HZ * LEVEL_MS // 1000


class LevelTrack:
    """Collects levels of one channel at 16 kHz. Memory: one byte a step."""

    def __init__(self) -> None:
        self._held = np.zeros(0, dtype=np.float32)
        self._last = np.float32(0)
        self._found = bytearray()

    def feed(self, pcm: npt.NDArray[np.float32]) -> None:
        """Take the next samples, float32 [n]."""
        if not len(pcm):
            return
        sharp = pcm.copy()
        sharp[1:] -= np.float32(_EMPHASIS) * pcm[:-1]
        sharp[0] -= np.float32(_EMPHASIS) * self._last
        self._last = pcm[-1]
        held = np.concatenate([self._held, sharp])
        whole = len(held) // _STEP
        self._found += _bytes_of(held[: whole * _STEP].reshape(whole, _STEP))
        self._held = held[whole * _STEP :]

    def finish(self) -> bytes:
        """One byte a step; the last step may be shorter than the others."""
        if len(self._held):
            self._found += _bytes_of(self._held[np.newaxis, :])
            self._held = self._held[:0]
        return bytes(self._found)


def _bytes_of(steps: npt.NDArray[np.float32]) -> bytes:
    return level_bytes(np.einsum("ij,ij->i", steps, steps) / np.float32(max(1, steps.shape[1])))


def level_bytes(power: npt.NDArray[np.float32]) -> bytes:
    """One byte for each mean square (full scale 1.0), as in this module's first lines."""
    level_db = 10 * np.log10(np.maximum(power, np.float32(1e-20)))
    return bytes(np.clip(np.rint(-HALF_DB * level_db), 0, SILENT).astype(np.uint8).tobytes())


def loudest(channels: list[bytes]) -> bytes:
    """The louder of several channels, step by step; as long as the longest."""
    longest = max((len(c) for c in channels), default=0)
    out = np.full(longest, SILENT, dtype=np.uint8)
    for found in channels:
        here = out[: len(found)]
        np.minimum(here, np.frombuffer(found, dtype=np.uint8), out=here)
    return out.tobytes()


def stretch_levels(pcm: npt.NDArray[np.float32], stretches: Sequence[tuple[int, int]], rate_hz: int) -> list[float]:
    """How loud each stretch (ms from the first sample) is: RMS below full scale in dB, -120 where it is silent or not there."""
    found = []
    for start_ms, end_ms in stretches:
        piece = pcm[start_ms * rate_hz // 1000 : max(start_ms + 1, end_ms) * rate_hz // 1000]
        power = float(np.mean(np.square(piece, dtype=np.float64))) if len(piece) else 0.0
        found.append(round(10 * float(np.log10(max(power, 1e-12))), 1))
    return found
