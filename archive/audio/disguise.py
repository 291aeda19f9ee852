"""Voice disguise: pitch and formants moved, each by its own amount, length and level kept. Never "anonymised".

Against somebody who knows the voice, or has other recordings of it, it protects almost nobody (VoicePrivacy Challenge 2024,
baseline B2: CHECKS §10). How far it moves is drawn for each voice of each export and kept nowhere, so that what undoes one
clip does not undo the next export.
"""

from __future__ import annotations

import hashlib
import random

import numpy as np
import numpy.typing as npt

from archive.audio.ffmpeg import filtered, has_filter

Samples = npt.NDArray[np.float32]
FILTER = "rubberband"
# Pitch and formants as factors, both downwards or both upwards: a voice of another build. Project choice, by the errors
# of the engine on five samples: plain 5.5 %, disguised 6.4 to 7.5 %; further away words begin to be lost.
DOWN = ((0.79, 0.84), (0.88, 0.92))
UP = ((1.20, 1.28), (1.09, 1.14))
MOST_GAIN = 10.0  # 20 dB: a stretch that is nearly silent stays so


def possible() -> bool:
    """True where this machine's ffmpeg can move formants and pitch by different amounts."""
    return has_filter(FILTER)


def seed_for(export_key: bytes, voice: str) -> int:
    """The seed of one voice in one export: the same in all its clips, another one in the next export."""
    return int.from_bytes(hashlib.sha256(export_key + voice.encode("utf-8")).digest()[:8], "big")


def factors(seed: int) -> tuple[float, float]:
    """(pitch, formants) as factors of the recorded voice's."""
    drawn = random.Random(seed)
    pitch, formants = drawn.choice((DOWN, UP))
    return drawn.uniform(*pitch), drawn.uniform(*formants)


def disguised(pcm: Samples, rate_hz: int, seed: int) -> Samples:
    """float32 [n] mono as another voice would say it: same n, same mean level, silence stays silence. Raises Broken.

    What is to be silent has to be silent before, and to be silenced again after: the filter smears a few milliseconds.
    """
    before = _level(pcm)
    if before == 0.0:
        return pcm.copy()
    pitch, formants = factors(seed)
    # Played faster, pitch and formants rise together and the length shrinks; then the length is stretched back and the
    # pitch moved on with the formants held, as far as the filter can hold them. The rate is whole, so the length comes out.
    faster_hz = round(rate_hz * formants)
    moved = faster_hz / rate_hz
    chain = (
        f"asetrate={faster_hz},aresample={rate_hz},"
        f"{FILTER}=tempo={1 / moved:.9f}:pitch={pitch / moved:.9f}:formant=preserved"
    )
    out = filtered(pcm, rate_hz, chain)
    out = np.pad(out, (0, max(0, len(pcm) - len(out))))[: len(pcm)]
    after = _level(out)
    gain = min(MOST_GAIN, before / after) if after > 0.0 else 1.0
    return np.asarray(out * np.float32(gain), dtype=np.float32)


def _level(pcm: Samples) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(pcm, dtype=np.float64)))) if len(pcm) else 0.0
