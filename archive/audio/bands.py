"""What a recording sounds like over time, in steps of 50 ms: how loud to an ear, and how much rumble lies under the speech.

Of this wind and handling are found here; how loud the noise between the words is, is reckoned in domain/soundcheck.py.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from archive.audio.levels import HALF_DB, RATE_HZ, SILENT, level_bytes
from archive.domain.soundcheck import EAR_MS

Samples = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.float64]
STEP_MS = EAR_MS
_STEP = RATE_HZ * STEP_MS // 1000
_WINDOW = 2 * _STEP  # 100 ms, Hann: lines 10 Hz apart, the middle of a window on the middle of its step
_BATCH = 256  # windows at a time
_BIN_HZ = RATE_HZ / _WINDOW
# Project choices: a deep voice begins at 75 Hz, wind and the handling of a recorder are strongest below it.
RUMBLE_HZ = (10, 50)
SPEECH_HZ = (200, 4000)
# All limits of wind and handling are choices of this project, tried on its real recordings and on noise of known strength.
WIND_LEAST_DBFS = -45.0
WIND_STANDS_OUT_DB = 12.0  # over what this recording's rumble is nine tenths of the time: a fridge or mains hum is steady
WIND_OVER_SPEECH_DB = 6.0
WIND_SURE_STEPS = 3  # a breath against the microphone (p, b) is over sooner
WIND_GAP_STEPS = 5
WIND_EDGE_DB = 10.0  # where it begins and ends: the room's own rumble beside it is fainter
WIND_JOIN_MS = 500
MOST_STRETCHES = 2000


def a_weighting_db(hz: Numbers) -> Numbers:
    """How much fainter an ear takes a tone than one of 1 kHz (IEC 61672-1:2013, annex E, equation E.6)."""
    squared = np.maximum(hz, 1e-3) ** 2
    gain = 12194.217**2 * squared**2 / ((squared + 20.598997**2) * (squared + 12194.217**2))
    gain /= np.sqrt((squared + 107.65265**2) * (squared + 737.86223**2))
    return np.asarray(20 * np.log10(gain) + 2.0, dtype=np.float64)


class BandTrack:
    """One channel at 16 kHz. Memory: three bytes a step."""

    def __init__(self) -> None:
        self._hann = np.hanning(_WINDOW + 1)[:-1].astype(np.float32)
        lines_hz = np.arange(_WINDOW // 2 + 1, dtype=np.float64) * _BIN_HZ
        ear = 10 ** (a_weighting_db(lines_hz) / 10)
        rumble, speech = (((lines_hz >= low) & (lines_hz <= high)).astype(float) for low, high in (RUMBLE_HZ, SPEECH_HZ))
        scale = 2 / (_WINDOW * float(np.sum(self._hann.astype(np.float64) ** 2)))
        self._bands = (np.stack([ear, rumble, speech], axis=1) * scale).astype(np.float32)
        self._held = np.zeros((_WINDOW - _STEP) // 2, dtype=np.float32)
        self._fed = 0
        self._found = (bytearray(), bytearray(), bytearray())

    def feed(self, pcm: Samples) -> None:
        """Take the next samples, [n]."""
        self._fed += len(pcm)
        self._held = np.concatenate([self._held, pcm])
        if len(self._held) >= _WINDOW + _STEP * _BATCH:
            self._judge()

    def _judge(self) -> None:
        whole = (len(self._held) - _WINDOW) // _STEP + 1
        windows = np.lib.stride_tricks.sliding_window_view(self._held, _WINDOW)[:: _STEP][:whole]
        for first in range(0, whole, _BATCH):
            power = np.abs(np.fft.rfft(windows[first : first + _BATCH] * self._hann)).astype(np.float32) ** 2
            for found, band in zip(self._found, (power @ self._bands).T, strict=True):
                found += level_bytes(band)
        self._held = self._held[whole * _STEP :].copy()

    def finish(self) -> Bands:
        """All steps; the last may be shorter than the others."""
        steps = -(-self._fed // _STEP)
        self._held = np.concatenate([self._held, np.zeros(_WINDOW, dtype=np.float32)])
        self._judge()
        return Bands(*(bytes(found[:steps]) for found in self._found))


class Bands:
    """A byte a step, half decibels below full scale (255: silence). `ear`: A-weighted; `rumble`, `speech`: their bands."""

    def __init__(self, ear: bytes, rumble: bytes, speech: bytes) -> None:
        self.ear, self.rumble, self.speech = ear, rumble, speech

    def windy(self) -> list[tuple[int, int]]:
        """Stretches (ms) in which rumble bursts through, in order, not touching."""
        rumble, speech = (np.frombuffer(track, dtype=np.uint8) / -HALF_DB for track in (self.rumble, self.speech))
        sounding = rumble[rumble > -SILENT / HALF_DB]
        if not len(sounding):
            return []
        limit = max(WIND_LEAST_DBFS, float(np.percentile(sounding, 10)) + WIND_STANDS_OUT_DB)
        loud = rumble >= limit
        sure = loud & (rumble >= speech + WIND_OVER_SPEECH_DB)
        found: list[tuple[int, int]] = []
        for first, end in _bursts(loud):
            if np.count_nonzero(sure[first:end]) < WIND_SURE_STEPS:
                continue
            own = np.flatnonzero(rumble[first:end] >= float(np.percentile(rumble[first:end], 80)) - WIND_EDGE_DB)
            start_ms, end_ms = (first + int(own[0])) * STEP_MS, (first + int(own[-1]) + 1) * STEP_MS
            if found and (start_ms - found[-1][1] <= WIND_JOIN_MS or len(found) >= MOST_STRETCHES):
                found[-1] = (found[-1][0], end_ms)
            else:
                found.append((start_ms, end_ms))
        return found


def _bursts(loud: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Runs of loud steps (first, one past the last); gaps of a quarter of a second are bridged."""
    steps = np.flatnonzero(loud)
    if not len(steps):
        return []
    parted = np.flatnonzero(np.diff(steps) > WIND_GAP_STEPS)
    firsts = steps[np.concatenate([[0], parted + 1])]
    lasts = steps[np.concatenate([parted, [len(steps) - 1]])]
    return [(int(a), int(b) + 1) for a, b in zip(firsts, lasts, strict=True)]
