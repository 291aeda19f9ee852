"""What may not be heard where names are withheld, from the words' own times; audio/edges.py finds its edges in the sound. Pure."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from archive.domain.masking import merge, under_masks
from archive.domain.passages import Utterance
from archive.domain.values import MIN_WORD_MS

MARGIN_MS = 120  # a word's time is a guess: project choice, from the engine's own error (SPEECH: median 71 ms)


def hidden_stretches(utterances: Sequence[Utterance], masks: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """What may not be heard, ms, without any margin: each mask, and each word it touches, whole.

    Hidden words that follow one another are one stretch, with what lies between them: one mask stands for them all.
    """
    if not masks:
        return []
    merged = merge([(s, max(e, s + 1)) for s, e in masks])
    starts = [s for s, _ in merged]
    longest_ms = max(e - s for s, e in merged)
    found = list(merged)
    run: tuple[int, int] | None = None
    for utterance in utterances:
        until_ms = utterance.end_ms + MIN_WORD_MS
        first = bisect_right(starts, utterance.start_ms - longest_ms - 1)
        near = merged[first : bisect_left(starts, until_ms)]
        near = [m for m in near if m[1] > utterance.start_ms]
        for word, hidden in zip(utterance.words, under_masks(utterance.words, near), strict=True) if near else ():
            if not hidden:
                run = None
                continue
            start_ms, end_ms = word.start_ms, max(word.end_ms, word.start_ms + MIN_WORD_MS)
            run = (min(run[0], start_ms), max(run[1], end_ms)) if run else (start_ms, end_ms)
            found.append(run)
        if not near:
            run = None
    return merge(found)
