"""Loudness and true peak against EBU Tech 3341 table 1, ITU-R BS.1770 and pyloudnorm."""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest

from archive.audio.level import limited, oversampled_peak, set_loudness
from archive.audio.loudness import measure_array
from archive.audio.mute import edge_faded
from tests.audio import sounds


def stereo(*parts: tuple[float, float]) -> np.ndarray:
    """1 kHz, in phase on two channels: (seconds, dBFS) one after the other."""
    mono = np.concatenate([sounds.sine(1000, seconds, dbfs) for seconds, dbfs in parts])
    return np.stack([mono, mono])


@pytest.mark.parametrize(
    ("parts", "expected_lufs"),
    [
        ([(20, -23)], -23.0),
        ([(20, -33)], -33.0),
        ([(10, -36), (60, -23), (10, -36)], -23.0),
        ([(10, -72), (10, -36), (60, -23), (10, -36), (10, -72)], -23.0),
        ([(20, -26), (20.1, -20), (20, -26)], -23.0),
    ],
)
def test_ebu_tech_3341_table_1(parts: list[tuple[float, float]], expected_lufs: float) -> None:
    """EBU Tech 3341 table 1, cases 1 to 5, ±0.1 LU."""
    loudness, _ = measure_array(stereo(*parts), 48_000)
    assert loudness == pytest.approx(expected_lufs, abs=0.1)


@pytest.mark.parametrize(("amplitude", "expected_dbtp"), [(0.50, -6.0), (1.41, 3.0)])
def test_true_peak_between_the_samples(amplitude: float, expected_dbtp: float) -> None:
    """EBU Tech 3341: fs/4 sine, phase 45°: +0.2/-0.4 dB. Faded in and out: a sudden start is itself a higher peak."""
    wave = edge_faded(sounds.sine(12_000, 2, 0, phase=np.pi / 4) * np.float32(amplitude), 48_000)
    _, peak = measure_array(np.stack([wave, wave]), 48_000)
    assert peak is not None and expected_dbtp - 0.4 <= peak <= expected_dbtp + 0.2


def test_mono_reads_3_lu_lower() -> None:
    """A mono file reads 3 LU below the same signal on two channels (BS.1770 sums the channels)."""
    both, _ = measure_array(stereo((10, -20)), 48_000)
    one, _ = measure_array(stereo((10, -20))[0], 48_000)
    assert both is not None and one is not None
    assert both - one == pytest.approx(3.01, abs=0.05)


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
def test_against_pyloudnorm(rate: int) -> None:
    """Reference library pyloudnorm 0.2.0 (BS.1770)."""
    sound = sounds.voicelike(15, rate) + sounds.noise(15, -60, rate)
    expected = pyloudnorm.Meter(rate).integrated_loudness(sound.astype(np.float64))
    loudness, _ = measure_array(sound, rate)
    assert loudness == pytest.approx(expected, abs=0.1)


def test_silence_has_none() -> None:
    """All-zero audio is -inf."""
    assert measure_array(np.zeros(48_000, dtype=np.float32), 48_000) == (None, None)


@pytest.mark.parametrize("gain_db", [-30, 0, 12])
def test_listening_loudness_is_set(gain_db: float) -> None:
    """-18 LUFS, -1 dBTP (project choice for listening posts), read back with pyloudnorm."""
    sound = (sounds.voicelike(12) * 10 ** (gain_db / 20)).astype(np.float32)
    out = set_loudness(sound, 48_000, -18.0, -1.0)
    assert len(out) == len(sound)
    assert pyloudnorm.Meter(48_000).integrated_loudness(out.astype(np.float64)) == pytest.approx(-18.0, abs=0.3)
    _, peak = measure_array(out, 48_000)
    assert peak is not None and peak <= -1.0


def test_peaks_are_held_without_cutting_the_wave() -> None:
    """A quiet voice with one loud knock: the knock is turned down, the rest reaches its loudness, zeros stay zeros."""
    sound = sounds.voicelike(12) * np.float32(0.05)
    sound[240_000:240_480] += sounds.sine(300, 0.01, -1)
    sound[300_000:310_000] = 0.0
    out = set_loudness(sound, 48_000, -18.0, -1.0)
    loudness, peak = measure_array(out, 48_000)
    assert loudness == pytest.approx(-18.0, abs=0.5)
    assert peak is not None and peak <= -1.0
    assert not out[300_000:310_000].any()
    top = np.abs(out[239_000:242_000]).max()
    assert np.count_nonzero(np.abs(out[239_000:242_000]) >= top * 0.9999) <= 2, "no flat tops"


def test_the_limiter_sees_between_the_samples() -> None:
    """fs/4 at 45°: samples at 0.707 of the true peak (EBU Tech 3341)."""
    wave = sounds.sine(12_000, 1, 0, phase=np.pi / 4)
    assert np.abs(wave).max() == pytest.approx(0.7071, abs=1e-3)
    assert oversampled_peak(wave)[1000:-1000].max() == pytest.approx(1.0, abs=0.02)
    assert oversampled_peak(limited(wave, 48_000, 0.5))[1000:-1000].max() <= 0.51
