"""How well utterances hold together by their words: what one passage of them would cost. Pure.

The model is Utiyama and Isahara's (A Statistical Model for Domain-Independent Text Segmentation, ACL 2001): a run of words is cheap
where it says the same words again. Theirs reckons with the vocabulary of the whole text; ours with a fixed one, so that a word
corrected at one end of a recording moves no cut at the other. `python -m tests.bench cuts` says what it reaches.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from whoosh.lang.stopwords import stoplists

from archive.domain.marks import spoken
from archive.domain.values import Word
from archive.rules.analysis import analyse

Costs = npt.NDArray[np.float32]

VOCABULARY = 400  # stems of some ten minutes of talk; a project choice, tried on half of the texts of the bench
_AGAIN = 6  # how often a stem can come again in a passage and still count for more
_SHORTEST = 3  # letters of a word that counts
_COMMON = frozenset(stoplists["en"])
_said = np.arange(_AGAIN + 2) * np.log1p(np.arange(_AGAIN + 2))
_GAINS = np.diff(_said)  # what the first, second … time of a stem is worth
_MORE = np.diff(_GAINS)  # and by how much the next time is worth more than the one before


@lru_cache(maxsize=50_000)
def _stems(text: str) -> tuple[str, ...]:
    """The stems that count of one word as written: not the commonest English words, nor very short ones."""
    exact, stems = analyse(spoken(text))
    return tuple(s for e, s in zip(exact, stems, strict=True) if len(e) >= _SHORTEST and e not in _COMMON)


def costs(utterances: Sequence[Sequence[Word]], most: int) -> Costs:
    """What each possible passage costs by its words (nats): row `stop`, column `size` for the `size` utterances that end
    before `stop`; float32 [utterances + 1, most + 1]. Columns that reach before the first utterance mean nothing."""
    count = len(utterances)
    numbers: dict[str, int] = {}
    terms: list[int] = []
    where: list[int] = []
    for n, words in enumerate(utterances):
        for word in words:
            for stem in _stems(word.text):
                terms.append(numbers.setdefault(stem, len(numbers)))
                where.append(n)
    again = _again(np.array(terms, dtype=np.int64), np.array(where, dtype=np.int64), count, most)
    said = np.concatenate([[0], np.cumsum(np.bincount(np.array(where, dtype=np.int64), minlength=count))])
    held = np.zeros((count + 1, most + 1), dtype=np.float32)
    words_in = np.zeros_like(held)
    for size in range(1, min(most, count) + 1):
        held[size:, size] = held[size:, size - 1] + again[: count - size + 1, size - 1]
        words_in[size:, size] = said[size:] - said[: count - size + 1]
    found: Costs = words_in * (np.log(words_in + np.float32(VOCABULARY)) - np.float32(_GAINS[0])) - held
    return found


def _again(terms: npt.NDArray[np.int64], where: npt.NDArray[np.int64], count: int, most: int) -> Costs:
    """What coming again is worth where a passage begins with utterance `row` and has at least `column` more: the stems of the
    first utterance that come again in it."""
    order = np.argsort(terms, kind="stable")
    terms, where = terms[order], where[order]
    worth = np.zeros(count * most, dtype=np.float64)
    for times in range(1, _AGAIN + 1):
        same = terms[times:] == terms[:-times]
        first, later = where[:-times][same], where[times:][same]
        near = later - first < most
        at = first[near] * most + later[near] - first[near]
        worth += np.bincount(at, minlength=count * most) * _MORE[times - 1]
    summed: Costs = np.cumsum(worth.reshape(count, most), axis=1, dtype=np.float64).astype(np.float32)
    return summed
