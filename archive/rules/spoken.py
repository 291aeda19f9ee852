"""Spoken words as the rules compare them: folded, parted at hyphens, with what stood around them. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from archive.domain.letters import core, folded, plain_signs
from archive.domain.marks import spoken
from archive.domain.values import Word
from archive.rules.utterances import ends_sentence

# Hyphens and slashes, and signs without a space between two words: "Mrs.Fenn", "Fenn,Dot", "Fenn&Sons", "Dot_Fenn".
_PARTING = re.compile(r"[-/]|(?<=[^\W\d_]{2})[.,;:&_…]+(?=[^\W\d_]{2})")
_LETTERS = re.compile(r"[^\w]|_")


class Token(NamedTuple):
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
        raw, parts, stop = _parts(word.text)
        if not parts:
            opens = opens or (bool(found) and stop == ".")
            continue
        last = len(parts) - 1
        for n, (text, letters, capital) in enumerate(parts):
            found.append(Token(text, letters, index, capital, opens and n == 0, stop if n == last else "", raw))
        opens = stop == "."
    return found


@lru_cache(maxsize=50_000)
def _parts(written: str) -> tuple[str, tuple[tuple[str, str, bool], ...], str]:
    """A word as written, its parts (folded text, letters, capitalised), and what closes it. Words repeat, so it is kept."""
    raw = spoken(written).strip()
    bare = core(raw)
    if not bare:
        return raw, (), _stop(raw) if raw else ""
    pieces = [bare] if bare.isalnum() else [p for p in _PARTING.split(plain_signs(bare)) if core(p)]
    parts = []
    for piece in pieces:
        text = folded(piece)
        letters = text if text.isalnum() else _LETTERS.sub("", text)
        parts.append((text, letters, core(piece)[:1].isupper()))
    return raw, tuple(parts), _stop(raw)


def _stop(raw: str) -> str:
    if raw[-1].isalnum():
        return ""
    if ends_sentence(raw):
        return "."
    return "," if raw.rstrip("\"'”’»)] ").endswith((",", ";", ":", "—", "–", "-")) else ""
