"""Words that sound like a name on record: mis-hearings that nobody listed. Suggested, never taken for the name. Pure.

Thresholds are a project choice, set so that two hundred innocent words (tests/rules/innocent_words.txt) do not hit.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from jellyfish import metaphone
from rapidfuzz.distance import JaroWinkler

from archive.rules.data.ordinary import ORDINARY
from archive.rules.data.people_words import KIN, PERSONS, TRADES

SAME_SOUND = 0.82  # Jaro-Winkler from which a word of the same Metaphone is one name with another
ALIKE = 0.935  # Jaro-Winkler from which letters alone are enough
_LEAST = 4  # letters of a name, and of a word, that are compared; shorter ones are like everything
_FURTHEST = 3  # letters by which lengths may differ


def likeness(one: str, other: str) -> float:
    """Jaro-Winkler likeness of two folded words, 0–1 (rapidfuzz)."""
    return float(JaroWinkler.similarity(one, other))


@lru_cache(maxsize=50_000)
def sound(word: str) -> str:
    """The Metaphone code of a folded word (jellyfish)."""
    return str(metaphone(word))


_PLAIN = ORDINARY | KIN | PERSONS | TRADES


class Likeness:
    """The names of many people, by what they sound like. `nearest` then works on any word."""

    def __init__(self, names: Iterable[tuple[str, int]]) -> None:
        """`names`: (folded letters of one name, whose person id)."""
        self._by_sound: dict[str, list[tuple[str, int]]] = {}
        self._by_start: dict[str, list[tuple[str, int]]] = {}
        for name, person_id in dict.fromkeys(names):
            if len(name) >= _LEAST:
                self._by_sound.setdefault(sound(name), []).append((name, person_id))
                self._by_start.setdefault(name[0], []).append((name, person_id))
        self._known: dict[tuple[str, bool], tuple[int, ...]] = {}

    def nearest(self, word: str, strict: bool = False) -> tuple[int, ...]:
        """The people whose name a folded word sounds most like; () where it sounds like nobody's. `strict`: only where both
        sound and letters say so, for words without the capital of a name."""
        key = (word, strict)
        if key not in self._known:
            without = word[:-1] if word.endswith("s") else ""
            self._known[key] = tuple(dict.fromkeys(self._compared(word, strict) + self._compared(without, strict)))
        return self._known[key]

    def is_of(self, word: str, person_id: int) -> bool:
        """Whether a word that stands beside a name of somebody may be another one of theirs: by sound alone."""
        return len(word) >= _LEAST - 1 and any(
            p == person_id and likeness(word, name) >= SAME_SOUND - 0.07 for name, p in self._by_sound.get(sound(word), ())
        )

    def _compared(self, word: str, strict: bool) -> tuple[int, ...]:
        if len(word) < _LEAST or word in _PLAIN:
            return ()
        least = ALIKE if strict else SAME_SOUND
        same = [(likeness(word, name), p) for name, p in self._by_sound.get(sound(word), ())]
        near = () if strict else self._by_start.get(word[0], ())
        alike = [(likeness(word, name), p) for name, p in near if abs(len(name) - len(word)) <= _FURTHEST]
        found = [f for f in same if f[0] >= least] + [f for f in alike if f[0] >= ALIKE]
        best = max((f[0] for f in found), default=0.0)
        return tuple(dict.fromkeys(p for score, p in found if score == best))
