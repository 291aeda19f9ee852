"""The one analyser: what passages and questions are compared by. Pure.

Whoosh tokenises, folds and stems. Tokens hold only letters and digits: SQLite's unicode61 would split at an
apostrophe or a click's "!", so these are written as the letters U+02BC and U+01C3.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from whoosh.analysis import Filter, LowercaseFilter, RegexTokenizer
from whoosh.lang import stemmer_for_language

from archive.domain.letters import folded, plain_signs
from archive.domain.marks import spoken
from archive.domain.masking import MASK, Masked

BOUNDARY = "ǂǂǂ"  # stands where a mask is; no question can hold it, so no phrase crosses a mask
_APOSTROPHE, _CLICK = "ʼ", "ǃ"
_CHAR = r"[^\W_\u0300-\u036F]|[\u0300-\u036F\u01C0-\u01C3]"
_TOKEN = rf"!?(?:{_CHAR})+(?:[!'](?:{_CHAR})+)*"
_TO_LETTERS = str.maketrans({"'": _APOSTROPHE, "!": _CLICK})
MASKED = re.compile(re.escape(MASK) + r"(?:['’]s\b)?")


class Analysed(NamedTuple):
    """Tokens of one text, in step with each other: as spoken (folded), and stemmed."""

    exact: tuple[str, ...]
    stem: tuple[str, ...]


class _Fold(Filter):  # type: ignore[misc]  # Whoosh comes without types
    """Folds case and accents, drops a possessive 's, writes signs as letters."""

    def __call__(self, stream: Iterator[Any]) -> Iterator[Any]:
        for token in stream:
            text = token.text
            if not (text.isascii() and text.isalnum()):
                text = folded(text)
                if text.endswith("'s") and len(text) > 3:
                    text = text[:-2]
                text = text.translate(_TO_LETTERS)
                text = "".join(c for c in text if c.isalnum())
            if text and text != BOUNDARY:
                token.text = text
                yield token


_exact = RegexTokenizer(_TOKEN) | LowercaseFilter() | _Fold()
_stem_english = stemmer_for_language("en")


@lru_cache(maxsize=50_000)
def stem(token: str) -> str:
    """The stem of one exact token (Whoosh's Snowball English): striking → strike. A boundary stays itself."""
    return token if token == BOUNDARY else str(_stem_english(token))


def analyse(text: str) -> Analysed:
    """Exact and stemmed tokens of a text; each mask in it ("[name withheld]") becomes one boundary token."""
    exact: list[str] = []
    for n, piece in enumerate(MASKED.split(text) if MASK in text else [text]):
        if n:
            exact.append(BOUNDARY)
        exact += [t.text for t in _exact(plain_signs(piece))]
    return Analysed(tuple(exact), tuple(map(stem, exact)))


analysed = lru_cache(maxsize=50_000)(analyse)  # for single words, which come again and again


def analyse_masked(tokens: Sequence[Masked]) -> Analysed:
    """Tokens of a wording with its masks in place; nothing of what a mask covers or of its punctuation is kept."""
    return analyse(" ".join(MASK if t.masked else spoken(t.text).replace(MASK, " ") for t in tokens))
