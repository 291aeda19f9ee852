"""The edges of a mute: never less than the word and its margin, then on to where the sound itself is quiet."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.audio.edges import REACH_MS, SPECK_MS, widened
from archive.audio.levels import LEVEL_MS, SILENT, LevelTrack, loudest
from tests.audio import sounds

WORDS = st.lists(st.tuples(st.integers(0, 20_000), st.integers(0, 1_500)).map(lambda p: (p[0], p[0] + p[1])), max_size=6)


@given(
    stretches=WORDS,
    levels=st.one_of(st.just(b""), st.binary(max_size=300), st.binary(min_size=1, max_size=40).map(lambda b: b * 60)),
    margin=st.integers(20, 2_000),
    duration=st.integers(1, 22_000),
)
def test_any_levels_give_the_word_its_margin_and_stay_inside(
    stretches: list[tuple[int, int]], levels: bytes, margin: int, duration: int
) -> None:
    wide = widened(levels, stretches, margin, duration)
    assert all(0 <= s < e <= duration for s, e in wide)
    assert all(a[1] + SPECK_MS <= b[0] for a, b in zip(wide, wide[1:], strict=False)), "in order, nothing audible between"
    for start, end in stretches:
        low, high = max(0, start - margin), min(duration, end + margin)
        if low < high:
            assert any(s <= low and high <= e for s, e in wide)
    farthest = margin + REACH_MS + 2 * LEVEL_MS
    for s, e in wide:  # and never farther than it may look
        assert any(s >= max(0, a - farthest) for a, _ in stretches) and any(e <= max(b, a + 1) + farthest for a, b in stretches)


def loudness(*parts: tuple[int, float]) -> bytes:
    """Levels of parts (ms, dB below full scale)."""
    return bytes(v for ms, below_db in parts for v in [min(SILENT, round(2 * below_db))] * (ms // LEVEL_MS))


@pytest.mark.parametrize(
    ("levels", "word", "wide", "why"),
    [
        (loudness((3_000, 70), (1_000, 25), (3_000, 70)), (3_200, 3_800), (2_990, 4_010), "the voice goes on beyond the margin: to the pause"),
        (loudness((3_000, 70), (400, 25), (3_000, 70)), (3_100, 3_300), (2_970, 3_430), "already quiet: the margin and one step"),
        (loudness((2_000, 70), (1_000, 25), (20, 70), (1_500, 25), (2_000, 70)), (3_200, 3_800), (3_070, 3_930), "20 ms are no pause"),
        (loudness((6_000, 25),), (3_000, 3_300), (2_870, 3_430), "no valley at all: the margin"),
        (loudness((2_800, 25), (40, 45), (160, 25), (3_000, 70)), (3_050, 3_300), (2_830, 3_430), "a near valley before a far pause"),
    ],
)  # fmt: skip
def test_edges_fall_where_the_sound_is_quiet(levels: bytes, word: tuple[int, int], wide: tuple[int, int], why: str) -> None:
    (found,) = widened(levels, [word], 120, len(levels) * LEVEL_MS)
    assert found == wide, why
    assert found[0] <= word[0] - 120 and found[1] >= word[1] + 120


def test_the_floor_is_the_rooms_here_and_holes_are_no_room() -> None:
    """A generator starts half-way: there its noise is the quiet. A hole of digital silence does not make a room silent."""
    noisy = loudness((30_000, 75), (10_000, 45), (1_000, 20), (10_000, 45))
    assert widened(noisy, [(40_200, 40_800)], 120, 51_000) == [(39_990, 41_010)]
    holed = loudness((3_000, 127.5), (3_000, 60), (600, 20), (3_000, 60))
    assert widened(holed, [(6_150, 6_450)], 120, 9_600) == [(5_990, 6_610)]


def test_without_levels_the_margin_alone() -> None:
    assert widened(b"", [(1_000, 1_300), (1_350, 1_500), (50, 90)], 120, 1_560) == [(0, 210), (880, 1_560)]
    assert widened(loudness((1_000, 30)), [], 120, 1_000) == []


# --- levels -------------------------------------------------------------------------------------------------------------


def track(pcm: np.ndarray, pieces: int = 1) -> bytes:
    found = LevelTrack()
    for piece in np.array_split(pcm, pieces):
        found.feed(np.ascontiguousarray(piece, dtype=np.float32))
    return found.finish()


def test_levels_are_those_of_a_filter_written_otherwise() -> None:
    """Against scipy's lfilter on the whole array, in steps of 160 samples; however the sound is cut into blocks."""
    from scipy import signal

    sound = sounds.voicelike(3.007, 16_000)
    sharp = signal.lfilter([1, -0.95], [1], sound.astype(np.float64))
    steps = [sharp[n : n + 160] for n in range(0, len(sharp), 160)]
    wanted = [np.clip(round(-20 * np.log10(np.mean(step**2))), 0, 255) for step in steps]
    found = track(sound)
    assert len(found) == -(-len(sound) // 160)
    assert np.abs(np.frombuffer(found, dtype=np.uint8).astype(int) - wanted).max() <= 1
    assert track(sound, 37) == found


def test_a_faint_high_consonant_stands_out_of_rumble() -> None:
    """4 kHz at -50 dBFS over 50 Hz at -40 dBFS: 10 dB fainter, and yet the louder in the levels."""
    rumble = sounds.sine(50, 1, -40, 16_000)
    hiss = sounds.sine(4_000, 1, -50, 16_000)
    assert track(rumble + hiss)[50] < track(rumble)[50] - 20


def test_silence_and_more_than_full_scale_fit_into_a_byte() -> None:
    assert track(np.zeros(1_600, dtype=np.float32)) == bytes([SILENT]) * 10
    assert set(track(np.full(1_600, 8.0, dtype=np.float32) * (-1) ** np.arange(1_600))) == {0}
    assert track(np.zeros(0, dtype=np.float32)) == b""


def test_the_loudest_channel_counts() -> None:
    assert loudest([bytes([10, 200, 30]), bytes([20, 100])]) == bytes([10, 100, 30])
    assert loudest([]) == b""
