"""Words of the glossary in what is said, found as Find finds them: by their stems. Pure."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from archive.rules.analysis import BOUNDARY, analyse


class Glosses:
    """Glossary words by their stems; made once for many lines."""

    def __init__(self, entries: Mapping[int, str]) -> None:
        """`entries`: number → word, or words that belong together."""
        self._by_first: dict[str, list[tuple[tuple[str, ...], int]]] = {}
        for number, word in entries.items():
            stems = analyse(word).stem
            if stems and BOUNDARY not in stems:
                self._by_first.setdefault(stems[0], []).append((stems, number))

    def find(self, words: Sequence[str], masks: Collection[int] = ()) -> dict[int, int]:
        """Number of the word in the line → entry, for every word that is (part of) one; the longest where several are. `masks`:
        which of them stand for something withheld."""
        if not self._by_first:
            return {}
        stems: list[str] = []
        owner: list[int] = []
        for n, text in enumerate(words):
            found = (BOUNDARY,) if n in masks else analyse(text).stem
            stems += found
            owner += [n] * len(found)
        marked: dict[int, int] = {}
        for at, stem in enumerate(stems):
            fitting = [(len(whole), number) for whole, number in self._by_first.get(stem, ()) if tuple(stems[at : at + len(whole)]) == whole]
            if fitting:
                length, number = max(fitting)
                for k in range(at, at + length):
                    marked.setdefault(owner[k], number)
        return marked
