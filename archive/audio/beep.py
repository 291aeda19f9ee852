"""What a draft says of itself in sound: a short soft tone at its beginning and every quarter of a minute."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from archive.audio.level import HEADROOM_DB, limited

Samples = npt.NDArray[np.float32]
BEEP_HZ = 1000
BEEP_MS = 400
EVERY_S = 15
BEEP_DBFS = -30.0  # some 10 dB under speech of -18 LUFS: heard, and what is said stays clear (project choice)
_SOFT_MS = 30


def with_beeps(pcm: Samples, rate_hz: int, true_peak_dbtp: float) -> Samples:
    """A copy of sound [n] with the tone mixed in and no true peak over the ceiling; same length."""
    t = np.arange(rate_hz * BEEP_MS // 1000) / rate_hz
    ramp = np.clip(np.minimum(t, t[::-1]) * 1000 / _SOFT_MS, 0, 1)
    tone = 10 ** (BEEP_DBFS / 20) * np.sin(2 * np.pi * BEEP_HZ * t) * ramp
    out = pcm.copy()
    for at in range(0, len(out), EVERY_S * rate_hz):
        here = out[at : at + len(tone)]
        here += tone[: len(here)].astype(np.float32)
    return limited(out, rate_hz, 10 ** ((true_peak_dbtp - HEADROOM_DB) / 20))
