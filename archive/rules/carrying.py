"""What was decided about words, carried to where these words are in another transcript of the same sound. Pure.

Never weaker than before: what was hidden is hidden where it is said now, and around where it was if it is not found; what was
shown is shown where the very same words stand. It would rather hide a word too many. All figures are choices of this project.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from archive.domain.aligning import align, compared
from archive.domain.letters import without_possessive
from archive.domain.masking import bearing
from archive.domain.quoting import word_tokens
from archive.domain.values import MIN_WORD_MS, Word
from archive.rules.likeness import ALIKE, SAME_SOUND, likeness, sound

NEAR_MS = 1500  # the same word this near may be the hidden one: times are guesses, and another model guesses otherwise
GAP_MS = 1000  # what was heard in the place of a hidden word begins or ends within so much of it
SHIFT_MS = 1000  # a partner further away than this is not believed
AROUND_MS = 700  # how far it stays hidden around words that are not found again
_LEAST = 4  # letters from which words are compared by their sound


@dataclass(frozen=True, slots=True)
class Carried:
    """Where a decision counts in the other transcript (ms). `kept`: as it was decided; else undecided, for a person to hear.
    `lost`: its words were not found, so it is hidden around where they were."""

    start_ms: int
    end_ms: int
    kept: bool
    lost: bool = False


class Said:
    """The words of a transcript, found by their times."""

    def __init__(self, words: Sequence[Word]) -> None:
        self.words = words
        self._order = sorted(range(len(words)), key=lambda n: words[n].start_ms)
        self._starts = [words[n].start_ms for n in self._order]
        self._longest_ms = max((_end(w) - w.start_ms for w in words), default=0)
        self._edges = {w.start_ms for w in words} | {e for w in words for e in (w.end_ms, _end(w))}

    def touched(self, start_ms: int, end_ms: int) -> list[int]:
        """Numbers of the words that share time with a stretch, in the order of the transcript."""
        first, last = bisect_right(self._starts, start_ms - self._longest_ms - 1), bisect_left(self._starts, max(end_ms, start_ms + 1))
        return sorted(n for n in self._order[first:last] if _end(self.words[n]) > start_ms)

    def fits(self, start_ms: int, end_ms: int) -> bool:
        """True where a stretch may be about words of this transcript: no edge of it cuts a word, unless another one begins or
        ends there (two people may speak at once). Stretches are kept to whole words of the transcript they were decided in."""
        return all(
            edge in self._edges or not any(self.words[n].start_ms < edge for n in self.touched(edge, edge + 1)) for edge in (start_ms, end_ms)
        )

    def spoken(self, start_ms: int, end_ms: int) -> tuple[str, ...]:
        """What is said in a stretch, as it is compared."""
        return tuple(compared(self.words[n].text) for n in self.touched(start_ms, end_ms))


def _end(word: Word) -> int:
    return max(word.end_ms, word.start_ms + MIN_WORD_MS)


class Carrying:
    """Two transcripts of one recording, aligned once."""

    def __init__(self, before: Said, after: Said) -> None:
        self._old, self._new = before, after
        pairs = align([compared(w.text) for w in before.words], [compared(w.text) for w in after.words])
        self._same = {p.before: p.after for p in pairs if p.same}
        self._anchors = sorted(self._same)

    @cached_property
    def unchanged(self) -> bool:
        """True where both have the same words at the same times."""
        return [(w.text, w.start_ms, w.end_ms) for w in self._old.words] == [(w.text, w.start_ms, w.end_ms) for w in self._new.words]

    def hidden(self, start_ms: int, end_ms: int) -> list[Carried]:
        """Where what was hidden in this stretch has to be hidden now."""
        mine = self._old.touched(start_ms, end_ms)
        telling = self._telling(mine)
        partners = {self._same[n] for n in mine if n in self._same}
        heard = partners | self._between(mine, start_ms, end_ms)
        more = self._elsewhere(mine, start_ms, end_ms) - heard
        near = set(self._new.touched(start_ms - SHIFT_MS, end_ms + SHIFT_MS))
        found = any(self._same.get(n) in near for n in telling) or bool(more)
        found = found or any(self._said_in(self._old.words[n], heard & near) for n in telling)
        carried = self._rows(heard, kept=found) + self._rows(more, kept=False)
        return carried if mine and found else [self._around(start_ms, end_ms), *carried]

    def shown(self, start_ms: int, end_ms: int) -> list[Carried]:
        """Where what was decided to stand in this stretch stands now; undecided where other words were heard for some of it."""
        mine = self._old.touched(start_ms, end_ms)
        partners = [self._same[n] for n in mine if n in self._same]
        whole = len(partners) == len(mine) and bool(mine) and partners == list(range(partners[0], partners[0] + len(mine)))
        if whole and all(self._certain(n, set(mine), start_ms, end_ms) for n in self._telling(mine)):
            (one,) = self._rows(partners, kept=True)
            if self._new.spoken(one.start_ms, one.end_ms) == self._old.spoken(start_ms, end_ms):
                return [one]
        return self._rows({*partners, *self._between(mine, start_ms, end_ms)}, kept=False)

    def stands(self, start_ms: int, end_ms: int) -> tuple[int, int]:
        """Where a whole passage stands now: from what its first word is to what its last one is, whatever was changed between.
        Where it is not found at all it stays where it was, rounded outwards to whole words."""
        mine = self._old.touched(start_ms, end_ms)
        found: set[int] = set()
        if mine:
            first, last = self._partner(mine[0]), self._partner(mine[-1])
            if first is None:
                before = bisect_left(self._anchors, mine[0])
                first = self._same[self._anchors[before - 1]] + 1 if before else 0
            if last is None:
                after = bisect_right(self._anchors, mine[-1])
                last = self._same[self._anchors[after]] - 1 if after < len(self._anchors) else len(self._new.words) - 1
            near = set(self._new.touched(start_ms - NEAR_MS, end_ms + NEAR_MS))
            found = {n for n in range(first, last + 1) if n in near} | {p for p in map(self._partner, mine) if p is not None}
        words = [self._new.words[n] for n in found or self._new.touched(start_ms, end_ms)]
        if not words:
            return start_ms, end_ms
        return min(w.start_ms for w in words), max(_end(w) for w in words)

    def followed(self, numbers: Iterable[int], before: tuple[int, int], now: tuple[int, int]) -> list[int]:
        """Words of a passage (ms) by their numbers in it, as they are numbered where it stands now; without those that are not found again."""
        old, new = self._old.touched(*before), {n: k for k, n in enumerate(self._new.touched(*now))}
        partners = (self._partner(old[k]) for k in numbers if k < len(old))
        return sorted({new[p] for p in partners if p is not None and p in new})

    def _partner(self, n: int) -> int | None:
        """The very word, which kept its times; else its equal, where that is near."""
        word = self._old.words[n]
        very = self._very.get((word.text, word.start_ms, word.end_ms))
        if very is not None:
            return very
        return self._same[n] if n in self._same and self._is_near(n) else None

    @cached_property
    def _very(self) -> dict[tuple[str, int, int], int]:
        return {(w.text, w.start_ms, w.end_ms): n for n, w in enumerate(self._new.words)}

    # -- finding ---------------------------------------------------------------------------------------------------
    def _telling(self, mine: Sequence[int]) -> list[int]:
        """The words that carry meaning; all where none does."""
        return [n for n in mine if bearing(self._old.words[n].text)] or list(mine)

    def _between(self, mine: Sequence[int], start_ms: int, end_ms: int) -> set[int]:
        """What stands between the partners of the first and the last word; where any has none, between the nearest equal
        words outside, as far as it is near."""
        if not mine:
            return set()
        partners = [self._same[n] for n in mine if n in self._same]
        if len(partners) == len(mine):
            return set(range(partners[0], partners[-1] + 1)) & {*partners, *self._new.touched(start_ms - NEAR_MS, end_ms + NEAR_MS)}
        before, after = bisect_left(self._anchors, mine[0]), bisect_right(self._anchors, mine[-1])
        first = self._same[self._anchors[before - 1]] + 1 if before else 0
        last = self._same[self._anchors[after]] if after < len(self._anchors) else len(self._new.words)
        return {n for n in self._new.touched(start_ms - GAP_MS, end_ms + GAP_MS) if first <= n < last}

    def _elsewhere(self, mine: Sequence[int], start_ms: int, end_ms: int) -> set[int]:
        """Words near by that are, or sound like, a telling word and may be it: all but those that are certainly another."""
        near = self._new.touched(start_ms - NEAR_MS, end_ms + NEAR_MS)
        return {
            j for n in self._telling(mine) if not self._certain(n, set(mine), start_ms, end_ms)
            for j in near if _alike(self._old.words[n], self._new.words[j])
        }  # fmt: skip

    def _certain(self, n: int, mine: Collection[int], start_ms: int, end_ms: int) -> bool:
        """True where word `n` is beyond doubt its partner: of all words like it near by, in both transcripts, each has a
        partner that is not far, and a neighbour of this one stands beside it still."""
        word, far_ms = self._old.words[n], NEAR_MS + SHIFT_MS
        others = [k for k in self._old.touched(start_ms - far_ms, end_ms + far_ms) if _alike(word, self._old.words[k])]
        now = {j for j in self._new.touched(start_ms - NEAR_MS, end_ms + NEAR_MS) if _alike(word, self._new.words[j])}
        settled = all(self._is_near(k) for k in others) and now <= {self._same[k] for k in others}
        if not settled or n not in self._same:
            return False
        beside = [(n + step, self._same[n] + step) for step in (-1, 1)]
        return len(others) == 1 or any(self._same.get(k) == j and not _alike(word, self._old.words[k]) for k, j in beside if 0 <= k < len(self._old.words))

    def _said_in(self, word: Word, heard: Collection[int]) -> bool:
        """True where a word, or two or three in a row, may be this one."""
        for n in heard:
            run = [self._new.words[k] for k in range(n, n + 3) if k in heard]
            joined = ["".join(compared(w.text) for w in run[:size]) for size in (2, 3)]
            if _alike(word, self._new.words[n]) or any(_sounds(compared(word.text), j) for j in joined):
                return True
        return False

    def _is_near(self, n: int) -> bool:
        return n in self._same and abs(self._old.words[n].start_ms - self._new.words[self._same[n]].start_ms) <= SHIFT_MS

    # -- stretches -------------------------------------------------------------------------------------------------
    def _rows(self, found: Iterable[int], kept: bool) -> list[Carried]:
        """Words that follow one another are one stretch."""
        rows: list[Carried] = []
        last = -2
        for n in sorted(found):
            word = self._new.words[n]
            if n == last + 1:
                rows[-1] = replace(rows[-1], start_ms=min(rows[-1].start_ms, word.start_ms), end_ms=max(rows[-1].end_ms, _end(word)))
            else:
                rows.append(Carried(word.start_ms, _end(word), kept))
            last = n
        return rows

    def _around(self, start_ms: int, end_ms: int) -> Carried:
        """The stretch with a margin, rounded outwards to whole words."""
        start_ms, end_ms = max(0, start_ms - AROUND_MS), end_ms + AROUND_MS
        words = [self._new.words[n] for n in self._new.touched(start_ms, end_ms)]
        return Carried(min([start_ms, *(w.start_ms for w in words)]), max([end_ms, *(_end(w) for w in words)]), kept=False, lost=True)


def _parts(word: Word) -> list[str]:
    return [without_possessive(t) for t in word_tokens(word.text)]


def _alike(one: Word, other: Word) -> bool:
    """True where two words share a part, or one may have been heard for the other."""
    return any(a == b or _sounds(a, b) for a in _parts(one) for b in _parts(other))


def _sounds(one: str, other: str) -> bool:
    if min(len(one), len(other)) < _LEAST:
        return False
    near = likeness(one, other)
    return near >= ALIKE or (near >= SAME_SOUND and sound(one) == sound(other))
