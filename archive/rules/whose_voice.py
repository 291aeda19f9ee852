"""Who speaks, suggested from what voices are like: one stretch of each is named by a person, the rest is compared with it. Pure.

Vectors are those of archive/speech/likeness.py: float32 [windows, 192], each of length 1. All figures are choices of this project;
`python -m tests.bench voices` says what they reach.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from archive.domain.values import Word
from archive.rules.utterances import ends_sentence

Vectors = npt.NDArray[np.float32]

LEAST_NAMED_MS = 5_000  # of somebody's speech that a person assigned; about ten seconds are asked for
ASKED_MS = 10_000
# How far an utterance leans to one of two voices: 1 is as far as that voice's own stretch, 0 half way between them.
SURE_LEAN = 0.35
PERHAPS_LEAN = 0.15
# Cosine by which it may lie below what the named stretch has with itself: further away it is perhaps a voice that nobody named.
SURE_BELOW = 0.2
PERHAPS_BELOW = 0.3
SURE_MS = 1000  # of less speech nobody is sure
AGREEING = 0.75  # part of an utterance's windows that must lean the same way
TWO_LEAN = 0.45  # both sides of a change of voice lean so far, each to its own
ALIKE = 0.78  # cosine of two utterances that are one voice, where nobody is named
NEAR_MS = 900  # a change of voice is looked for at the ends of words so far from where the windows change
SENTENCE_MS = 300  # a sentence's end counts as so much more of a pause


@dataclass(frozen=True, slots=True)
class Piece:
    """One utterance: its times (ms), and the windows (ms) in it with their vectors, row by row. Few or none where it is short."""

    block_id: int
    start_ms: int
    end_ms: int
    windows: tuple[tuple[int, int], ...]
    vectors: Vectors


@dataclass(frozen=True, slots=True)
class SoundsLike:
    """A suggestion for one whole utterance. `lean`: 0-1, how far it leans from the next voice to this one."""

    block_id: int
    person_id: int
    sure: bool
    lean: float


@dataclass(frozen=True, slots=True)
class TwoVoices:
    """Perhaps two voices in one utterance: the first until about `at_ms`, then the second."""

    block_id: int
    at_ms: int
    first_id: int
    second_id: int


def named(assigned: Sequence[tuple[int, Piece]]) -> dict[int, Vectors]:
    """person id → the vectors of all their utterances that a person assigned: of those of whom there is enough."""
    found: dict[int, list[Vectors]] = {}
    length_ms: dict[int, int] = {}
    for person_id, piece in assigned:
        if len(piece.vectors):
            found.setdefault(person_id, []).append(piece.vectors)
            length_ms[person_id] = length_ms.get(person_id, 0) + piece.end_ms - piece.start_ms
    return {p: np.concatenate(vectors) for p, vectors in found.items() if length_ms[p] >= LEAST_NAMED_MS}


class Voices:
    """The voices of one interview, from the vectors of stretches that a person named. Two at least, or nothing is suggested."""

    def __init__(self, named: Mapping[int, Vectors], everybody: Collection[int]) -> None:
        """`named`: person id → float32 [windows, 192] of all their stretches. `everybody`: who takes part; while one of them
        is not named, what they say may sound like somebody else, so nothing is sure."""
        self.people = sorted(p for p, vectors in named.items() if len(vectors))
        self._complete = set(everybody) <= set(self.people)
        means = [_middle(named[p]) for p in self.people]
        self._middles = np.stack(means) if means else np.zeros((0, 1), dtype=np.float32)
        self._own = [float((named[p] @ m).mean()) for p, m in zip(self.people, means, strict=True)]

    def suggest(self, piece: Piece) -> SoundsLike | None:
        """Whose voice a whole utterance is like; None where it is like nobody's, or like two people's."""
        if len(self.people) < 2 or not len(piece.vectors) or self.two_voices(piece) is not None:
            return None
        near = self._middles @ _middle(piece.vectors)
        best, other = (int(n) for n in np.argsort(-near, kind="stable")[:2])
        lean = float(near[best] - near[other]) / self._between(best, other)
        below = self._own[best] - float(near[best])
        if lean < PERHAPS_LEAN or below > PERHAPS_BELOW:
            return None
        mine = np.argmax(piece.vectors @ self._middles.T, axis=1) == best
        one_voice = float(mine.mean()) >= AGREEING and bool(mine[0]) and bool(mine[-1])  # at its edges others break in
        long_enough = piece.end_ms - piece.start_ms >= SURE_MS
        sure = self._complete and long_enough and one_voice and lean >= SURE_LEAN and below <= SURE_BELOW
        return SoundsLike(piece.block_id, self.people[best], sure, min(1.0, lean))

    def two_voices(self, piece: Piece) -> TwoVoices | None:
        """Where one voice ends and another begins, by windows alone (`at_word` finds the word); None where there seems to be one."""
        found: tuple[float, TwoVoices] | None = None
        for first in range(len(self.people)):
            for second in range(len(self.people)):
                if first == second:
                    continue
                leans = (piece.vectors @ (self._middles[first] - self._middles[second])) / self._between(first, second)
                for before, after in _halves(piece.windows):
                    left, right = leans[before], leans[after]
                    if left.mean() < TWO_LEAN or right.mean() > -TWO_LEAN:
                        continue
                    weight = float(left.sum() - right.sum())
                    if found is None or weight > found[0]:
                        at_ms = (piece.windows[before[-1]][1] + piece.windows[after[0]][0]) // 2
                        found = (weight, TwoVoices(piece.block_id, at_ms, self.people[first], self.people[second]))
        return found[1] if found else None

    def _between(self, one: int, other: int) -> float:
        return max(1e-6, 1.0 - float(self._middles[one] @ self._middles[other]))


def alike(piece: Piece, others: Sequence[Piece], voices: Voices) -> list[int]:
    """Block ids of the utterances that surely sound like this one: the same named voice, or, while fewer than two are named,
    so near to it that two of the voices tried never were."""
    if not len(piece.vectors):
        return []
    if len(voices.people) >= 2:
        mine = voices.suggest(piece)
        if mine is None:
            return []
        found = [voices.suggest(o) for o in others]
        return [s.block_id for s in found if s is not None and s.person_id == mine.person_id and s.lean >= SURE_LEAN]
    middle = _middle(piece.vectors)
    return [
        o.block_id for o in others
        if len(o.vectors) and o.end_ms - o.start_ms >= SURE_MS and float(_middle(o.vectors) @ middle) >= ALIKE
    ]  # fmt: skip


def at_word(found: TwoVoices, words: Sequence[Word]) -> TwoVoices:
    """The same change of voice at the likeliest end of a word near by: after the longest pause, or where a sentence ends."""
    marks = [
        (max(0, after.start_ms - word.end_ms) + (SENTENCE_MS if ends_sentence(word.text) else 0) - abs(at - found.at_ms) // 5, at)
        for word, after in zip(words, words[1:], strict=False)
        for at in [(word.end_ms + after.start_ms) // 2]
        if abs(at - found.at_ms) <= NEAR_MS
    ]  # fmt: skip
    return TwoVoices(found.block_id, max(marks)[1], found.first_id, found.second_id) if marks else found


def _middle(vectors: Vectors) -> Vectors:
    mean = vectors.mean(axis=0)
    return np.asarray(mean / max(1e-9, float(np.linalg.norm(mean))), dtype=np.float32)


def _halves(windows: Sequence[tuple[int, int]]) -> list[tuple[list[int], list[int]]]:
    """Every way to part windows at a moment: (those that end before it, those that begin after it), neither empty."""
    parted = []
    for moment in sorted({end for _, end in windows}):
        before = [n for n, w in enumerate(windows) if w[1] <= moment]
        after = [n for n, w in enumerate(windows) if w[0] >= moment]
        if before and after:
            parted.append((before, after))
    return parted
