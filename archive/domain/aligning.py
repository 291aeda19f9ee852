"""Two transcripts of the same sound, word beside word: the one room for it. Pure.

By rapidfuzz, in two steps: a first alignment in memory that grows with the words and not with their square, then the most equal
pairs in each piece between the runs that it found. tests/bench says how long 27,000 words take.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rapidfuzz.distance import LCSseq, Levenshtein, Opcode

from archive.domain.letters import without_possessive
from archive.domain.quoting import word_tokens

SURE_RUN = 4  # so many equal words in a row are where one piece ends and the next begins
MOST_AT_ONCE = 4_000  # words of a longer piece without such a run stay as first aligned: they are another text


class Pair(NamedTuple):
    """Word number `before` of one list stands where number `after` of the other does. `same`: they are compared as equal;
    else the one was heard, or written, in the place of the other."""

    before: int
    after: int
    same: bool


def align(before: Sequence[str], after: Sequence[str]) -> list[Pair]:
    """Pairs in order, both numbers rising; what has no partner is in none. Texts are compared as they are given (see `compared`).

    As many words as can have an equal partner. Of words that are repeated side by side any may be taken for any.
    """
    numbers = {text: n for n, text in enumerate(dict.fromkeys([*before, *after]))}
    old, new = [numbers[t] for t in before], [numbers[t] for t in after]
    equal: list[tuple[int, int]] = []
    i = j = 0
    first = [s for s in Levenshtein.opcodes(old, new) if s.tag == "equal"]
    for step in first:
        if step.src_end - step.src_start >= SURE_RUN:
            equal += _equal(old, new, (i, step.src_start), (j, step.dest_start), first)
            equal += zip(range(step.src_start, step.src_end), range(step.dest_start, step.dest_end), strict=True)
            i, j = step.src_end, step.dest_end
    equal += _equal(old, new, (i, len(old)), (j, len(new)), first)
    return _with_replaced(equal, len(old), len(new))


def _equal(
    old: Sequence[int], new: Sequence[int], part: tuple[int, int], other: tuple[int, int], first: Sequence[Opcode]
) -> list[tuple[int, int]]:  # fmt: skip
    """Equal pairs of a piece between two sure runs: as many as there can be."""
    if max(part[1] - part[0], other[1] - other[0]) > MOST_AT_ONCE:
        steps = [(s.src_start, s.dest_start, s.src_end - s.src_start) for s in first if part[0] <= s.src_start < part[1]]
        return [(i + n, j + n) for i, j, size in steps for n in range(size)]
    found = LCSseq.opcodes(old[slice(*part)], new[slice(*other)])
    return [
        (part[0] + s.src_start + n, other[0] + s.dest_start + n) for s in found if s.tag == "equal" for n in range(s.src_end - s.src_start)
    ]  # fmt: skip


def _with_replaced(equal: Sequence[tuple[int, int]], many: int, others: int) -> list[Pair]:
    """The equal pairs, and between them what stands in the place of what, one by one from the left."""
    found: list[Pair] = []
    i = j = 0
    for old, new in [*equal, (many, others)]:
        found += [Pair(a, b, False) for a, b in zip(range(i, old), range(j, new), strict=False)]
        found += [Pair(old, new, True)] if old < many else []
        i, j = old + 1, new + 1
    return found


def compared(text: str) -> str:
    """What a word is aligned by: its letters, without case, punctuation and possessive; as written where it has none."""
    return "".join(without_possessive(t) for t in word_tokens(text)) or text
