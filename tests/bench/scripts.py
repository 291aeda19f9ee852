"""What a typed transcript of three hours costs to read and to put to the sound (issue 5: 60 s at most)."""

from __future__ import annotations

import csv
import random
import resource
import time
from collections.abc import Callable

from archive.domain.values import Word
from archive.rules.script_sound import put_to_sound
from archive.rules.scripts import read_script
from archive.services.demo import SAMPLES

WORDS, WORD_MS = 27_000, 400
UNHEARD, MISHEARD = 0.03, 0.07  # of the typed words


def script(say: Callable[[str], None]) -> None:
    """27,000 words made of the samples' own sentences in random order; some are misheard, some not heard at all."""
    chance = random.Random(1)
    sentences = []
    for path in sorted((SAMPLES / "scripts").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            sentences += [(row["speaker"], row["words"]) for row in csv.DictReader(stream)]
    lines: list[str] = []
    typed: list[str] = []
    while len(typed) < WORDS:
        speaker, words = chance.choice(sentences)
        lines.append(f"{speaker}: {words}")
        typed += words.split()
    heard = [
        Word(chance.choice(typed) if chance.random() < MISHEARD else text, n * WORD_MS, n * WORD_MS + WORD_MS - 60)
        for n, text in enumerate(typed)
        if chance.random() >= UNHEARD
    ]
    begun = time.perf_counter()
    found = read_script("\n".join(lines).encode())
    read_s = time.perf_counter() - begun
    put = [w for said in put_to_sound(found, heard, len(typed) * WORD_MS).said for w in said.words]
    took_s = time.perf_counter() - begun
    close = sum(abs(w.start_ms - n * WORD_MS) <= 250 for n, w in enumerate(put)) / len(put)
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    say(
        f"script of {len(typed):,} words: read {read_s:.2f} s, read and put to the sound {took_s:.2f} s (budget 60); "
        f"{close:.1%} within 250 ms of where they were said; process {most_mb:.0f} MB"
    )
