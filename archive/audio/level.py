"""Loudness of something that is given away: one gain, and a soft look-ahead limit where peaks would pass the ceiling."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from archive.audio.loudness import measure_array

Samples = npt.NDArray[np.float32]
LOOK_MS = 5
OVERSAMPLE = 4
HEADROOM_DB = 0.15  # the meter reads in steps, 16 bit rounds
MOST_ROUNDS = 8
MOST_GAIN_DB = 40.0  # more would only lift the noise of a silent stretch


def set_loudness(pcm: Samples, rate_hz: int, loudness_lufs: float, true_peak_dbtp: float) -> Samples:
    """float32 [n] at the wanted loudness with no true peak over the ceiling. Zeros stay exact zeros; same length."""
    ceiling = 10 ** ((true_peak_dbtp - HEADROOM_DB) / 20)
    out, gain_db = pcm, 0.0
    for _ in range(MOST_ROUNDS):  # limiting lowers the loudness a little, so the gain is found in rounds
        measured, _peak = measure_array(out, rate_hz)
        if measured is None:
            break
        step_db = loudness_lufs - measured
        gain_db = min(gain_db + step_db, MOST_GAIN_DB)
        out = limited(np.asarray(pcm * np.float32(10 ** (gain_db / 20)), dtype=np.float32), rate_hz, ceiling)
        if abs(step_db) < 0.05 or gain_db == MOST_GAIN_DB:
            break
    return limited(out, rate_hz, ceiling)


def limited(pcm: Samples, rate_hz: int, ceiling: float) -> Samples:
    """Turn down, smoothly and in time, wherever the sound between the samples would pass `ceiling` (linear)."""
    if not len(pcm):
        return pcm
    gain = limiting_gain(oversampled_peak(pcm), rate_hz, ceiling)
    return pcm if gain is None else np.asarray(pcm * gain, dtype=np.float32)


def limiting_gain(peak: Samples, rate_hz: int, ceiling: float) -> Samples | None:
    """What to multiply each sample with, so that no `peak` passes the ceiling; None where none does."""
    if float(peak.max()) <= ceiling:
        return None
    need = np.minimum(1.0, ceiling / np.maximum(peak, 1e-9)).astype(np.float32)
    reach = max(1, rate_hz * LOOK_MS // 1000)
    held = _lowest_around(need, reach)
    window = np.hanning(2 * reach + 1)[1:-1]
    smooth = np.convolve(np.pad(held, reach - 1, mode="edge"), window / window.sum(), mode="valid")
    return np.asarray(np.minimum(smooth, 1.0), dtype=np.float32)


def oversampled_peak(pcm: Samples) -> Samples:
    """Highest level at and after each sample, also between samples: 4 times oversampled by windowed sinc."""
    out = np.abs(pcm).astype(np.float32)
    taps = np.arange(-12, 12)
    for step in range(1, OVERSAMPLE):
        offset = step / OVERSAMPLE
        kernel = np.sinc(taps + 1 - offset) * np.blackman(27)[1:-1][:24]
        between = np.abs(np.convolve(pcm, (kernel / kernel.sum())[::-1], mode="full")[11 : 11 + len(pcm)])
        out = np.maximum(out, between)
    return np.asarray(out, dtype=np.float32)


def _lowest_around(values: Samples, reach: int) -> Samples:
    """Lowest value within `reach` samples on both sides, by doubling."""
    out = np.pad(values, reach, mode="edge")
    width, done = 2 * reach + 1, 1
    while done < width:
        step = min(done, width - done)
        out = np.minimum(out[:-step], out[step:])
        done += step
    return np.asarray(out, dtype=np.float32)
