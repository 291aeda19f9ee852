"""Whether one file goes on where another ends: the second must continue the very wave of the first.

A predictor of 16 samples is fitted to the last moment of the first file; it must foresee the first samples of the second as
well as it foresees its own. Sound that cannot be foreseen (hiss alone, digital silence) says nothing either way.
"""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

Samples = npt.NDArray[np.float64]
_EDGE = 4096  # samples on either side
_ORDER = 16
_PREDICTABLE = 6.0  # how much louder the sound is than what the predictor misses (project choice, as the two below)
_JOINS = 6.0
_BREAKS = 12.0
_QUIET = 1e-5


class Join(StrEnum):
    """What the sound says about two files in a row."""

    JOINS = "joins"
    BREAKS = "breaks"
    OPEN = "open"


def join(first: Path, second: Path) -> Join:
    """Compare the end of one file with the start of another: WAV and FLAC; anything else is open. Never raises."""
    try:
        end, start = _edge(first, last=True), _edge(second, last=False)
    except (soundfile.LibsndfileError, RuntimeError, OSError):
        return Join.OPEN
    if end.shape[1] != start.shape[1] or len(end) < _EDGE or len(start) < _ORDER:
        return Join.OPEN
    loudest = int(np.argmax(np.square(end).sum(axis=0)))
    return joined(end[:, loudest], start[:, loudest])


def joined(end: Samples, start: Samples) -> Join:
    """The same of samples: the end of one, the start of the other (full scale 1.0, one channel, the same rate)."""
    level = float(np.sqrt(np.mean(np.square(end))))
    if level < _QUIET or float(np.max(np.abs(start[:_ORDER]))) == 0.0:
        return Join.OPEN
    past = np.lib.stride_tricks.sliding_window_view(end, _ORDER + 1)
    weights, *_ = np.linalg.lstsq(past[:, :-1], past[:, -1], rcond=None)
    missed = float(np.sqrt(np.mean(np.square(past[:, -1] - past[:, :-1] @ weights))))
    missed = max(missed, 1.0 / 65536)  # the steps of 16 bits: a pure tone is foreseen better than it is written
    if level < _PREDICTABLE * missed:
        return Join.OPEN
    over = np.lib.stride_tricks.sliding_window_view(np.concatenate([end[-_ORDER:], start[:_ORDER]]), _ORDER + 1)
    worst = float(np.max(np.abs(over[:, -1] - over[:, :-1] @ weights))) / missed
    return Join.JOINS if worst <= _JOINS else Join.BREAKS if worst >= _BREAKS else Join.OPEN


def _edge(path: Path, last: bool) -> Samples:
    with soundfile.SoundFile(str(path)) as sound:
        if last:
            sound.seek(max(0, sound.frames - _EDGE))
        return np.asarray(np.nan_to_num(sound.read(_EDGE, dtype="float64", always_2d=True)), dtype=np.float64)
