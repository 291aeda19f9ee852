"""Sound for pages: a stretch is a WAV of its length in every format; closed stretches are silent and unseen."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from archive.audio.access import piece
from archive.audio.peaks import closed_peaks
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
def test_every_format_plays_the_same_stretch(source: Path, tmp_path: Path, suffix: str) -> None:
    """Read by soundfile: the length of the stretch, its bursts where they were made, zeros and nothing else in a mute."""
    path = sounds.encoded(source, tmp_path / f"a.{suffix}") if suffix != "wav" else source
    sound, rate = soundfile.read(io.BytesIO(piece(path, 1_234, 9_876, [(3_000, 3_500)])), dtype="int16")
    assert rate == 24_000 and len(sound) == (9_876 - 1_234) * 24
    for second in (2, 4, 8):
        at = (second * 1000 - 1_234) * 24
        near = np.abs(sound[at - 480 : at + 960].astype(np.int32))
        assert abs(int(np.argmax(near)) - 480 - 240) <= 480 and near.max() > 3_000
    assert not sound[(3_000 - 1_234) * 24 : (3_500 - 1_234) * 24].any()


def test_a_stretch_that_is_none_is_refused(source: Path) -> None:
    for start_ms, end_ms in ((5_000, 5_000), (-1, 200), (0, 16 * 60_000)):
        with pytest.raises(BadInput):
            piece(source, start_ms, end_ms)


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
