"""Peaks for drawing a waveform: int8 pairs (lowest, highest) a step, and their closing where nobody may hear."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

PEAK_MS = 50


class PeakTrack:
    """Collects lowest and highest sample of each step over all channels (not their mean: opposite phases would vanish)."""

    def __init__(self, rate_hz: int, peak_ms: int = PEAK_MS) -> None:
        self._rate_hz = rate_hz
        self._peak_ms = peak_ms
        self._low = np.zeros(1024, dtype=np.int8)
        self._high = np.zeros(1024, dtype=np.int8)
        self._steps = 0

    def feed(self, at: int, pcm: npt.NDArray[np.float32] | None, length: int) -> None:
        """Take `length` samples from sample `at` on; None for a hole."""
        if length <= 0:
            return
        first = at * 1000 // (self._rate_hz * self._peak_ms)
        last = (at + length - 1) * 1000 // (self._rate_hz * self._peak_ms)
        self._room(last + 1)
        self._steps = max(self._steps, last + 1)
        if pcm is None:
            return
        edges = np.arange(first, last + 1, dtype=np.int64) * self._rate_hz * self._peak_ms
        starts = np.maximum(-(-edges // 1000) - at, 0)
        low = np.minimum.reduceat(pcm.min(axis=0), starts)
        high = np.maximum.reduceat(pcm.max(axis=0), starts)
        here = slice(first, last + 1)
        self._low[here] = np.minimum(self._low[here], _to_int8(np.minimum(low, 0)))
        self._high[here] = np.maximum(self._high[here], _to_int8(np.maximum(high, 0)))

    def _room(self, steps: int) -> None:
        if steps > len(self._low):
            more = np.zeros(max(steps, 2 * len(self._low)) - len(self._low), dtype=np.int8)
            self._low = np.concatenate([self._low, more])
            self._high = np.concatenate([self._high, more])

    def finish(self) -> bytes:
        """All pairs: 2 bytes a step."""
        return np.stack([self._low[: self._steps], self._high[: self._steps]], axis=1).tobytes()


def _to_int8(values: npt.NDArray[np.float32]) -> npt.NDArray[np.int8]:
    scaled = np.sign(values) * np.ceil(np.abs(values) * 127)  # outwards: a quiet voice still shows a line
    return np.asarray(np.clip(scaled, -127, 127), dtype=np.int8)


def closed_peaks(peaks: bytes, peak_ms: int, closed: Sequence[tuple[int, int]]) -> bytes:
    """Peaks with every step that a closed stretch (ms, half-open) touches set to zero. Length unchanged."""
    pairs = np.frombuffer(peaks, dtype=np.int8).reshape(-1, 2).copy()
    for start_ms, end_ms in closed:
        if end_ms > start_ms:
            pairs[max(0, start_ms // peak_ms) : -(-end_ms // peak_ms)] = 0
    return pairs.tobytes()
