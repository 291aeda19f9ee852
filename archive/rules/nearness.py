"""Near in meaning: what of a question is compared, how leads are ordered, and how near a passage is to themes. Pure.

Measured in ../shared/SEARCH.md, second part: meaning and words together find more than either; there is no clean cut-off, so what
comes of it are leads, said to be incomplete; negation is nearly invisible to the numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from archive.rules.questions import And, Field, Near, Not, Or, Phrase, Prefix, Query, Term, leaves
from archive.rules.spoken import word_set

Vectors: TypeAlias = npt.NDArray[np.float32]

BY_WORDS = 0.10  # what the best passage by words gains; the second half of it, the third a third
# Nearness below which nothing is a lead. Judged by one author on the demo (python -m tests.bench meaning): what answers a question lies at 0.08
# to 0.55, the best for questions off the subject at 0.09 to 0.20. At 0.12 nothing of the best ten is lost; at 0.20 a sixth of it.
LEAST = 0.12
# From where on a scope note is near enough to a passage, and of how many themes at most: on the demo's 33 passages that gives 42 themes, of which
# one author found 36 right by reading (SEARCH.md: nearness adds to the words, it does not replace them).
NEAR_ENOUGH, MOST_NEAR = 0.25, 2
NUDGE = 0.3  # how far confirmed passages move the vector of a theme's scope note
_SIGNS = str.maketrans({"ʼ": "'", "ǃ": "!"})
# Words that say nothing of what is asked; from memory.
_STOP = word_set(
    "a about all am an and any are as at be because been before but by can did do does for from had has have he her him his how i if in into is it "
    "its me my no nor not of off on once or our out over she so some such than that the their them then there these they this those through to too "
    "under until up us very was we were what when where which while who whom why will with would you your"
)


def left_out(query: Query) -> list[Query]:
    """What a question wants not to find."""
    if isinstance(query, (And, Or)):
        return [part for inner in query.parts for part in left_out(inner)]
    return [query.part] if isinstance(query, Not) else []


def fields_asked(query: Query) -> list[Field]:
    """The fields among the words that everything found must fit: they narrow leads too."""
    parts = query.parts if isinstance(query, And) else (query,)
    return [part for part in parts if isinstance(part, Field)]


def text_of(query: Query) -> str:
    """The words of a question, to be compared by their meaning; "" where it has none."""
    return " ".join(filter(None, map(_said, leaves(query)))).translate(_SIGNS)


def telling(query: Query) -> list[Query]:
    """Those parts of a question that say what it is about: any of them counts when passages are ranked by words."""
    return [leaf for leaf in leaves(query) if _said(leaf) not in ("", *_STOP)]


def _said(leaf: Query) -> str:
    if isinstance(leaf, Phrase):
        return " ".join(leaf.exact)
    if isinstance(leaf, Near):
        return " ".join((*leaf.first, *leaf.second))
    if isinstance(leaf, Prefix):
        return leaf.start
    return leaf.exact if isinstance(leaf, Term) else ""


def order(near: Mapping[int, float], by_words: Sequence[int], most: int) -> list[int]:
    """Leads, best first: nearness (a dot product of unit vectors) and 0.10 ÷ the place among the best by words (BM25).

    `near`: unit → nearness; `by_words`: units, best first. What is not near at all is no lead, whatever its words.
    """
    gain = {unit: BY_WORDS / place for place, unit in enumerate(by_words, 1)}
    found = [(value + gain.get(unit, 0.0), unit) for unit, value in near.items() if value >= LEAST]
    return [unit for _, unit in sorted(found, key=lambda pair: (-pair[0], pair[1]))[:most]]


def nearness(
    passages: Vectors, notes: Mapping[str, Vectors], confirmed: Mapping[str, Vectors] | None = None, mean: Vectors | None = None
) -> list[dict[str, float]]:  # fmt: skip
    """How near each of the passages [n, d] is to each theme by its scope note [d], -1 to 1, centred: the mean of all passages and that of
    all notes are taken off first, so that what all testimony has in common counts for nothing (F1 0.48 → 0.58).

    `confirmed`: theme → vectors [k, d] of passages for which a person confirmed it; they nudge its note. `mean`: of all passages of the
    archive, where `passages` are few of them. With fewer than two notes nothing can be told apart: every mapping is empty.
    """
    if len(notes) < 2 or not len(passages):
        return [{} for _ in passages]
    names = list(notes)
    middle = np.asarray(passages).mean(axis=0) if mean is None else mean
    scopes = np.stack([notes[name] for name in names])
    scopes = _unit(scopes - scopes.mean(axis=0))
    for row, name in enumerate(names):
        taught = (confirmed or {}).get(name)
        if taught is not None and len(taught):
            scopes[row] += NUDGE * _unit(_unit(taught - middle).mean(axis=0))
    found = _unit(passages - middle) @ _unit(scopes).T
    return [dict(zip(names, map(float, row), strict=True)) for row in found]


def near_enough(near: Mapping[str, float]) -> dict[str, float]:
    """The themes, nearest first, whose notes are near enough to say “near the note of …”; at most two."""
    first = sorted(near.items(), key=lambda pair: (-pair[1], pair[0]))[:MOST_NEAR]
    return {name: min(1.0, value) for name, value in first if value >= NEAR_ENOUGH}


def one_each(windows: Iterable[Vectors]) -> Vectors:
    """One vector of length 1 for each text, from its windows [k, d], k at least 1: [n, d]."""
    return _unit(np.stack([own.mean(axis=0) for own in windows]))


def _unit(vectors: Vectors) -> Vectors:
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(vectors / np.maximum(length, 1e-9), dtype=np.float32)
