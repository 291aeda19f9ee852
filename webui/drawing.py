"""Drawings made on the server as plain numbers for inline SVG: the waveform, and who speaks when."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

WIDE, HIGH = 1200, 120
TICKS_MS = tuple(1000 * s for s in (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400))
MOST_TICKS = 6  # their times stand side by side on a telephone too
LEAST_PER_CENT = 0.4
LEAST_SHARE = 4.0
LEAST_FULL = 4  # of 127, about −30 dBFS: what is quieter than that is drawn quiet


@dataclass(frozen=True, slots=True)
class Bar:
    """A piece of a drawing, in the drawing's own units."""

    x: float
    width: float
    words: str = ""


@dataclass(frozen=True, slots=True)
class Lane:
    """One speaker's line: where they speak."""

    speaker: str
    bars: tuple[Bar, ...]


class Found(Protocol):
    """A problem of the sound (domain.soundcheck.Problem)."""

    @property
    def kind(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def start_ms(self) -> int | None: ...
    @property
    def end_ms(self) -> int | None: ...


@dataclass(frozen=True, slots=True)
class Marks:
    """One kind of problem drawn: x and width of its bars in per cent of the recording; `throughout`: one bar is all of it."""

    kind: str
    name: str
    bars: tuple[Bar, ...]
    throughout: bool


def wave_path(peaks: bytes) -> str:
    """Peaks (int8 pairs lowest, highest per step) as the `d` of one closed path, WIDE × HIGH units.

    Drawn to the loudest step, so that a quiet recording can be read too; silence is not blown up.
    """
    pairs = np.frombuffer(peaks[: len(peaks) // 2 * 2], dtype=np.int8).reshape(-1, 2).astype(np.int16)
    if not len(pairs):
        return ""
    columns = min(WIDE, len(pairs))
    firsts = np.arange(columns) * len(pairs) // columns
    full = min(127, max(int(np.abs(pairs).max()), LEAST_FULL))
    lows = np.minimum.reduceat(pairs[:, 0], firsts).tolist()
    highs = np.maximum.reduceat(pairs[:, 1], firsts).tolist()
    upper: list[str] = []
    lower: list[str] = []
    for column, (low, high) in enumerate(zip(lows, highs, strict=True)):
        x = round((column + 0.5) * WIDE / columns, 1)
        upper.append(f"{x} {HIGH / 2 - min(max(high / full, 0.006), 1.0) * HIGH / 2:.1f}")
        lower.append(f"{x} {HIGH / 2 - max(min(low / full, -0.006), -1.0) * HIGH / 2:.1f}")
    return f"M{upper[0]}L{'L'.join(upper[1:] + lower[::-1])}Z"


def at(ms: int, duration_ms: int) -> float:
    """A time as a place on the drawing."""
    return round(min(max(ms, 0), duration_ms) * WIDE / max(duration_ms, 1), 1)


def bars(stretches: Iterable[tuple[int, int, str]], duration_ms: int) -> tuple[Bar, ...]:
    """Stretches (start_ms, end_ms, words) as bars, each at least wide enough to be seen."""
    made = []
    for start_ms, end_ms, words in stretches:
        x = at(start_ms, duration_ms)
        made.append(Bar(x, round(max(at(end_ms, duration_ms) - x, 1.5), 1), words))
    return tuple(made)


def gaps(stretches: Iterable[tuple[int, int]], duration_ms: int) -> list[tuple[int, int]]:
    """What of a recording lies outside these stretches (start_ms, end_ms; in order)."""
    missing = []
    at_ms = 0
    for start_ms, end_ms in stretches:
        if start_ms > at_ms:
            missing.append((at_ms, start_ms))
        at_ms = max(at_ms, end_ms)
    if duration_ms > at_ms:
        missing.append((at_ms, duration_ms))
    return missing


def lanes(spoken: Iterable[tuple[str, int, int]], duration_ms: int) -> tuple[Lane, ...]:
    """Who speaks when, one lane a speaker in the order they first speak; (speaker, start_ms, end_ms) in time order."""
    stretches: dict[str, list[tuple[int, int, str]]] = {}
    for speaker, start_ms, end_ms in spoken:
        line = stretches.setdefault(speaker, [])
        if line and start_ms - line[-1][1] < duration_ms / WIDE:  # closer than one unit: one bar
            line[-1] = (line[-1][0], end_ms, "")
        else:
            line.append((start_ms, end_ms, ""))
    return tuple(Lane(speaker, bars(line, duration_ms)) for speaker, line in stretches.items())


def ticks(duration_ms: int) -> tuple[tuple[float, int], ...]:
    """Times for an axis: (per cent of the recording, ms), at whole seconds, minutes or hours, from 0 on."""
    step = next((t for t in TICKS_MS if duration_ms / t < MOST_TICKS), TICKS_MS[-1])
    return tuple((_per_cent(ms, duration_ms), ms) for ms in range(0, max(duration_ms, 1), step))


def marks(problems: Iterable[Found], duration_ms: int) -> tuple[Marks, ...]:
    """Problems as bars, a row a kind, those in places before those throughout; each bar at least wide enough to be seen."""
    rows: dict[str, list[Bar]] = {}
    names: dict[str, str] = {}
    whole: set[str] = set()
    for found in problems:
        names[found.kind] = found.name
        if found.start_ms is None or found.end_ms is None:
            rows[found.kind] = [Bar(0, 100)]
            whole.add(found.kind)
        else:
            x = _per_cent(found.start_ms, duration_ms)
            wide = max(_per_cent(found.end_ms, duration_ms) - x, LEAST_PER_CENT)
            rows.setdefault(found.kind, []).append(Bar(round(min(x, 100 - wide), 2), round(wide, 2)))
    made = [Marks(kind, names[kind], tuple(some), kind in whole) for kind, some in rows.items()]
    return tuple(sorted(made, key=lambda m: m.throughout))


def _per_cent(ms: int, duration_ms: int) -> float:
    return round(min(max(ms, 0), duration_ms) * 100 / max(duration_ms, 1), 2)


def share(part: int, most: int) -> float:
    """How wide a bar is, in per cent of the widest one; what is not nothing can be seen."""
    return round(max(100 * part / most, LEAST_SHARE), 1) if part and most else 0.0
