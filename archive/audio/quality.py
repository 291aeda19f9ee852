"""Quality flags. All limits are common practice without a source (CHECKS §3) unless named as our own choice.

Each flag is a finding with a place and words, not a verdict: a person listens and decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]

CLIPPED_LEVEL = 10 ** (-0.1 / 20)  # 3 or more samples in a row at or above -0.1 dBFS: common practice, no source
CLIPPED_RUN = 3
CLIPPED_JOIN_MS = 1000
LOW_LUFS = -35.0  # common practice, no source
DROPOUT_MS = 5  # exact zeros of at least 5 ms inside speech: common practice, no source; a repeated sample likewise: project choice
EDGE_MS = 3
EDGE_LEVEL = 10 ** (-50 / 20)  # project choice: a gate that closes softly is no dropout, a hole torn into sound is
EDGE_STEPS = 4  # project choice: what moves by less in coarse files (8 bit) stands still anyway
DC_LEVEL = 0.01  # project choice: a mean of -40 dBFS
DEAD_DBFS = -75.0  # project choice
DEAD_BELOW_DB = 50.0  # project choice: crosstalk from a neighbouring microphone is louder than that
INVERTED_CORRELATION = -0.9  # project choice
SAME_RATIO = 1e-4  # project choice: the difference of the channels lies 40 dB below them
HUM_DB = 10.0  # mains and harmonics at least 10 dB over neighbouring bins: common practice, no source
HUM_RATE_HZ = 2000
HUM_WINDOW_S = 8
HUM_SURE_WINDOWS = 3  # 16 s; shorter recordings need one line more
HUM_SHARE = 0.6  # project choice: a voice passes 100 Hz, mains stays there
HUM_HARMONICS = 6
HUM_LINES = 2  # one line alone, far under the voice, is in many good recordings and nobody hears it
HUM_STRONG_DB = 20.0  # project choice: the mains itself, this far over its neighbours, with a harmonic now and then, is one
HUM_FAINT_SHARE = 0.3
MOST_RUNS = 2000


@dataclass(frozen=True, slots=True)
class Flag:
    """One finding about quality. Times in ms; None: the whole recording."""

    code: str
    start_ms: int | None
    end_ms: int | None
    words: str


class Runs:
    """Finds runs of true values across blocks: (first sample, one past the last)."""

    def __init__(self, least: int) -> None:
        self._least = least
        self._open: int | None = None

    def feed(self, at: int, mask: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
        """Runs that ended inside or at the edge before this block."""
        edges = np.flatnonzero(np.diff(mask.astype(np.int8), prepend=0, append=0))
        spans = [(int(a) + at, int(b) + at) for a, b in zip(edges[::2], edges[1::2], strict=True)]
        if self._open is not None:
            if spans and spans[0][0] == at:
                spans[0] = (self._open, spans[0][1])
            else:
                spans.insert(0, (self._open, at))
            self._open = None
        if spans and spans[-1][1] == at + len(mask):
            self._open = spans.pop()[0]
        return [s for s in spans if s[1] - s[0] >= self._least]

    def close(self, at: int) -> list[tuple[int, int]]:
        """The run that is still open at the end (or before a hole), if any."""
        spans = [] if self._open is None or at - self._open < self._least else [(self._open, at)]
        self._open = None
        return spans


class ClipFinder:
    """Stretches with clipped samples, one channel. `above_full`: samples may lie above full scale (files of floating-point
    numbers), so that only a flat top is cut off."""

    def __init__(self, rate_hz: int, above_full: bool = False) -> None:
        self._rate_hz = rate_hz
        self._above_full = above_full
        self._steady = Steady()
        self._runs = Runs(CLIPPED_RUN - above_full)
        self.stretches: list[tuple[int, int]] = []

    def feed(self, at: int, pcm: Samples) -> None:
        """Take the next samples, [n]."""
        loud = np.abs(pcm) >= CLIPPED_LEVEL
        self._keep(self._runs.feed(at, loud & self._steady.feed(pcm) if self._above_full else loud))

    def finish(self, at: int) -> None:
        """Close the last run."""
        self._keep(self._runs.close(at))

    def _keep(self, runs: list[tuple[int, int]]) -> None:
        for first, end in runs:
            start_ms, end_ms = (first - self._above_full) * 1000 // self._rate_hz, -(-end * 1000 // self._rate_hz)
            if self.stretches and (
                start_ms - self.stretches[-1][1] <= CLIPPED_JOIN_MS or len(self.stretches) >= MOST_RUNS
            ):
                self.stretches[-1] = (self.stretches[-1][0], end_ms)
            else:
                self.stretches.append((start_ms, end_ms))


class Steady:
    """Marks samples that are exactly the one before them, across blocks."""

    def __init__(self) -> None:
        self._last: np.float32 | None = None

    def feed(self, pcm: Samples) -> npt.NDArray[np.bool_]:
        """One mark a sample, [n]."""
        same = np.empty(len(pcm), dtype=np.bool_)
        np.equal(pcm[1:], pcm[:-1], out=same[1:])
        same[0] = self._last is not None and pcm[0] == self._last
        self._last = pcm[-1]
        return same


class DropoutFinder:
    """Runs of exact zeros, or of one sample repeated, torn into sound, one channel. Whether speech stands around them is
    asked at the end. `step`: the smallest difference of two samples (8 bit: 1/128), which is no sound."""

    def __init__(self, rate_hz: int, step: float = 0.0) -> None:
        self._rate_hz = rate_hz
        self._edge = max(1, rate_hz * EDGE_MS // 1000)
        self._least = max(EDGE_LEVEL, EDGE_STEPS * step)
        self._steady = Steady()
        self._runs = Runs(max(1, rate_hz * DROPOUT_MS // 1000 - 1))
        self._tail: Samples = np.zeros(0, dtype=np.float32)
        self._before = 0.0  # level before the run that the last sample belongs to
        self.candidates: list[tuple[int, int]] = []

    def feed(self, at: int, pcm: Samples) -> None:
        """Take the next samples, [n]."""
        steady = self._steady.feed(pcm)
        both = np.concatenate([self._tail, pcm])
        shift = len(self._tail) - at
        for second, end in self._runs.feed(at, steady):
            first, stop = second - 1, end + shift
            before = self._before if first < at else self._level(both, first + shift)
            after = float(np.max(np.abs(both[stop : stop + self._edge]), initial=0.0))
            clipped = abs(both[stop - 1]) >= CLIPPED_LEVEL
            if min(before, after) >= self._least and not clipped and len(self.candidates) < MOST_RUNS:
                self.candidates.append((first * 1000 // self._rate_hz, -(-end * 1000 // self._rate_hz)))
        moving = np.flatnonzero(~steady)
        if len(moving):
            self._before = self._level(both, int(moving[-1]) + len(self._tail))
        self._tail = both[-self._edge :]

    def _level(self, sound: Samples, at: int) -> float:
        """The highest of the few milliseconds before a sample."""
        return float(np.max(np.abs(sound[max(0, at - self._edge) : at]), initial=0.0))

    def inside(self, speech_ms: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        """The holes that have speech within 100 ms on both sides."""
        edges = np.array(speech_ms, dtype=np.int64).reshape(-1, 2)
        found = []
        for start, end in self.candidates:
            left = bool(np.any((edges[:, 0] <= start) & (edges[:, 1] >= start - 100)))
            right = bool(np.any((edges[:, 0] <= end + 100) & (edges[:, 1] >= end)))
            if left and right:
                found.append((start, end))
        return found


class HumFinder:
    """Lines at 50 or 60 Hz and their harmonics that stand still through the recording, one channel of 16 kHz sound.

    Windows are long: in 8 s a line that stands still gathers in one bin, and a voice spreads over many.
    """

    def __init__(self) -> None:
        self._odd: Samples = np.zeros(0, dtype=np.float32)  # 16 kHz samples that make no whole sample yet
        self._sound: Samples = np.zeros(0, dtype=np.float32)  # at HUM_RATE_HZ
        self._size = HUM_RATE_HZ * HUM_WINDOW_S
        self._hann = np.hanning(self._size + 1)[:-1].astype(np.float32)
        self._lines = sorted({base * k for base in (50, 60) for k in range(1, HUM_HARMONICS + 1)})
        self._hits = np.zeros(len(self._lines), dtype=np.int64)
        self._strong = {50: 0, 60: 0}
        self._windows = 0

    def feed(self, pcm16k: Samples) -> None:
        """Take the next samples of 16 kHz sound, [n]."""
        fold = 16000 // HUM_RATE_HZ
        both = np.concatenate([self._odd, pcm16k])
        whole = len(both) // fold * fold
        self._odd = both[whole:]
        self._sound = np.concatenate([self._sound, both[:whole].reshape(-1, fold).mean(axis=1)])
        while len(self._sound) >= self._size:
            self._window(self._sound[: self._size])
            self._sound = self._sound[self._size // 2 :]

    def _window(self, sound: Samples) -> None:
        sound = sound - sound.mean()
        if float(np.sqrt(np.mean(sound**2))) < 10 ** (-90 / 20):
            return
        power = np.abs(np.fft.rfft(sound * self._hann)) ** 2
        self._windows += 1
        reach = HUM_WINDOW_S // 2  # ±0.5 Hz: mains and recorders both wander a little
        for i, line_hz in enumerate(self._lines):
            mid = line_hz * HUM_WINDOW_S
            line = max(float(power[mid + d - 1 : mid + d + 2].mean()) for d in range(-reach, reach + 1))
            near, far = 2 * HUM_WINDOW_S, 8 * HUM_WINDOW_S
            beside = np.concatenate([power[mid - far : mid - near], power[mid + near : mid + far]])
            over = line / max(float(np.median(beside)), 1e-12)
            self._hits[i] += over >= 10 ** (HUM_DB / 10)
            if line_hz in self._strong:
                self._strong[line_hz] += over >= 10 ** (HUM_STRONG_DB / 10)

    def base_hz(self) -> int | None:
        """50, 60 or None."""
        if not self._windows:
            return None
        lines_needed = HUM_LINES if self._windows >= HUM_SURE_WINDOWS else HUM_LINES + 1
        share = dict(zip(self._lines, self._hits / self._windows, strict=True))
        best: tuple[int, float, int] | None = None
        for base in (50, 60):
            steady = [k for k in range(1, HUM_HARMONICS + 1) if share[base * k] >= HUM_SHARE]
            own = [k for k in steady if (base * k) % 300]  # 300 Hz belongs to both
            faint = [k for k in range(2, HUM_HARMONICS + 1) if share[base * k] >= HUM_FAINT_SHARE and (base * k) % 300]
            strong = self._windows >= HUM_SURE_WINDOWS and self._strong[base] >= HUM_SHARE * self._windows
            if own and (len(steady) >= lines_needed or (strong and faint)):
                rank = (len(steady), float(sum(share[base * k] for k in steady)), base)
                best = rank if best is None or rank > best else best
        return None if best is None else best[2]


class Sums:
    """Means, levels and the likeness of two channels."""

    def __init__(self, channels: int) -> None:
        self.count = 0
        self.total = np.zeros(channels)
        self.square = np.zeros(channels)
        self.cross = 0.0
        self.difference = 0.0

    def feed(self, pcm: Samples) -> None:
        """Take the next samples, [channels, n]."""
        self.count += pcm.shape[1]
        self.total += pcm.sum(axis=1, dtype=np.float64)
        self.square += np.einsum("cn,cn->c", pcm, pcm, dtype=np.float64)
        if pcm.shape[0] == 2:
            self.cross += float(np.einsum("n,n->", pcm[0], pcm[1], dtype=np.float64))
            apart = pcm[0] - pcm[1]
            self.difference += float(np.einsum("n,n->", apart, apart, dtype=np.float64))

    def rms_dbfs(self, channel: int) -> float:
        """Level of one channel without its DC part; -inf for silence."""
        if not self.count:
            return -math.inf
        power = self.square[channel] / self.count - (self.total[channel] / self.count) ** 2
        return 10 * math.log10(power) if power > 1e-20 else -math.inf

    def mean(self, channel: int) -> float:
        """DC part of one channel, full scale 1.0."""
        return float(self.total[channel] / self.count) if self.count else 0.0

    @property
    def same(self) -> bool:
        """True where two channels carry the same sound."""
        both = float(self.square.sum())
        return len(self.square) == 2 and both > 0 and self.difference <= SAME_RATIO * both

    @property
    def correlation(self) -> float:
        """Correlation of two channels, -1..1; 0 where one is silent."""
        if len(self.square) != 2:
            return 0.0
        norm = math.sqrt(float(self.square[0] * self.square[1]))
        return self.cross / norm if norm > 0 else 0.0


def channel_flags(sums: Sums) -> list[Flag]:
    """Dead channel, opposite phase, the same sound twice, DC offset."""
    flags = []
    levels = [sums.rms_dbfs(c) for c in range(len(sums.square))]
    loudest = max(levels, default=-math.inf)
    dead = [
        c
        for c, level in enumerate(levels)
        if len(levels) > 1 and loudest > DEAD_DBFS and (level < DEAD_DBFS or level < loudest - DEAD_BELOW_DB)
    ]
    for c in dead:
        flags.append(Flag("dead_channel", None, None, f"Channel {c + 1} is silent: its microphone was probably off."))
    if len(levels) == 2 and not dead and loudest > -math.inf:
        if sums.same:
            flags.append(Flag("same_channels", None, None, "Both channels carry the same sound; one is enough."))
        elif sums.correlation <= INVERTED_CORRELATION:
            words = "The channels are in opposite phase: mixed to one they cancel out. Only the first is listened to."
            flags.append(Flag("inverted", None, None, words))
    for c in range(len(levels)):
        if abs(sums.mean(c)) >= DC_LEVEL:
            words = f"Channel {c + 1} has a constant offset of {sums.mean(c):+.3f} of full scale."
            flags.append(Flag("dc_offset", None, None, words))
    return flags
