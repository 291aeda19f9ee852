"""The sound check's reckoning: figures of pieces against plain counting, problems cut at closed edges, what counts against a post."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.soundcheck import (
    EAR_MS,
    KINDS,
    Figures,
    Fit,
    Problem,
    figures,
    grouped,
    in_short,
    inside,
    judge,
    perhaps_swapped,
    problems_of,
    shared,
)

LONG = 60_000
GOOD = Figures(LONG, 50_000, -25.0, -60.0, True)
SPEECH = [[(5_000, 55_000)]]


@st.composite
def stretches(draw: st.DrawFn, most: int = 2_000) -> list[tuple[int, int]]:
    """In order, not touching, inside 0 to `most` ms."""
    marks = sorted(draw(st.sets(st.integers(0, most), max_size=12)))
    return list(zip(marks[::2], marks[1::2], strict=False))


@given(stretches(), stretches())
def test_what_two_lists_share_is_what_both_hold(these: list[tuple[int, int]], those: list[tuple[int, int]]) -> None:
    def held(some: list[tuple[int, int]]) -> set[int]:
        return {ms for s, e in some for ms in range(s, e)}

    assert held(shared(these, those)) == held(these) & held(those)


@given(stretches(), stretches())
def test_nothing_of_a_problem_lies_outside_the_pieces(found: list[tuple[int, int]], pieces: list[tuple[int, int]]) -> None:
    whole = Problem("hum_50", None, None, "Hum.")
    cut = inside([whole, *(Problem("wind", s, e, "Wind.") for s, e in found)], pieces)
    assert cut[0] == whole
    assert [(p.start_ms, p.end_ms) for p in cut[1:]] == [x for s, e in found for x in shared([(s, e)], pieces)]


@given(st.lists(st.binary(min_size=40, max_size=40), min_size=1, max_size=2), stretches(), stretches())
def test_figures_are_those_of_plain_counting(ears: list[bytes], speech: list[tuple[int, int]], pieces: list[tuple[int, int]]) -> None:
    found = figures(ears, [speech], pieces)
    louder = [min(track[n] for track in ears) for n in range(40)]

    def wholly(n: int, some: list[tuple[int, int]]) -> bool:
        return any(s <= n * EAR_MS and (n + 1) * EAR_MS <= e for s, e in some)

    spoken = shared(pieces, speech)
    voiced = [louder[n] for n in range(40) if wholly(n, spoken) and louder[n] < 255]
    assert found.speech_ms == sum(e - s for s, e in spoken) and found.heard_ms == sum(e - s for s, e in pieces)
    if not voiced:
        assert found.speech_dbfs is None
    else:
        assert found.speech_dbfs == pytest.approx(10 * math.log10(sum(10 ** (-b / 20) for b in voiced) / len(voiced)))
    heard = [louder[n] for n in range(40) if wholly(n, pieces) and louder[n] < 255]
    assert found.noise_dbfs is None or -found.noise_dbfs * 2 in heard
    assert 0 <= found.speech_share <= 1 and (found.ratio_db is None or found.ratio_db >= 0)


def test_what_is_not_to_be_heard_is_in_no_figure() -> None:
    """A shout in a closed stretch moves nothing."""
    quiet, shout = bytes([140] * 400), bytes([140] * 200 + [4] * 100 + [140] * 100)
    speech, pieces = [[(2_000, 18_000)]], [(0, 10_000), (15_000, 20_000)]
    assert figures([quiet], speech, pieces) == figures([shout], speech, pieces)
    assert figures([shout], speech, [(0, 20_000)]).speech_dbfs != figures([quiet], speech, [(0, 20_000)]).speech_dbfs


@pytest.mark.parametrize(
    ("noise", "fit"), [(-60.0, Fit.POST), (-45.0, Fit.POST), (-44.0, Fit.LISTEN), (-35.5, Fit.LISTEN), (-34.0, Fit.READ), (-20.0, Fit.READ)],
)
def test_how_far_the_voice_must_stand_over_the_noise(noise: float, fit: Fit) -> None:
    """20 dB for a post, 10 dB for more than reading: choices of this project."""
    found = judge(Figures(LONG, 50_000, -24.9, noise, True), (), SPEECH, 48_000)
    assert found.fit == fit and "dB" in found.reasons[0]


@pytest.mark.parametrize(("ms", "fit"), [(0, Fit.POST), (100, Fit.LISTEN), (8_000, Fit.LISTEN), (12_000, Fit.READ)])
@pytest.mark.parametrize("kind", ["clipped", "wind", "dropout", "damaged"])
def test_how_much_of_the_speech_may_be_spoilt(kind: str, ms: int, fit: Fit) -> None:
    """From a hundredth of it on, with a quarter of a second on both sides, somebody listens; from a fifth on it is for reading."""
    problems = (Problem(kind, 10_000, 10_000 + ms, "Something."),) if ms else ()
    assert judge(GOOD, problems, SPEECH, 48_000).fit == fit
    before_anybody_speaks = (Problem(kind, 0, 4_000, "Something."),)
    assert judge(GOOD, before_anybody_speaks, SPEECH, 48_000).fit == Fit.POST


def test_what_else_counts_against_a_post() -> None:
    for kind, fit in (("hum_50", Fit.LISTEN), ("hum_60", Fit.LISTEN), ("low_level", Fit.POST), ("same_channels", Fit.POST), ("silent", Fit.READ)):
        assert judge(GOOD, (Problem(kind, None, None, "Something."),), SPEECH, 48_000).fit == fit, kind
    assert judge(GOOD, (), SPEECH, 8_000).fit == Fit.LISTEN
    assert judge(Figures(LONG, 0, None, -60.0, True), (), [[]], 48_000).fit == Fit.LISTEN
    both = judge(Figures(LONG, 50_000, -30.0, -28.0, True), (Problem("hum_50", None, None, "Hum."),), SPEECH, 8_000)
    assert both.fit == Fit.READ and len(both.reasons) == 3, "every reason is said"


def test_problems_are_told_in_order_and_once_a_kind() -> None:
    flags = [["clipped", 5_000, 5_010, "Too loud."], ["hum_50", None, None, "Hum."], ["clipped", 900, 950, "Too loud."], ["of tomorrow", 1, 2, "?"]]
    found = problems_of(flags, [[2_000, 2_050, "A piece cannot be read here."]])
    assert [(p.kind, p.start_ms) for p in found] == [("hum_50", None), ("clipped", 900), ("damaged", 2_000), ("clipped", 5_000)]
    assert [(g.kind, g.places) for g in grouped(found)] == [("hum_50", ()), ("clipped", ((900, 950), (5_000, 5_010))), ("damaged", ((2_000, 2_050),))]
    assert in_short(found, places=True) == ("hum (50 Hz)", "clipped in places", "damaged in places")
    assert in_short(found, places=False) == ("hum (50 Hz)",)
    assert all(kind.advice.endswith(".") and kind.name for kind in KINDS.values())


def test_sides_are_asked_about_only_where_the_interviewer_s_side_speaks_far_longer() -> None:
    """Sound alone cannot tell who is who: it is a question, and none below twice as long."""
    loud, soft = 50, 90
    left = bytes([loud] * 1_500 + [soft] * 500)
    right = bytes([soft] * 1_500 + [loud] * 500)
    speech = [[(0, 100_000)], []]
    asked = perhaps_swapped([left, right], speech, "interviewer", "narrator")
    assert asked is not None and "left" in asked.words and "perhaps" in asked.words
    assert perhaps_swapped([left, right], speech, "narrator", "interviewer") is None
    assert perhaps_swapped([left, right], speech, "narrator", "narrator") is None
    assert perhaps_swapped([left], speech[:1], "interviewer", "narrator") is None
    assert perhaps_swapped([left[:800], right[:800]], [[(0, 40_000)], []], "interviewer", "narrator") is None, "too short to ask"
    even = bytes([loud] * 1_000 + [soft] * 1_000)
    assert perhaps_swapped([even, even[::-1]], speech, "interviewer", "narrator") is None
