"""Where a name really begins and ends: its mute is widened from the guessed time to the next quiet in the sound.

All figures are choices of this project; tests/audio/test_masked_speech.py tries them on real speech with times moved at random.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from archive.audio.levels import HALF_DB, LEVEL_MS, SILENT

REACH_MS = 300  # how far beyond the margin an edge is looked for: the word beside the name lasts about as long
FAR_DB = 0.4  # what each step away counts: of two valleys the nearer, unless the other is 4 dB deeper for each 100 ms
QUIET_MS = 30  # so long must it be quiet
NEAR_FLOOR_DB = 6  # above the floor and still quiet: a room's own noise moves about that much from step to step
AROUND_MS = 4_000  # the floor is that of these seconds before and after
FLOOR_PART = 0.1  # a tenth of all steps is fainter
SPECK_MS = 60  # what would be heard between two mutes is less than a sound of speech: they become one

Bytes = npt.NDArray[np.uint8]
Numbers = npt.NDArray[np.int64]


def widened(
    levels: bytes, stretches: Sequence[tuple[int, int]], margin_ms: int, duration_ms: int
) -> list[tuple[int, int]]:
    """Stretches (ms) of hidden words with `margin_ms` on both sides and then on to the nearest quiet, at most REACH_MS; where
    there is none, to the deepest valley near by. In order, merged, inside the recording; without levels the margin alone.
    """
    wide = [(max(0, s - margin_ms), min(duration_ms, max(e, s + 1) + margin_ms)) for s, e in stretches]
    wide = _joined([(s, e) for s, e in wide if e > s])
    if not levels or not wide:
        return wide
    loud = SILENT - np.frombuffer(levels, dtype=np.uint8)  # 0: silence
    bounds = np.array(wide, dtype=np.int64)
    quiet = _floor(loud, bounds) + np.uint8(NEAR_FLOOR_DB * HALF_DB)
    first, last = bounds[:, 0] // LEVEL_MS, -(-bounds[:, 1] // LEVEL_MS)  # steps, rounded outwards
    starts = np.maximum(0, first - _steps_outwards(loud, first - 1, -1, quiet)) * LEVEL_MS
    ends = np.minimum(duration_ms, (last + _steps_outwards(loud, last, 1, quiet)) * LEVEL_MS)
    return _joined(list(zip(starts.tolist(), ends.tolist(), strict=True)))


def _floor(loud: Bytes, bounds: Numbers) -> Bytes:
    """The level of the room around each stretch, from every other step; digital silence is no room and does not count."""
    around = AROUND_MS // LEVEL_MS
    middle = bounds.mean(axis=1).astype(np.int64) // LEVEL_MS
    at = middle[:, np.newaxis] + np.arange(-around, around + 1, 2)
    found = np.where((at >= 0) & (at < len(loud)), loud[np.clip(at, 0, len(loud) - 1)], np.uint8(0))
    found.sort(axis=1)
    silent = np.count_nonzero(found == 0, axis=1)
    index = np.minimum(silent + ((found.shape[1] - silent) * FLOOR_PART).astype(np.int64), found.shape[1] - 1)
    return np.asarray(np.minimum(found[np.arange(len(found)), index], 255 - NEAR_FLOOR_DB * HALF_DB), dtype=np.uint8)


def _steps_outwards(loud: Bytes, first: Numbers, direction: int, quiet: Bytes) -> Numbers:
    """For each edge how many steps it moves on. `first`: the step just outside it. Beyond the recording it is silent."""
    reach, run = REACH_MS // LEVEL_MS, QUIET_MS // LEVEL_MS
    at = first[:, np.newaxis] + direction * np.arange(reach + run)
    seen = np.where((at >= 0) & (at < len(loud)), loud[np.clip(at, 0, len(loud) - 1)], np.uint8(0))
    loudest = np.lib.stride_tricks.sliding_window_view(seen, run, axis=1).max(axis=2)  # [edges, reach + 1]: of what follows
    above = np.maximum(0, loudest.astype(np.float64) - quiet[:, np.newaxis])
    nearest = (above + FAR_DB * HALF_DB * np.arange(reach + 1)).argmin(axis=1)
    return np.asarray(nearest + 1, dtype=np.int64)  # one step into the quiet: a burst may begin at the end of a faint step


def _joined(stretches: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for start_ms, end_ms in sorted(stretches):
        if found and start_ms - found[-1][1] < SPECK_MS:
            found[-1] = (found[-1][0], max(found[-1][1], end_ms))
        else:
            found.append((start_ms, end_ms))
    return found
