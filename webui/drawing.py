"""Drawings made on the server as plain numbers for inline SVG: the waveform, who speaks when, the plan of the places."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

WIDE, HIGH = 1200, 120
TICKS_MS = tuple(1000 * s for s in (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400))
MOST_TICKS = 6  # their times stand side by side on a telephone too
LEAST_PER_CENT = 0.4
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


# -- the plan of the places: metres east and north, drawn for a telephone's width; larger screens draw it larger ------------
PLAN_WIDE = 340.0
PLAN_EDGE = 26.0
MARK = 12.5  # radius of a mark that can be pressed: 25 units apart at least (WCAG 2.5.8 wants 24 CSS pixels)
MOST_MARKS = 60
LETTER, LINE = 5.6, 11.0  # a label's letter and line in these units, at its largest
LENGTHS_M = tuple(n * 10**k for k in range(6) for n in (1, 2, 5))


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on the plan: where it is drawn, where it is, and where its name stands (`anchor` "" where there is no room for it)."""

    number: int
    name: str
    passages: int
    x: float
    y: float
    at_x: float
    at_y: float
    label_x: float = 0.0
    label_y: float = 0.0
    anchor: str = ""

    @property
    def moved(self) -> bool:
        """True where it is not drawn where it is."""
        return abs(self.x - self.at_x) + abs(self.y - self.at_y) > 2


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan in units of its own: `high` of them high, `length` of the scale's bar; `dots`: places without a mark of their own."""

    high: float
    marks: tuple[Mark, ...]
    dots: tuple[tuple[float, float], ...]
    length: float
    length_m: int
    north: bool


def plan(places: Iterable[tuple[int, str, int, float, float]], north: bool) -> Plan | None:
    """Places (number, name, passages, metres east, metres north) as a plan; None where there is none. Those with most passages have marks."""
    every = sorted(places, key=lambda p: (-p[2], p[1]))
    if not every:
        return None
    east, up = np.array([p[3] for p in every]), np.array([p[4] for p in every])
    wide_m, high_m = float(np.ptp(east)), float(np.ptp(up))
    span = max(wide_m, high_m / 1.3, 1.0)
    scale = (PLAN_WIDE - 2 * PLAN_EDGE) / span
    high = max(high_m * scale, 60.0) + 2 * PLAN_EDGE + 16
    xs = PLAN_EDGE + (east - east.min()) * scale + (span - wide_m) * scale / 2
    ys = PLAN_EDGE + (up.max() - up) * scale
    some = min(len(every), MOST_MARKS)
    spread = _apart(np.column_stack([xs, ys])[:some], high - 16)
    marks = [
        Mark(p[0], p[1], p[2], round(float(x), 1), round(float(y), 1), round(float(xs[n]), 1), round(float(ys[n]), 1))
        for n, (p, (x, y)) in enumerate(zip(every, spread, strict=False))
    ]
    length_m = max((n for n in LENGTHS_M if n * scale <= PLAN_WIDE / 3), default=1)
    dots = tuple((round(float(x), 1), round(float(y), 1)) for x, y in zip(xs[some:], ys[some:], strict=True))
    return Plan(round(high, 1), tuple(_labelled(marks, high - 16)), dots, round(length_m * scale, 1), length_m, north)


def _apart(points: np.ndarray, high: float) -> np.ndarray:
    """The points moved until no two marks lie on each other, as far as there is room; the same points give the same plan."""
    made = points.astype(float).copy()
    for _ in range(300):
        away = made[:, None, :] - made[None, :, :]
        far = np.hypot(away[..., 0], away[..., 1])
        np.fill_diagonal(far, np.inf)
        close = far < 2 * MARK + 0.5
        if not close.any():
            break
        same = far < 0.01  # two on one spot part sideways, in the order in which they come
        away[..., 0] = np.where(same, np.subtract.outer(np.arange(len(made)), np.arange(len(made))), away[..., 0])
        push = np.where(close, (2 * MARK + 0.6 - np.minimum(far, 2 * MARK)) / 2, 0.0)
        length = np.where(same, np.abs(away[..., 0]), np.where(np.isinf(far), 1.0, far))
        made += (away / length[..., None] * push[..., None]).sum(axis=1)
        made[:, 0] = made[:, 0].clip(MARK + 1, PLAN_WIDE - MARK - 1)
        made[:, 1] = made[:, 1].clip(MARK + 1, high - MARK - 1)
    return made


def _labelled(marks: Sequence[Mark], high: float) -> Iterable[Mark]:
    """The marks with their names beside them, wherever these cover neither a mark nor another name."""
    taken = [(m.x - MARK, m.y - MARK, m.x + MARK, m.y + MARK) for m in marks]
    for mark in marks:
        wide = len(mark.name) * LETTER
        middle = min(max(mark.x, wide / 2 + 2), PLAN_WIDE - wide / 2 - 2)
        below, above = mark.y + MARK + LINE / 2 + 1, mark.y - MARK - LINE / 2 - 1
        right, left = mark.x + MARK + 2, mark.x - MARK - 2
        for anchor, x, y in (
            ("start", right, mark.y), ("end", left, mark.y), ("middle", middle, below), ("middle", middle, above),
            ("end", left + 3, below - 5), ("end", left + 3, above + 5), ("start", right - 3, below - 5), ("start", right - 3, above + 5),
        ):  # fmt: skip
            from_x = x - wide * {"start": 0, "end": 1, "middle": 0.5}[anchor]
            box = (from_x, y - LINE / 2, from_x + wide, y + LINE / 2)
            inside = box[0] >= 1 and box[2] <= PLAN_WIDE - 1 and box[1] >= 1 and box[3] <= high
            if inside and not any(box[0] < t[2] and t[0] < box[2] and box[1] < t[3] and t[1] < box[3] for t in taken):
                taken.append(box)
                yield replace(mark, label_x=round(x, 1), label_y=round(y, 1), anchor=anchor)
                break
        else:
            yield mark
