"""Spoken words as the rules compare them: folded, parted at hyphens, with what stood around them. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from archive.domain.letters import core, folded, plain_signs
from archive.domain.values import Word
from archive.rules.utterances import ends_sentence

_LETTERS = re.compile(r"[^\w]|_")


@dataclass(frozen=True, slots=True)
class Token:
    """A spoken token. `text`: folded, apostrophes inside kept; `letters`: without them; `word`: index of its word.

    `capital`: its first letter is upper case; `opens`: it begins a sentence; `stop`: "", "," or "." after it;
    `raw`: as written, with punctuation.
    """

    text: str
    letters: str
    word: int
    capital: bool
    opens: bool
    stop: str
    raw: str


def word_set(listed: str) -> frozenset[str]:
    """The words of a list written as one text."""
    return frozenset(listed.split())


def tokens(words: Sequence[Word]) -> list[Token]:
    """Tokens of words in order. A hyphenated word gives several with one word index; bare signs give none."""
    found: list[Token] = []
    opens = True
    for index, word in enumerate(words):
        raw = word.text.strip()
        bare = core(raw)
        if not bare:
            if found and raw:
                opens = opens or ends_sentence(raw)
            continue
        stop = _stop(raw)
        parts = [bare] if bare.isalnum() else [p for p in plain_signs(bare).split("-") if core(p)]
        for n, part in enumerate(parts):
            text = folded(part)
            letters = text if text.isalnum() else _LETTERS.sub("", text)
            last = n == len(parts) - 1
            capital = core(part)[:1].isupper()
            found.append(Token(text, letters, index, capital, opens and n == 0, stop if last else "", raw))
        opens = stop == "."
    return found


def _stop(raw: str) -> str:
    if raw[-1].isalnum():
        return ""
    if ends_sentence(raw):
        return "."
    return "," if raw.rstrip("\"'”’»)] ").endswith((",", ";", ":", "—", "–", "-")) else ""
