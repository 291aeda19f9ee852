"""Listening back: wall time of the child against the length of what it hears, loading counted and not. Budget: ≤ 0.5."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import soundfile

from archive.app import Archive
from archive.audio import decode
from archive.domain.values import Role, Viewer
from archive.services.demo import SAMPLES
from archive.services.listening import Listening

SECONDS = 6


def listening(home: Path, say: Callable[[str], None]) -> None:
    """One clip of 6 s alone, where starting and loading weigh most, and ten of them in one export."""
    rooms = Archive.create(home / "listening", Viewer("K-01", Role.KEEPER), "Bench", "Marigold", True).rooms
    clips = []
    for n in range(10):
        pcm = decode.pcm(SAMPLES / "TW-06.flac", n * 8000, n * 8000 + SECONDS * 1000, None, 48_000)
        clips.append((home / f"clip-{n}.wav", "en"))
        soundfile.write(str(clips[-1][0]), pcm, 48_000, subtype="PCM_16")
    took = {}
    for count in (1, 1, 10):  # the first also puts the model together, and is not counted
        begun = time.perf_counter()
        Listening(rooms)._heard(clips[:count])
        took[count] = time.perf_counter() - begun
    each = (took[10] - took[1]) / 9
    say(f"listening: one clip of {SECONDS} s {took[1]:.1f} s ({took[1] / SECONDS:.2f}), ten in one export {took[10]:.1f} s ({took[10] / (10 * SECONDS):.2f})")
    say(f"listening: without starting and loading {each / SECONDS:.2f} of the length; starting and loading {took[1] - each:.1f} s (budget 0.5)")
