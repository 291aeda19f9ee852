"""Faults that a recorder or a program before us left: a piece written twice, flat tops that were turned down, sound that is gone for a part.

Limits are choices of this project, tried on its real recordings and on sounds made with each fault; no source was found for them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from archive.audio.levels import HALF_DB, SILENT
from archive.audio.quality import CLIPPED_JOIN_MS, CLIPPED_LEVEL, CLIPPED_RUN, EDGE_LEVEL, MOST_RUNS, Runs
from archive.domain.soundcheck import EAR_MS

Samples = npt.NDArray[np.float32]
Words = npt.NDArray[np.uint32]

REPEATED_MS = (20, 500)  # a buffer is hardly shorter, and a longer one is not looked for
REPEATED_MOST = 8  # times over: what goes on repeating is a tone, or a machine
REPEATED_STEADY = 0.5  # share of samples that stand still: silence repeats itself as well
_LOOK_S = 4  # looked through at a time, and the last second once more
_MIXED = 8  # samples that make one mark
_LEAST_ANCHORS = 8  # of the marks of a block, some are kept, whichever they are: the same sound has the same ones
_SHARE = 0.25  # of them that must come again at one distance
_MOST_LAGS = 32
_MIX = np.random.default_rng(8).integers(1, 2**32, _MIXED, dtype=np.uint64).astype(np.uint32) | np.uint32(1)

TOP_LEAST = 0.01  # -40 dBFS
TOP_STEP = 2.0**-11  # coarser files stand at one level by nature
TOP_RUNS = 10  # a peak may stand still once
TOP_NEAR = 0.97
TOP_SHARE = 0.3  # of what lies near the top, at the very top: a tone has 0.06, a voice that was cut off nearly all
_BINS = 1 << 13

GONE_MS = 10_000
GONE_DBFS = -70.0  # as an ear weighs it; a room is louder, a loose plug is not
GONE_UNDER_DB = 10.0  # under the faintest twentieth of the rest: a room that falls silent is no fault
GONE_SHARE = 0.9
GONE_GAP_STEPS = 10  # half a second: the crackle of a plug


class RepeatFinder:
    """Blocks of sound that stand twice, one right after the other, sample by sample; one channel."""

    def __init__(self, rate_hz: int, step: float = 0.0) -> None:
        self._rate_hz = rate_hz
        self._least, self._most = (rate_hz * ms // 1000 for ms in REPEATED_MS)
        self._every = 1 << max(0, (self._least // _LEAST_ANCHORS).bit_length() - 1)
        self._loud = max(EDGE_LEVEL, 4 * step)
        self._held: list[Samples] = []
        self._at = 0  # of the first sample that is held
        self._end = 0
        self.stretches: list[tuple[int, int]] = []

    def feed(self, at: int, pcm: Samples) -> None:
        """Take the next samples, [n]; what comes after a hole begins anew."""
        if at != self._end:
            self.finish()
            self._at = at
        self._held.append(pcm)
        self._end = at + len(pcm)
        if self._end - self._at >= _LOOK_S * self._rate_hz + 2 * self._most:
            both = self._look()
            self._held = [both[-2 * self._most :].copy()]
            self._at = self._end - 2 * self._most

    def finish(self) -> None:
        """Look at what is left."""
        if self._held:
            self._look()
        self._held = []

    def _look(self) -> Samples:
        sound = np.concatenate(self._held)
        bits = (sound + np.float32(0)).view(np.uint32)  # no zero is less than another
        for lag in self._lags(bits, np.abs(sound) >= self._loud / 4):
            same = np.concatenate([[False], bits[lag:] == bits[:-lag], [False]])
            edges = np.flatnonzero(np.diff(same.astype(np.int8)))
            for first, end in zip(edges[::2], edges[1::2], strict=True):
                if lag <= end - first <= REPEATED_MOST * lag and self._is_sound(sound[first : first + lag]):
                    self._keep(self._at + int(first) + lag, self._at + int(end) + lag)
        return sound

    def _lags(self, bits: Words, loud: npt.NDArray[np.bool_]) -> list[int]:
        """Distances at which the same few samples come again often enough; faint noise has few shapes, and all come again."""
        if len(bits) < _MIXED + self._least:
            return []
        size = len(bits) - _MIXED + 1
        mixed = bits[:size] * _MIX[0]
        for n in range(1, _MIXED):
            mixed += bits[n : n + size] * _MIX[n]
        mixed ^= mixed >> np.uint32(15)
        places = np.flatnonzero(((mixed & np.uint32(self._every - 1)) == 0) & (bits[1 : size + 1] != bits[:size]) & loud[:size])
        order = np.argsort(mixed[places], kind="stable")
        marks, places = mixed[places][order], places[order]
        lags = np.diff(places)[marks[1:] == marks[:-1]]
        found, counts = np.unique(lags[(lags >= self._least) & (lags <= self._most)], return_counts=True)
        often = counts >= _SHARE * found / self._every
        return [int(lag) for lag in found[often][np.argsort(-counts[often])][:_MOST_LAGS]]

    def _is_sound(self, block: Samples) -> bool:
        still = float(np.mean(block[1:] == block[:-1]))
        return float(np.ptp(block)) >= self._loud and still < REPEATED_STEADY

    def _keep(self, first: int, end: int) -> None:
        stretch = (first * 1000 // self._rate_hz, -(-end * 1000 // self._rate_hz))
        if stretch not in self.stretches[-8:] and len(self.stretches) < MOST_RUNS:
            self.stretches.append(stretch)


class TopFinder:
    """Flat tops under full scale, one channel: the wave was cut off, and turned down afterwards. Each side of zero for itself."""

    def __init__(self, rate_hz: int, step: float = 0.0) -> None:
        self._sides = [] if step > TOP_STEP else [_Top(rate_hz, step), _Top(rate_hz, step)]

    def feed(self, at: int, pcm: Samples) -> None:
        """Take the next samples, [n]."""
        for side, sound in zip(self._sides, (pcm, -pcm), strict=False):
            side.feed(at, sound)

    def finish(self, at: int) -> list[tuple[int, int]]:
        """Stretches (ms), in order, not touching."""
        found: list[tuple[int, int]] = []
        for start_ms, end_ms in sorted(s for side in self._sides for s in side.finish(at)):
            if found and start_ms - found[-1][1] <= CLIPPED_JOIN_MS:
                found[-1] = (found[-1][0], max(end_ms, found[-1][1]))
            else:
                found.append((start_ms, end_ms))
        return found


class _Top:
    def __init__(self, rate_hz: int, step: float) -> None:
        self._rate_hz, self._step = rate_hz, step
        self._highest = TOP_LEAST
        self._near = np.zeros(_BINS + 1, dtype=np.int64)
        self._begin()

    def _begin(self) -> None:
        self._runs, self._count, self._samples = Runs(CLIPPED_RUN), 0, 0
        self._stretches: list[tuple[int, int]] = []

    def _reach(self) -> float:
        return max(1.5 * self._step, 5e-5 * self._highest)

    def feed(self, at: int, pcm: Samples) -> None:
        highest = float(pcm.max())
        if highest < self._highest * TOP_NEAR:
            self._keep(self._runs.close(at))
            return
        if highest > self._highest + self._reach():
            self._begin()
        self._highest = max(highest, self._highest)
        near = pcm[pcm >= TOP_NEAR * self._highest]
        self._near += np.bincount(np.minimum(near * _BINS, _BINS).astype(np.int64), minlength=_BINS + 1)
        self._keep(self._runs.feed(at, pcm >= self._highest - self._reach()))

    def _keep(self, runs: list[tuple[int, int]]) -> None:
        for first, end in runs:
            self._count += 1
            self._samples += end - first
            stretch = (first * 1000 // self._rate_hz, -(-end * 1000 // self._rate_hz))
            if self._stretches and (stretch[0] - self._stretches[-1][1] <= CLIPPED_JOIN_MS or len(self._stretches) >= MOST_RUNS):
                self._stretches[-1] = (self._stretches[-1][0], stretch[1])
            else:
                self._stretches.append(stretch)

    def finish(self, at: int) -> list[tuple[int, int]]:
        self._keep(self._runs.close(at))
        near = int(self._near[int(TOP_NEAR * self._highest * _BINS) :].sum())
        abrupt = self._count >= TOP_RUNS and self._samples >= TOP_SHARE * near
        return self._stretches if abrupt and self._highest < CLIPPED_LEVEL else []


def gone(ear: bytes) -> list[tuple[int, int]]:
    """Stretches (ms) of at least ten seconds in which a channel gives nothing, though it did before or after. `ear`: of audio.bands."""
    levels = np.frombuffer(ear, dtype=np.uint8)
    runs = [r for r in _joined(levels >= -HALF_DB * GONE_DBFS) if (r[1] - r[0]) * EAR_MS >= GONE_MS]
    rest = np.ones(len(levels), dtype=np.bool_)
    for first, end in runs:
        rest[first:end] = False
    if not runs or np.count_nonzero(rest) * EAR_MS < GONE_MS:
        return []
    faintest = float(np.percentile(levels[rest], 95))
    if faintest >= SILENT:  # gated: it falls silent between all words
        return []
    found = []
    for first, end in runs:
        under = levels[first:end] >= faintest + GONE_UNDER_DB * HALF_DB
        own = np.flatnonzero(under)  # a quiet room beside it is no part of it
        if np.mean(under) >= GONE_SHARE and (own[-1] + 1 - own[0]) * EAR_MS >= GONE_MS:
            found.append(((first + int(own[0])) * EAR_MS, (first + int(own[-1]) + 1) * EAR_MS))
    return found


def _joined(low: npt.NDArray[np.bool_]) -> Sequence[tuple[int, int]]:
    """Runs of faint steps (first, one past the last); what breaks them for half a second is bridged."""
    edges = np.flatnonzero(np.diff(low.astype(np.int8), prepend=0, append=0))
    found: list[tuple[int, int]] = []
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        if found and first - found[-1][1] <= GONE_GAP_STEPS:
            found[-1] = (found[-1][0], int(end))
        else:
            found.append((int(first), int(end)))
    return found
