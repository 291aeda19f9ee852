"""Passages that no theme describes, grouped by the words that they share more than other passages do: what a new theme could be about. Pure.

A word weighs by how many of these hold it, times the logarithm of how rare it is among all passages (tf-idf). Lexical and cheap: nothing
but words that come together.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log

from archive.rules.learned import says_little

PASSAGES, RECORDINGS = 3, 2  # a group has at least
MOST_GROUPS = 8
MOST_WORDS = 6  # that name a group
_MOST_SHARE = 0.25  # of all passages: a word that is said more often tells nothing apart
_TOGETHER = 1 / 2  # of the passages of the rarer of two words, in which both must be


@dataclass(frozen=True, slots=True)
class Lexical:
    """A passage by its words: stem → as it is spoken."""

    key: int
    recording_id: int
    words: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Group:
    """Passages (their keys, those with most of the words first) and what they share: (stem, as it is spoken), the surest first."""

    words: tuple[tuple[str, str], ...]
    keys: tuple[int, ...]


def groups(undescribed: Sequence[Lexical], described: Iterable[Lexical]) -> list[Group]:
    """At most `MOST_GROUPS`, the one with most to tell first; a passage is in one group alone."""
    elsewhere, number = Counter[str](), 0
    for passage in described:
        elsewhere.update(passage.words.keys())
        number += 1
    holding: dict[str, set[int]] = defaultdict(set)
    for n, passage in enumerate(undescribed):
        for stem, spoken in passage.words.items():
            if not says_little(spoken):
                holding[stem].add(n)
    every = len(undescribed) + number
    most = max(PASSAGES, _MOST_SHARE * every)
    tells = {}
    for stem, found in holding.items():
        said = len(found) + elsewhere[stem]
        if len(found) >= PASSAGES and said <= most and len(found) * number > elsewhere[stem] * len(undescribed) - (number == 0):
            tells[stem] = len(found) * log(every / said)
    made: list[Group] = []
    left = set(range(len(undescribed)))
    for head in sorted(tells, key=lambda s: (-tells[s], s)):
        group = _group(head, tells, holding, left, undescribed)
        if group is not None and len(made) < MOST_GROUPS:
            made.append(group)
            left -= {n for n in left if undescribed[n].key in set(group.keys)}
    return made


def _group(
    head: str, tells: Mapping[str, float], holding: Mapping[str, set[int]], left: set[int], passages: Sequence[Lexical]
) -> Group | None:
    """What comes together with one word, in passages that no other group has."""
    mine = holding[head] & left
    if not _enough(mine, passages):
        return None
    beside = Counter(stem for n in mine for stem in passages[n].words if stem in tells and stem != head)
    words = [head]
    for stem, n in sorted(beside.items(), key=lambda p: (-p[1] * tells[p[0]], p[0])):
        if n >= 2 and n >= _TOGETHER * min(len(mine), len(holding[stem])) and len(words) < MOST_WORDS:
            words.append(stem)
    shared = {n: sum(stem in passages[n].words for stem in words) for n in left}
    found = sorted((n for n in left if head in passages[n].words or shared[n] >= max(2, len(words) / 2)), key=lambda n: (-shared[n], n))
    spoken = [(stem, Counter(passages[n].words[stem] for n in found if stem in passages[n].words).most_common(1)[0][0]) for stem in words]
    return Group(tuple(spoken), tuple(passages[n].key for n in found))


def _enough(some: set[int], passages: Sequence[Lexical]) -> bool:
    return len(some) >= PASSAGES and len({passages[n].recording_id for n in some}) >= RECORDINGS
