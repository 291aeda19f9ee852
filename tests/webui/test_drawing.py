"""The drawings: numbers inside the drawing, nothing where nothing may be heard."""

from __future__ import annotations

import re
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.soundcheck import Problem
from webui.drawing import HIGH, WIDE, at, bars, lanes, marks, ticks, wave_path

NUMBER = re.compile(r"\d+\.?\d*")


def _points(path: str) -> list[tuple[float, float]]:
    values = [float(n) for n in NUMBER.findall(path)]
    return list(zip(values[::2], values[1::2], strict=True))


@given(st.lists(st.tuples(st.integers(-128, 0), st.integers(0, 127)), max_size=4000))
def test_the_wave_stays_inside_and_closes(pairs: list[tuple[int, int]]) -> None:
    path = wave_path(b"".join(bytes([low & 0xFF, high & 0xFF]) for low, high in pairs))
    if not pairs:
        assert path == ""
        return
    assert path.startswith("M") and path.endswith("Z")
    points = _points(path)
    assert len(points) == 2 * min(WIDE, len(pairs))
    assert all(0 <= x <= WIDE and -0.6 <= y <= HIGH + 0.6 for x, y in points)


def test_a_loud_step_reaches_the_edges_and_a_closed_one_is_flat() -> None:
    points = _points(wave_path(bytes([0x81, 0x7F, 0, 0])))  # −127/127, then 0/0
    loud, closed = sorted({x for x, _ in points})
    assert sorted(y for x, y in points if x == loud) == [0.0, 120.0]
    flat = [y for x, y in points if x == closed]
    assert max(flat) - min(flat) < 1.0


def test_a_quiet_recording_is_drawn_to_its_own_loudest_step_and_silence_is_not() -> None:
    quiet = _points(wave_path(bytes([0xF8, 0x08, 0xFC, 0x04])))  # −8/8, then −4/4
    assert sorted({y for _, y in quiet}) == [0.0, 30.0, 90.0, 120.0]
    silent = [y for _, y in _points(wave_path(bytes([0xFF, 0x01] * 10)))]
    assert max(silent) - min(silent) <= 31.0


def test_one_loud_step_among_many_is_not_lost() -> None:
    quiet = bytes([0, 0]) * 50_000 + bytes([0x81, 0x7F]) + bytes([0, 0]) * 50_000
    assert min(y for _, y in _points(wave_path(quiet))) == 0.0


def test_places_on_the_drawing() -> None:
    assert (at(0, 60_000), at(30_000, 60_000), at(60_000, 60_000)) == (0.0, 600.0, 1200.0)
    assert at(90_000, 60_000) == 1200.0
    assert at(5, 0) >= 0


def test_short_stretches_can_still_be_seen() -> None:
    (bar,) = bars([(1000, 1020, "closed")], 3_600_000)
    assert bar.width >= 1.5
    assert bar.words == "closed"


def test_a_lane_for_each_speaker_in_order_of_speaking() -> None:
    drawn = lanes([("I-01", 0, 5000), ("N-01", 5000, 20_000), ("N-01", 20_010, 30_000), ("I-01", 40_000, 60_000)], 60_000)
    assert [lane.speaker for lane in drawn] == ["I-01", "N-01"]
    assert [(b.x, b.width) for b in drawn[0].bars] == [(0.0, 100.0), (800.0, 400.0)]
    assert [(b.x, b.width) for b in drawn[1].bars] == [(100.0, 500.0)]  # 10 ms apart: one bar


@given(st.integers(0, 24 * 3_600_000))
def test_an_axis_has_few_times_and_begins_at_nought(duration_ms: int) -> None:
    found = ticks(duration_ms)
    assert found[0] == (0, 0) and 1 <= len(found) <= 7
    assert all(0 <= x <= 100 and ms % 1000 == 0 and ms < max(duration_ms, 1) for x, ms in found)
    assert len({b[1] - a[1] for a, b in pairwise(found)}) <= 1


@given(st.lists(st.tuples(st.integers(0, 60_000), st.integers(1, 60_000))), st.booleans())
def test_marks_stay_inside_and_can_be_seen(stretches: list[tuple[int, int]], hums: bool) -> None:
    problems = [Problem("wind", s, s + e, "Wind.") for s, e in stretches] + [Problem("hum_50", None, None, "Hum.")] * hums
    found = marks(problems, 60_000)
    assert [m.kind for m in found] == ["wind"] * bool(stretches) + ["hum_50"] * hums
    assert all(0 <= b.x <= 100 and b.width >= 0.4 and b.x + b.width <= 100.02 for m in found for b in m.bars)
    assert not hums or (found[-1].throughout and found[-1].bars[0].width == 100)
