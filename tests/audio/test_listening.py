"""Sound for pages: any range of bytes is the same as that range of the whole; closed stretches are silent and unseen."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.audio.access import HEADER_BYTES, PlayedStretch, piece
from archive.audio.peaks import closed_peaks, coarser_peaks, slice_peaks
from archive.errors import BadInput
from tests.audio import sounds


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sounds.write(tmp_path_factory.mktemp("play") / "a.wav", sounds.marks(30))


def test_a_stretch_is_a_wav_of_its_length(source: Path) -> None:
    sound, rate = soundfile.read(io.BytesIO(piece(source, 2_500, 7_500)), dtype="float32")
    assert rate == 24_000 and len(sound) == 5 * 24_000
    for second in (3, 5, 7):
        at = (second - 2.5) * 24_000
        assert abs(int(np.argmax(np.abs(sound[round(at) : round(at) + 1_200]))) - 240) <= 240


def test_mutes_are_silent(source: Path) -> None:
    sound, _ = soundfile.read(io.BytesIO(piece(source, 2_500, 7_500, [(4_900, 5_200)])), dtype="int16")
    assert not sound[2_400 * 24 : 2_700 * 24].any() and sound[2_800 * 24 :].any()


@pytest.mark.parametrize("suffix", ["wav", "flac", "mp3", "m4a", "opus"])
def test_ranges_fit_together(source: Path, tmp_path: Path, suffix: str) -> None:
    path = sounds.encoded(source, tmp_path / f"a.{suffix}") if suffix != "wav" else source
    stretch = PlayedStretch(path, 1_234, 9_876, [(3_000, 3_500)])
    edges = [0, 20, 44, 45, 10_001, 150_000, 240_003, stretch.size]
    parts = b"".join(stretch.read(a, b) for a, b in zip(edges, edges[1:], strict=False))
    assert len(parts) == stretch.size
    whole = np.frombuffer(piece(path, 1_234, 9_876, [(3_000, 3_500)])[HEADER_BYTES:], dtype="<i2").astype(np.int32)
    joined = np.frombuffer(parts[HEADER_BYTES:], dtype="<i2").astype(np.int32)
    apart = np.abs(whole - joined)[240:-240]  # the whole has soft edges
    assert np.sqrt(np.mean(apart.astype(float) ** 2)) < 0.03 * np.sqrt(np.mean(whole.astype(float) ** 2))
    assert not joined[(3_000 - 1_234) * 24 : (3_500 - 1_234) * 24].any()


@settings(max_examples=30, deadline=None)
@given(a=st.integers(0, 480_043), b=st.integers(1, 480_044))
def test_any_range_has_its_length(source: Path, a: int, b: int) -> None:
    stretch = PlayedStretch(source, 0, 10_000)
    assert stretch.size == 480_044
    if a < b:
        assert len(stretch.read(a, b)) == b - a
    else:
        with pytest.raises(BadInput):
            stretch.read(a, b)


def test_nothing_of_a_name_outside_its_mute_margin_is_in_a_range_beside_it(source: Path) -> None:
    """A range that begins inside a mute begins with zeros."""
    stretch = PlayedStretch(source, 0, 20_000, [(4_000, 6_000)])
    raw = stretch.read(HEADER_BYTES + 2 * 24 * 4_500, HEADER_BYTES + 2 * 24 * 6_000)
    assert not np.frombuffer(raw, dtype="<i2").any()


def test_closed_stretches_cannot_be_drawn() -> None:
    pairs = np.tile(np.array([[-5, 7]], dtype=np.int8), (40, 1)).tobytes()
    out = np.frombuffer(closed_peaks(pairs, 50, [(120, 260), (1_999, 5_000)]), dtype=np.int8).reshape(-1, 2)
    assert len(out) == 40
    closed = [n for n in range(40) if not out[n].any()]
    assert closed == [2, 3, 4, 5, 39], "every step a closed stretch touches"


@given(
    start=st.integers(0, 3_000),
    length=st.integers(0, 1_000),
    steps=st.integers(0, 60),
    step_ms=st.sampled_from([20, 50]),
)
def test_no_step_with_a_closed_moment_is_left(start: int, length: int, steps: int, step_ms: int) -> None:
    pairs = np.ones((steps, 2), dtype=np.int8).tobytes()
    out = np.frombuffer(closed_peaks(pairs, step_ms, [(start, start + length)]), dtype=np.int8).reshape(-1, 2)
    assert len(out) == steps
    for n in range(steps):
        touched = length > 0 and n * step_ms < start + length and start < (n + 1) * step_ms
        assert bool(out[n].any()) is not touched


def test_slices_and_coarser_peaks() -> None:
    pairs = np.arange(20, dtype=np.int8).reshape(10, 2)
    assert slice_peaks(pairs.tobytes(), 50, 120, 210) == pairs[2:5].tobytes()
    coarse = np.frombuffer(coarser_peaks(pairs.tobytes(), 4), dtype=np.int8).reshape(-1, 2)
    assert coarse.tolist() == [[0, 7], [8, 15], [16, 19]]
    assert coarser_peaks(b"", 4) == b""
