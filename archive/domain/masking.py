"""Names that are withheld: replaced in wording, muted in sound. Masks are stretches in ms and round outwards. Pure."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from archive.domain.letters import core, plain_signs, trailing
from archive.domain.values import MIN_WORD_MS, Word

MASK = "[name withheld]"
_OPENING = "\"'“‘(«"
_CLOSING = ".,;:!?…)]\"”»—–-"


@dataclass(frozen=True, slots=True)
class Masked:
    """One word, or one mask over adjacent words. `first`, `last`: word indices in the input, inclusive."""

    text: str
    start_ms: int
    end_ms: int
    masked: bool
    first: int
    last: int


def merge(stretches: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Stretches (start_ms, end_ms) in order, with touching and overlapping ones made one."""
    merged: list[tuple[int, int]] = []
    for start_ms, end_ms in sorted(stretches):
        if merged and start_ms <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end_ms))
        else:
            merged.append((start_ms, end_ms))
    return merged


def under_masks(words: Sequence[Word], masks: Sequence[tuple[int, int]]) -> list[bool]:
    """For each word whether a mask (ms, half-open) touches it. A word is taken to last at least 20 ms."""
    if not masks:
        return [False] * len(words)
    merged = merge([(s, max(e, s + 1)) for s, e in masks])
    starts = [s for s, _ in merged]
    hidden = []
    for word in words:
        end_ms = max(word.end_ms, word.start_ms + MIN_WORD_MS)
        last = bisect_right(starts, end_ms - 1) - 1
        hidden.append(last >= 0 and merged[last][1] > word.start_ms)
    return hidden


def mask_words(
    words: Sequence[Word], masks: Sequence[tuple[int, int]], replacement: str = MASK
) -> list[Masked]:
    """Words with everything under a mask (ms, half-open) replaced; adjacent masked words become one token.

    Punctuation around a masked run and a possessive 's stay, so that the sentence still reads; no letter of it does.
    """
    hidden = under_masks(words, masks)
    tokens: list[Masked] = []
    i = 0
    while i < len(words):
        last = i
        if not hidden[i]:
            tokens.append(Masked(words[i].text, words[i].start_ms, words[i].end_ms, False, i, i))
        else:
            while last + 1 < len(words) and hidden[last + 1]:
                last += 1
            run = words[i : last + 1]
            text = _opening(run[0].text) + replacement + _ending(run[-1].text)
            tokens.append(
                Masked(text, min(w.start_ms for w in run), max(w.end_ms for w in run), True, i, last)
            )
        i = last + 1
    return tokens


def wording(tokens: Sequence[Masked]) -> str:
    """The tokens as one line of text."""
    return " ".join(t.text for t in tokens if t.text)


def _opening(text: str) -> str:
    kept = ""
    for sign in text.strip():
        if sign not in _OPENING:
            break
        kept += sign
    return kept


def _ending(text: str) -> str:
    text = text.strip()
    if not core(text):
        return ""
    after = "".join(c for c in trailing(text) if c in _CLOSING)
    name = plain_signs(core(text))
    owned = name.endswith("'s") and len(name) > 2 and name[0].isupper()
    return ("’s" if owned else "") + after
