"""How long the sound check takes beside a recording's length, and what memory it needs: the whole measuring pass in its child."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from archive.audio import decode
from archive.services.demo import SAMPLES

RATE_HZ = 48_000
_MEASURED = """
import resource, sys
from pathlib import Path
from archive.services.measuring import measure_in_child
found = measure_in_child(Path(sys.argv[1]))
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(found.duration_ms, len(found.flags), used.ru_maxrss / 1024, used.ru_utime + used.ru_stime)
"""


def sound_check(home: Path, say: Callable[[str], None]) -> None:
    """10 and 60 minutes, 48 kHz, 24 bit, two channels. Budgets: ≤ 0.05 × the length, peak memory within 10 %."""
    piece = decode.pcm(SAMPLES / "TW-01.flac", 0, 60_000, None, RATE_HZ)
    minute = np.stack([piece, np.roll(piece, 4_800) * np.float32(0.5)], axis=1)
    peaks = []
    for minutes in (10, 60):
        path = home / f"check-{minutes}.wav"
        with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_24") as out:
            for _ in range(minutes):
                out.write(minute)
        begun = time.perf_counter()
        done = subprocess.run([sys.executable, "-c", _MEASURED, str(path)], capture_output=True, text=True, check=True, encoding="utf-8")
        seconds = time.perf_counter() - begun
        length_ms, flags, peak, worked = done.stdout.split()
        peaks.append(float(peak))
        path.unlink()
        say(f"sound check of {minutes} min: {seconds:.1f} s, {seconds * 1000 / float(length_ms):.4f} × its length (budget 0.05), at work {float(worked):.1f} s, {flags} findings, peak {peaks[-1]:.0f} MB")
    say(f"sound check memory: 60 min against 10 min {peaks[1] / peaks[0]:.2f} (budget 1.10)")
