"""Access copies: on the master's clock, at the loudness asked for, no peak over the ceiling; read by others than their maker.

Outside values: loudness by pyloudnorm (BS.1770-4; 0.3 LU: it gates blocks as a whole), true peak ≤ −1 dBTP by EBU R 128, 4 times oversampled by
scipy; Opus in Ogg begins with a pre-skip (RFC 7845 §4.2), read back by libsndfile and by the ffmpeg program, neither of which made it.
"""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyloudnorm
import pytest
import soundfile
from scipy.signal import resample_poly

from archive.audio import decode
from archive.audio.accesscopy import READINGS, _levelled, _limited, make_access_copy
from archive.audio.probe import Caps
from archive.services.demo import SAMPLES

Samples = npt.NDArray[np.float32]
LUFS = -18.0


def copy_of(source: Path, out: Path, use: tuple[int, ...] = (0, 1), stereo: bool = False) -> Path:
    make_access_copy(source, out, use, stereo, LUFS, Caps())
    return out


def lag_ms(a: Samples, b: Samples, rate_hz: int, most_ms: int = 60) -> float:
    """By how much b comes after a, from the peak of their correlation, to a sample."""
    size, most = 2 * len(a), most_ms * rate_hz // 1000
    found = np.fft.irfft(np.conj(np.fft.rfft(a, size)) * np.fft.rfft(b, size))
    near = np.concatenate([found[-most:], found[:most]])
    return float(np.argmax(near) - most) * 1000 / rate_hz


def clicks(path: Path, seconds: int, channels: int = 1, rate_hz: int = 48000, level: float = 0.1) -> Path:
    """Noise bursts of 40 ms, the sides in turn: each place of the recording sounds like no other."""
    rng = np.random.default_rng(7)
    sound = np.zeros((seconds * rate_hz, channels), dtype=np.float32)
    for n, at in enumerate(range(rate_hz // 10, len(sound) - rate_hz // 10, rate_hz // 7)):
        sound[at : at + rate_hz // 25, n % channels] = level * rng.standard_normal(rate_hz // 25)
    soundfile.write(path, sound, rate_hz, subtype="PCM_16")
    return path


@pytest.mark.parametrize("name", ["TW-11.wav", "TW-04a.mp3", "TW-07.m4a", "TW-09.opus"])
def test_a_copy_is_on_the_masters_clock(tmp_path: Path, name: str) -> None:
    """Within 1 ms at its start, after seeking, and near its end; by two readers that did not make it. Measured: 0."""
    source, copy = SAMPLES / name, copy_of(SAMPLES / name, tmp_path / "copy.opus", (0,))
    whole, rate_hz = soundfile.read(copy, dtype="float32")
    assert rate_hz == 48000
    last_ms = len(whole) * 1000 // rate_hz - 5000
    for start_ms in (0, 33_333, last_ms):
        master = decode.pcm(source, start_ms, start_ms + 4000, None, 48000)
        assert abs(lag_ms(master, decode.pcm(copy, start_ms, start_ms + 4000, None, 48000), 48000)) <= 1.0
        assert abs(lag_ms(master, whole[start_ms * 48 : start_ms * 48 + len(master)], 48000)) <= 1.0


@pytest.mark.parametrize("rate_hz", [8000, 44_100, 96_000])
def test_other_rates_stay_on_the_clock(tmp_path: Path, rate_hz: int) -> None:
    source = clicks(tmp_path / "clicks.wav", 6, rate_hz=rate_hz)
    whole, _ = soundfile.read(copy_of(source, tmp_path / "copy.opus", (0,)), dtype="float32")
    assert abs(len(whole) / 48000 - 6) < 0.001, "no sample more or less than a millisecond's"
    for start_ms in (0, 2500):
        master = decode.pcm(source, start_ms, start_ms + 2000, None, 48000)
        assert abs(lag_ms(master, whole[start_ms * 48 : start_ms * 48 + len(master)], 48000)) <= 1.0


def test_loudness_and_peak(tmp_path: Path) -> None:
    """A quiet and a hot recording come out alike; the limiter moves loudness by less than EBU R 128's ±1 LU for live programmes."""
    for name in ("TW-11.wav", "TW-04b.mp3"):
        whole, rate_hz = soundfile.read(copy_of(SAMPLES / name, tmp_path / "copy.opus", (0,)))
        assert abs(pyloudnorm.Meter(rate_hz).integrated_loudness(whole) - LUFS) <= 0.5
        assert 20 * np.log10(np.max(np.abs(resample_poly(whole, 4, 1)))) <= -1.0 + 0.1, "the oversampling of two meters differs a little"


def test_peaks_are_held_where_the_gain_would_pass_the_ceiling(tmp_path: Path) -> None:
    """Bursts that are 25 dB over their mean: one gain alone would clip them."""
    made = make_access_copy(clicks(tmp_path / "c.wav", 8, level=0.02), tmp_path / "copy.opus", (0,), False, -14.0, Caps())
    whole, _ = soundfile.read(tmp_path / "copy.opus")
    assert made.true_peak_dbtp is not None and made.true_peak_dbtp <= -1.0
    assert 20 * np.log10(np.max(np.abs(resample_poly(whole, 4, 1)))) <= -1.0 + 0.1


def test_two_microphones_stay_left_and_right(tmp_path: Path) -> None:
    source = clicks(tmp_path / "two.wav", 6, channels=2)
    whole, _ = soundfile.read(copy_of(source, tmp_path / "copy.opus", (0, 1), stereo=True), dtype="float32")
    assert whole.shape[1] == 2
    for side in (0, 1):
        mine, other = decode.pcm(source, 0, 4000, side, 48000), decode.pcm(source, 0, 4000, 1 - side, 48000)
        heard = whole[: len(mine), side]
        assert abs(lag_ms(mine, heard, 48000)) <= 1.0
        assert np.corrcoef(mine, heard)[0, 1] > 0.7 and abs(np.corrcoef(other, heard)[0, 1]) < 0.1


def test_silence_stays_silent(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "s.wav", np.zeros(96_000, dtype=np.float32), 48000)
    made = make_access_copy(tmp_path / "s.wav", tmp_path / "copy.opus", (0,), False, LUFS, Caps())
    assert (made.loudness_lufs, made.true_peak_dbtp) == (None, None)


def test_limiting_in_pieces_is_limiting_at_once() -> None:
    rng = np.random.default_rng(3)
    sound = (rng.standard_normal((2, 200_000)) * np.repeat(rng.uniform(0.02, 0.9, (1, 200)), 1000, axis=1)).astype(np.float32)
    pieces = [sound[:, a:b] for a, b in zip((0, 7, 30_000, 90_001), (7, 30_000, 90_001, 200_000), strict=True)]
    out = np.concatenate(list(_levelled(iter(pieces), 0.0, -6.0)), axis=1)
    assert out.shape == sound.shape
    assert np.allclose(out, _limited(sound, 10 ** (-6 / 20)), atol=1e-6)


def test_memory_does_not_grow_with_length(tmp_path: Path) -> None:
    """What Python holds at most while ten times the sound is copied (numpy counts into it): DESIGN §4, 13."""
    peaks = []
    for seconds in (20, 100):
        source = clicks(tmp_path / f"{seconds}.wav", seconds, rate_hz=16_000)
        told: list[int] = []
        tracemalloc.start()
        make_access_copy(source, tmp_path / "copy.opus", (0,), False, LUFS, Caps(), told.append)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert told[-1] >= READINGS * (seconds - 1) * 1000 and told[0] <= 1000
    assert peaks[1] <= 1.1 * peaks[0] + 200_000, peaks
