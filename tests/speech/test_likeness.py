"""What voices are like, by the real model: filter banks against Kaldi's, then real voices with known turns."""

from __future__ import annotations

import hashlib
from importlib.resources import files

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from archive.speech.likeness import HOP_MS, LEAST_MS, MODEL, SHA256, SIZE, WINDOW_MS, features, likenesses, windows_of
from tests.bench import voices as bench
from tests.needs import real_speech

# kaldi-native-fbank 1.23.0 (80 banks of 20-8000 Hz, no dither) on `noise` below: every 16th bank of frames 0, 50 and 97.
KALDI = {0: [14.2922, 17.8311, 19.9752, 23.2893, 24.4948], 50: [13.5613, 18.1288, 20.5004, 23.2917, 24.3564], 97: [13.0252, 17.6621, 21.9794, 22.1442, 24.2162]}


def noise() -> np.ndarray:
    """One second, the same on every machine: a linear congruential generator (Numerical Recipes), -20 to +20 %."""
    found, state = np.zeros(16_000), 1
    for n in range(len(found)):
        state = (1664525 * state + 1013904223) % 2**32
        found[n] = 0.4 * (state / 2**32 - 0.5)
    return found.astype(np.float32)


def test_filter_banks_are_kaldi_s() -> None:
    banks = features(noise())
    assert banks.shape == (98, 80) and banks.dtype == np.float32
    for frame, values in KALDI.items():
        assert np.abs(banks[frame, ::16] - values).max() < 0.01, frame
    assert features(noise()[:399]).shape == (0, 80)


def test_the_model_is_the_one_that_was_measured_and_its_licence_lies_beside_it() -> None:
    data = files("archive.speech") / "data"
    assert hashlib.sha256((data / MODEL).read_bytes()).hexdigest() == SHA256
    assert "Apache License" in (data / "campplus-voices.LICENSE.txt").read_text(encoding="utf-8")


@given(st.integers(0, 10_000), st.integers(0, 20_000))
def test_windows_cover_a_stretch_and_stay_inside(start_ms: int, length_ms: int) -> None:
    found = windows_of(start_ms, start_ms + length_ms)
    assert (found == []) == (length_ms < LEAST_MS)
    if not found:
        return
    assert found[0][0] == start_ms and found[-1][1] <= start_ms + length_ms
    assert start_ms + length_ms - found[-1][1] <= HOP_MS // 4
    assert all(0 < b[0] - a[0] <= HOP_MS and e - s <= WINDOW_MS for (a, b), (s, e) in zip(zip(found, found[1:], strict=False), found, strict=False))


def test_vectors_have_length_one_whatever_the_windows() -> None:
    found = likenesses(noise(), [(0, 300), (0, 1000), (200, 900)])
    assert found.shape == (3, SIZE) and np.allclose(np.linalg.norm(found, axis=1), 1, atol=1e-4)
    assert likenesses(noise(), []).shape == (0, SIZE)


def test_real_voices_with_known_turns() -> None:
    """jfk.flac and a LibriVox reader, named first, the rest suggested: all of it sure and right (measured), never wrong; of four
    people whom nobody named (hand-labelled mary and bobby, both sides of stereo_diarization) nothing is suggested."""
    real_speech()
    share = bench.real_share()
    assert share.sure_wrong == share.perhaps_wrong == 0
    whole = share.sure_right + share.perhaps_right + share.nobody
    assert whole > 8_000 and share.sure_right >= 0.8 * whole
    suggested, said = bench.strangers()
    assert suggested == 0 and said > 8_000
