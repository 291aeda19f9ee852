"""Alignment of two transcripts, by property; the number of equal pairs against the textbook's longest common subsequence."""

from __future__ import annotations

import random

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.aligning import SURE_RUN, Pair, align, compared

WORDS = st.lists(st.sampled_from(["the", "ferry", "went", "down", "net", "row", "and", "Marigold", "sank", "ted"]), max_size=40)


@given(before=WORDS, after=WORDS)
def test_pairs_rise_and_say_what_is_equal(before: list[str], after: list[str]) -> None:
    pairs = align(before, after)
    assert all(a.before < b.before and a.after < b.after for a, b in zip(pairs, pairs[1:], strict=False))
    assert all(p.same == (before[p.before] == after[p.after]) for p in pairs)


def longest(before: list[str], after: list[str]) -> int:
    """Length of the longest common subsequence, row by row (Wagner and Fischer 1974, as every textbook has it)."""
    row = [0] * (len(after) + 1)
    for one in before:
        above, row = row, [0]
        for j, other in enumerate(after):
            row.append(above[j] + 1 if one == other else max(above[j + 1], row[j]))
    return row[-1]


@given(before=WORDS, after=WORDS)
def test_no_other_alignment_has_more_equal_pairs(before: list[str], after: list[str]) -> None:
    pairs = {(p.before, p.after) for p in align(before, after) if p.same}
    rows = any(all((i + n, j + n) in pairs for n in range(SURE_RUN)) for i, j in pairs)
    assert len(pairs) == longest(before, after) or rows, "where many equal words follow one another each side is aligned by itself"


def test_a_long_interview_is_aligned_with_what_was_dropped_heard_otherwise_and_put_in() -> None:
    """27,000 different words, a tenth changed: every word that stayed has its own partner."""
    drawn = random.Random(4)
    before = [f"w{n}" for n in range(27_000)]
    after: list[str] = []
    for word in before:
        fate = drawn.random()
        after += [] if fate < 0.04 else ["um"] if fate < 0.08 else ["um", word] if fate < 0.1 else [word]
    found = {p.before: p.after for p in align(before, after) if p.same}
    there = {word: n for n, word in enumerate(after)}
    assert found == {n: there[word] for n, word in enumerate(before) if word in there}


def test_what_words_are_compared_by() -> None:
    assert [compared(w) for w in ("Lund’s", "LUND,", "Net-Row", "…", "“Ted")] == ["lund", "lund", "netrow", "…", "ted"]
    assert align([], ["a"]) == [] and align(["a"], ["b"]) == [Pair(0, 0, False)]
