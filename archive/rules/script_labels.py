"""Who speaks, where a script only writes it before the words: “Ada Marl: We crossed at six.” Pure.

A colon after a few words is also how people talk ("I said to him: go"), so a label has to be known, to come again, to be in
capitals, or to stand in a script in which half of the lines have one.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from archive.domain.letters import folded
from archive.domain.script import Line
from archive.rules.script_text import label_of, words_of

NOT_ASSIGNED = "Speaker not assigned"
_MOST_WORDS = 6
_LABEL = re.compile(r"[ \t]*[\[(<*_]*([^\W_][^:：\n]{0,78}?)[\])>*_]*[ \t]*[:：](?:[*_]*[ \t]+|[*_]*$)")


class Labels:
    """Tells labels from speech. `known`: what those who may speak are called, in any spelling."""

    def __init__(self, known: Collection[str] = ()) -> None:
        self.known = {folded(k) for k in known} | {folded(NOT_ASSIGNED)}
        self._taken: set[str] = set()

    def learn(self, texts: Iterable[str]) -> None:
        """Look at the beginnings of all lines of a script, before any label is taken."""
        every = list(texts)
        seen = Counter(key for text in every if (key := self._candidate(text)))
        half = sum(seen.values()) * 2 >= len(every)
        self._taken = {key for key, times in seen.items() if times > 1 or half}

    def parted(self, text: str) -> tuple[str, str]:
        """(label or "", the words after it)."""
        found = _LABEL.match(text)
        if found is None:
            return "", text
        label = label_of(found[1])
        key = folded(label)
        capitals = label.isupper() and len(label) <= 40 and len(label.split()) <= 4
        known = {key, key.strip(" ."), key.split(" · ", 1)[0]} & self.known
        if known or key in self._taken or (capitals and self._candidate(text)):
            return label, text[found.end() :]
        return "", text

    def _candidate(self, text: str) -> str:
        """What may be a label, folded: at most six words, those of four letters and more not in small letters."""
        found = _LABEL.match(text)
        label = label_of(found[1]) if found is not None else ""
        words = label.split()
        if not 1 <= len(words) <= _MOST_WORDS or any(len(w) > 3 and w[0].islower() for w in words) or words[0][0].islower():
            return ""
        return folded(label)

    def taken_off(self, lines: Sequence[Line], carried: bool = False) -> list[Line]:
        """Lines whose labels stand before their words, with the labels made their speakers; `carried`: until the next one."""
        texts = [" ".join(line.words) for line in lines]
        self.learn(texts)
        done, speaker = [], ""
        for line, text in zip(lines, texts, strict=True):
            label, rest = self.parted(text)
            speaker = label or (speaker if carried else "")
            words = words_of(rest) if label else line.words
            if words:
                done.append(replace(line, words=words, speaker=speaker))
        return done
