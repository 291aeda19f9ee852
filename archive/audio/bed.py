"""The noise that is heard where a name is withheld, so that a listening post does not sound broken.

It is made, not copied: random phases under the mean spectrum of the quietest moments of the clip outside every mute. Figures are
choices of this project.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]
Spectrum = npt.NDArray[np.float64]

FRAME = 2048  # samples: 43 ms at 48 kHz
GUARD_MS = 40  # beside a mute the name's own echo may hang in the room
QUIET_PART = 0.1  # of the moments that may be used
FEWEST = 3
BELOW_VOICE_DB = 22.0  # a moment less than this below the loud ones is faint speech, and speech is no bed
FAINT_BELOW_VOICE_DB = 45.0  # the level of the bed where no quiet moment was found
_WINDOW = np.sin(np.pi * (np.arange(FRAME) + 0.5) / FRAME)  # its square adds up to 1 at half a frame's hop


def with_bed(sound: Samples, kept: Samples, edges: Samples, rate_hz: int, seed: int) -> Samples:
    """Sound [n] that was muted by `kept`, with noise where it is 0, faded in over the fades outside it. Same length.

    Nothing under a mute is read: there `sound` holds zeros, and frames that touch a mute or its guard are left out. A clip
    without a moment to learn from stays silent.
    """
    spectrum = _spectrum(sound, kept, edges, rate_hz)
    if spectrum is None or kept.all():
        return sound
    out = sound.copy()
    rng = np.random.default_rng(seed)
    for start, end in _spans(kept < 1):
        share = np.sqrt(1 - kept[start:end] ** 2) * edges[start:end]
        out[start:end] += _noise(spectrum, end - start, rng) * share
    return out


def _spans(where: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    changes = np.flatnonzero(np.diff(np.concatenate([[False], where, [False]]).astype(np.int8)))
    return list(zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True))


def _spectrum(sound: Samples, kept: Samples, edges: Samples, rate_hz: int) -> Spectrum | None:
    """Mean power of the quietest frames, a bin of the frame's transform each; None where there is nothing to learn from."""
    guard = rate_hz * GUARD_MS // 1000
    usable = (kept == 1) & (edges == 1)
    for start, end in _spans(kept < 1):
        usable[max(0, start - guard) : end + guard] = False
    firsts = np.concatenate([np.arange(s, e - FRAME + 1, FRAME // 2) for s, e in _spans(usable)] or [np.zeros(0, int)])
    powers = np.array([np.mean(sound[f : f + FRAME].astype(np.float64) ** 2) for f in firsts])
    firsts, powers = firsts[powers > 0], powers[powers > 0]  # digital silence is no room
    if not len(firsts):
        return None
    loud = float(np.quantile(powers, 0.9))
    quietest = np.argsort(powers, kind="stable")[: max(FEWEST, int(len(firsts) * QUIET_PART))]
    quietest = quietest[powers[quietest] <= loud * 10 ** (-BELOW_VOICE_DB / 10)]
    if len(quietest) < FEWEST:
        return _faint(loud * 10 ** (-FAINT_BELOW_VOICE_DB / 10), rate_hz)
    frames = np.stack([sound[f : f + FRAME] for f in firsts[quietest]]).astype(np.float64) * _WINDOW
    return np.asarray((np.abs(np.fft.rfft(frames, axis=1)) ** 2).mean(axis=0), dtype=np.float64)


def _faint(power: float, rate_hz: int) -> Spectrum:
    """Pink noise of this mean power, from 50 Hz up."""
    hz = np.fft.rfftfreq(FRAME, 1 / rate_hz)
    pink = np.where(hz >= 50, 1 / np.maximum(hz, 50), 0)
    return np.asarray(pink * (power * FRAME * FRAME / 2 / (2 * pink.sum())), dtype=np.float64)


def _noise(spectrum: Spectrum, length: int, rng: np.random.Generator) -> Samples:
    """Steady noise [length] of this spectrum: frames of random phases laid over each other."""
    hop = FRAME // 2
    whole = np.zeros((length // hop + 3) * hop, dtype=np.float64)
    height = np.sqrt(spectrum * 2)  # a window halves the power of a frame
    for at in range(0, len(whole) - FRAME + 1, hop):
        phases = rng.uniform(0, 2 * np.pi, len(spectrum))
        whole[at : at + FRAME] += np.fft.irfft(height * np.exp(1j * phases), FRAME) * _WINDOW
    return np.asarray(whole[hop : hop + length], dtype=np.float32)
