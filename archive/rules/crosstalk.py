"""Two microphones in one room: what one speaker says is faintly heard on the other's channel as well, and counts once. Pure.

Figures are choices of this project: two lapel microphones at a table differ by some 20 to 45 dB ("common practice", no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from archive.domain.letters import core, folded
from archive.domain.values import Word
from archive.rules.likeness import likeness

FAINTER_DB = 12.0  # than what is said on the other side at the same time
FAINTER_ALONE_DB = 18.0  # the same where this side says nothing by itself, so that its own voice is not known
BELOW_OWN_DB = 8.0  # below how loud this side's own speaker usually is: two who talk at once are both as loud as ever
OWN_WORDS = 5  # fewer say nothing about how loud somebody usually is
APART_MS = 300  # by which the times of one word may differ on the two sides
SAME = 0.85  # Jaro-Winkler of one word heard twice


@dataclass(frozen=True, slots=True)
class Loud:
    """A word and how loud it is on its own channel, dBFS (RMS); None where that was not measured."""

    word: Word
    level_db: float | None


def without_crosstalk(left: Sequence[Loud], right: Sequence[Loud]) -> tuple[list[Word], list[Word], list[tuple[int, int]]]:
    """Words of both channels, but for those that are only the other side, faintly; and the stretches (ms) of what was left out.

    A run of faint words goes where at least half of it is what the other side says at that moment. Whoever talks at the same time is
    as loud as ever and stays; so does what the other side did not hear.
    """
    beside_left, beside_right = _beside(left, right), _beside(right, left)
    faint = {id(w) for side, beside in ((left, beside_left), (right, beside_right)) for w in _fainter(side, beside)}
    gone_left, gone_right = _crosstalk(left, beside_left, faint), _crosstalk(right, beside_right, faint)
    words = [[w.word for n, w in enumerate(side) if n not in gone] for side, gone in ((left, gone_left), (right, gone_right))]
    out = [(side[n].word.start_ms, side[n].word.end_ms) for side, gone in ((left, gone_left), (right, gone_right)) for n in gone]
    return words[0], words[1], sorted(out)


def _crosstalk(side: Sequence[Loud], beside: Sequence[Sequence[Loud]], faint: set[int]) -> set[int]:
    """Positions of crosstalk on this side; only beside words that are not faint themselves, so that one of two always stays."""
    firm = [[w for w in there if id(w) not in faint] for there in beside]
    low = {id(w) for w in _fainter(side, firm)}
    gone: set[int] = set()
    run: list[int] = []
    for n, word in enumerate(side):
        if id(word) in low:
            run.append(n)
            continue
        gone |= _told_twice(run, side, firm)
        run = []
    return gone | _told_twice(run, side, firm)


def _fainter(side: Sequence[Loud], beside: Sequence[Sequence[Loud]]) -> list[Loud]:
    """Words of this side that are much fainter than what the other side says then, and than their own speaker usually is."""
    own = [w.level_db for w, there in zip(side, beside, strict=True) if w.level_db is not None and not there]
    usual = median(own) if len(own) >= OWN_WORDS else None
    found = []
    for this, there in zip(side, beside, strict=True):
        loudest = max((w.level_db for w in there if w.level_db is not None), default=None)
        if this.level_db is None or loudest is None:
            continue
        fainter = FAINTER_ALONE_DB if usual is None else FAINTER_DB
        if this.level_db <= loudest - fainter and (usual is None or this.level_db <= usual - BELOW_OWN_DB):
            found.append(this)
    return found


def _beside(side: Sequence[Loud], other: Sequence[Loud]) -> list[list[Loud]]:
    """For each word what the other side says at about that time. Both in order of time: one pass."""
    ordered = sorted(other, key=lambda w: w.word.start_ms)
    longest = max((w.word.end_ms - w.word.start_ms for w in ordered), default=0)
    found, first = [], 0
    for this in side:
        while first < len(ordered) and ordered[first].word.start_ms + longest + APART_MS < this.word.start_ms:
            first += 1
        there = []
        for that in ordered[first:]:
            if that.word.start_ms >= this.word.end_ms + APART_MS:
                break
            if that.word.end_ms > this.word.start_ms - APART_MS:
                there.append(that)
        found.append(there)
    return found


def _told_twice(run: Sequence[int], side: Sequence[Loud], beside: Sequence[Sequence[Loud]]) -> set[int]:
    same = [n for n in run if any(_same(side[n].word.text, w.word.text) for w in beside[n])]
    return set(run) if 2 * len(same) >= len(run) else set()


def _same(one: str, other: str) -> bool:
    return likeness(folded(core(one)), folded(core(other))) >= SAME
