"""What another transcript of a three-hour interview costs: aligning 27,000 words, carrying 600 decisions, merging corrections."""

from __future__ import annotations

import random
import resource
import time
from collections.abc import Callable
from dataclasses import replace

from archive.domain import editing
from archive.domain.aligning import align, compared
from archive.domain.editing import Line
from archive.domain.merging import merge
from archive.domain.values import Word
from archive.rules.carrying import Carrying, Said

WORDS, DECISIONS = 27_000, 600


def carrying(say: Callable[[str], None]) -> None:
    """Three ways in which the other one may differ: a tenth of the words, its first tenth missing, another text altogether."""
    chance = random.Random(1)
    vocabulary = [f"word{n}" for n in range(6000)]
    said = chance.choices(vocabulary, [1 / (n + 1) for n in range(6000)], k=WORDS)
    before = [Word(t, n * 400, n * 400 + 320) for n, t in enumerate(said)]
    edited: list[Word] = []
    for word in before:
        fate, shift_ms = chance.random(), chance.randint(-150, 150)
        texts = [] if fate < 0.04 else [chance.choice(vocabulary)] if fate < 0.08 else [word.text, "er"] if fate < 0.1 else [word.text]
        edited += [Word(t, max(0, word.start_ms + shift_ms), word.end_ms + 150 + shift_ms) for t in texts]
    other = [Word(t, w.start_ms, w.end_ms) for t, w in zip(chance.choices(vocabulary, k=WORDS), before, strict=True)]
    for what, after in (("a tenth differs", edited), ("the first tenth is missing", before[WORDS // 10 :]), ("another text", other)):
        begun = time.process_time()
        pairs = align([compared(w.text) for w in before], [compared(w.text) for w in after])
        aligned_s = time.process_time() - begun
        begun = time.process_time()
        moved = Carrying(Said(before), Said(after))
        for n in range(0, WORDS, WORDS // DECISIONS):
            moved.hidden(before[n].start_ms, before[n].end_ms)
        carried_s = time.process_time() - begun
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        merged_s, made = _merged(before, after)
        say(f"carrying, {what}: {WORDS:,} words aligned in {aligned_s:.2f} s ({sum(p.same for p in pairs):,} equal pairs), {DECISIONS} decisions carried in {carried_s:.2f} s, corrections in every second line merged in {merged_s:.2f} s ({made}), process at most {peak} MB")


def _merged(before: list[Word], after: list[Word]) -> tuple[float, str]:
    """Processor seconds of merging, and what came of it: every second line typed in at two places, every line named."""

    def lines(words: list[Word], each: int, key: int) -> list[Line]:
        parts = [tuple(words[n : n + each]) for n in range(0, len(words), each)]
        return [Line(key + n, None, said[0].start_ms, said[-1].end_ms, words=said) for n, said in enumerate(parts)]

    old, new, mine = lines(before, 25, 1), lines(after, 31, 10_000), []
    for n, line in enumerate(old):
        typed = [w.text for w in line.words]
        typed[3:4], typed[10:11] = ["typed"], ["two", "more"]
        made = replace(editing.typed(line, typed, "E-01", 4 * WORDS * 400)[0], key=5000 + n) if n % 2 else line
        mine.append(replace(made, speaker_id=1 + n % 3))
    begun = time.process_time()
    merged, conflicts = merge(old, mine, new, 4 * WORDS * 400)
    return time.process_time() - begun, f"{len(merged):,} lines, {len(conflicts):,} to decide"
