"""Milliseconds become samples here, once; mutes and fades on numpy arrays, so nothing changes in length."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from archive.errors import Broken

Samples = npt.NDArray[np.float32]
FADE_MS = 15


def samples_down(ms: int, rate_hz: int) -> int:
    """First sample at or before a moment."""
    return ms * rate_hz // 1000


def samples_up(ms: int, rate_hz: int) -> int:
    """First sample at or after a moment."""
    return -(-ms * rate_hz // 1000)


def kept_gain(length: int, first: int, rate_hz: int, mutes: Sequence[tuple[int, int]], fade_ms: int = FADE_MS) -> Samples:
    """How much of each sample stays: 0 over each mute (ms of the recording, rounded outwards), 1 elsewhere; fades lie outside.

    `first`: the recording's sample number of the first one at this rate; mutes beside the piece still fade into it.
    """
    gain = np.ones(length, dtype=np.float32)
    fade = max(1, samples_up(fade_ms, rate_hz))
    ramp = (0.5 + 0.5 * np.cos(np.pi * (np.arange(fade, dtype=np.float32) + 1) / (fade + 1))).astype(
        np.float32
    )  # 1 → 0
    for start_ms, end_ms in mutes:
        if end_ms <= start_ms:
            continue
        start, end = samples_down(start_ms, rate_hz) - first, samples_up(end_ms, rate_hz) - first
        _lower(gain, start - fade, ramp)
        _lower(gain, end, ramp[::-1])
        gain[max(0, start) : max(0, end)] = 0.0
    return gain


def thinned(pcm: Samples, gain: Samples) -> Samples:
    """The samples times their gain: exact zeros where it is 0, whatever was there (an infinity, or no number)."""
    return np.asarray(np.where(gain > 0, pcm, np.float32(0)) * gain, dtype=np.float32)


def need_silence(pcm: Samples, gain: Samples) -> None:
    """The last look before sound is handed on. Raises Broken where the length changed or a muted sample is not zero."""
    if len(pcm) != len(gain) or np.any(pcm[gain == 0]):  # a NaN counts as sound
        raise Broken("A stretch that must be silent is not silent; nothing was given.")


def _lower(gain: Samples, at: int, ramp: Samples) -> None:
    start, end = max(0, at), min(len(gain), at + len(ramp))
    if end > start:
        gain[start:end] = np.minimum(gain[start:end], ramp[start - at : end - at])


def edge_gain(length: int, rate_hz: int, fade_ms: int = FADE_MS) -> Samples:
    """How much of each sample stays where a piece begins and ends softly."""
    fade = min(samples_up(fade_ms, rate_hz), length // 2)
    gain = np.ones(length, dtype=np.float32)
    if fade > 0:
        ramp = (0.5 - 0.5 * np.cos(np.pi * np.arange(fade, dtype=np.float32) / fade)).astype(np.float32)
        gain[:fade] = ramp
        gain[-fade:] = ramp[::-1]
    return gain


def edge_faded(pcm: Samples, rate_hz: int, fade_ms: int = FADE_MS) -> Samples:
    """A copy that begins and ends softly; same length."""
    return np.asarray(pcm * edge_gain(len(pcm), rate_hz, fade_ms), dtype=np.float32)
