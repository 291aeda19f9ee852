"""The plan of chunks: everything once, cut where nobody speaks."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from archive.speech.plan import plan_chunks

TARGET = 300_000


@st.composite
def recordings(draw: st.DrawFn) -> tuple[list[tuple[int, int]], int]:
    """Speech and pauses in turn, then an end somewhere."""
    gaps = draw(st.lists(st.tuples(st.integers(0, 90_000), st.integers(1, 900_000)), max_size=30))
    at, speech = 0, []
    for pause, talk in gaps:
        speech.append((at + pause, at + pause + talk))
        at += pause + talk
    return speech, max(1, at + draw(st.integers(-1000, 50_000)))


@given(recordings(), st.sampled_from([1_000, 30_000, TARGET]))
def test_nothing_left_out_nothing_twice_nothing_too_long(
    recording: tuple[list[tuple[int, int]], int], target: int
) -> None:
    speech, duration = recording
    chunks = plan_chunks(speech, duration, target)
    assert chunks[0][0] == 0 and chunks[-1][1] == duration
    assert all(a[1] == b[0] for a, b in zip(chunks, chunks[1:], strict=False))
    assert all(0 < end - start <= 2 * target for start, end in chunks)
    assert plan_chunks(list(reversed(speech)), duration, target) == chunks, "order of what is given does not matter"


@given(st.integers(1, 200), st.integers(300, 5_000))
def test_cuts_lie_in_pauses_where_there_are_pauses(sentences: int, pause: int) -> None:
    speech = [(n * (10_000 + pause), n * (10_000 + pause) + 10_000) for n in range(sentences)]
    duration = sentences * (10_000 + pause)
    for _, end in plan_chunks(speech, duration)[:-1]:
        assert not any(s < end < e for s, e in speech)
        assert 0.6 * TARGET <= end - _ <= 1.2 * TARGET


def test_the_longest_pause_near_the_target_is_taken() -> None:
    speech = [(0, 250_000), (250_400, 280_000), (285_000, 330_000), (330_300, 700_000)]
    assert plan_chunks(speech, 700_000)[0] == (0, 282_500)


def test_short_recordings_are_one_chunk() -> None:
    assert plan_chunks([], 1) == [(0, 1)]
    assert plan_chunks([(0, 359_000)], 360_000) == [(0, 360_000)]
    assert plan_chunks([], 0) == []


def test_somebody_who_never_pauses_is_cut_all_the_same() -> None:
    assert plan_chunks([(0, 2_000_000)], 2_000_000) == [
        (0, 600_000),
        (600_000, 1_200_000),
        (1_200_000, 1_800_000),
        (1_800_000, 2_000_000),
    ]


def test_a_pause_after_the_window_is_better_than_none() -> None:
    assert plan_chunks([(0, 400_000), (401_000, 900_000)], 900_000)[0] == (0, 400_500)


def test_four_silent_hours_are_planned() -> None:
    chunks = plan_chunks([], 4 * 3_600_000)
    assert all(180_000 <= e - s <= 360_000 for s, e in chunks)


@given(recordings(), st.sampled_from([1_000, 30_000, TARGET]), st.lists(st.integers(-5, 2_000_000), max_size=6))
def test_a_chunk_ends_where_another_language_begins(recording: tuple[list[tuple[int, int]], int], target: int, edges: list[int]) -> None:
    speech, duration = recording
    chunks = plan_chunks(speech, duration, target, edges)
    assert chunks[0][0] == 0 and chunks[-1][1] == duration
    assert all(a[1] == b[0] for a, b in zip(chunks, chunks[1:], strict=False))
    assert all(0 < end - start <= 2 * target for start, end in chunks)
    assert {e for e in edges if 0 < e < duration} <= {end for _, end in chunks}
    assert set(plan_chunks(speech, duration, target)) == set(plan_chunks(speech, duration, target, [0, duration, duration + 1]))
