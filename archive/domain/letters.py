"""Letters compared as people mean them: case, accents, apostrophes, dashes and signs nobody sees are folded. Pure."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

_APOSTROPHES = dict.fromkeys(map(ord, "’‘ʼ‛′＇`´"), "'")
_QUOTES = dict.fromkeys(map(ord, "“”„‟«»″＂"), '"')
_DASHES = dict.fromkeys(map(ord, "‐‑‒–—―−"), "-")
_SIGNS = {**_APOSTROPHES, **_QUOTES, **_DASHES}
# Letters that do not decompose into a base letter and an accent.
_BASES = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ħ": "h"})


def plain_signs(text: str) -> str:
    """NFC text with every kind of apostrophe, quotation mark and dash written in one way; invisible signs dropped."""
    composed = unicodedata.normalize("NFC", text).translate(_SIGNS)
    return "".join(c for c in composed if unicodedata.category(c) != "Cf")


def folded(text: str) -> str:
    """Like `plain_signs`, in lower case and without accents: "Café" and "cafe" become one."""
    if text.isascii():
        return text.lower().replace("`", "'")
    apart = unicodedata.normalize("NFKD", plain_signs(text).casefold())
    bare = "".join(c for c in apart if unicodedata.category(c) not in ("Mn", "Cf"))
    return bare.translate(_BASES)


def core(text: str) -> str:
    """The word without the punctuation around it: first to last letter or digit (with the accents that belong to it)."""
    first, last = 0, len(text)
    while first < last and not _belongs(text[first]):
        first += 1
    while last > first and not _belongs(text[last - 1]):
        last -= 1
    return text[first:last]


def trailing(text: str) -> str:
    """The punctuation after the last letter or digit; the whole text where it has neither."""
    last = len(text)
    while last > 0 and not _belongs(text[last - 1]):
        last -= 1
    return text[last:]


def without_possessive(word: str) -> str:
    """A folded word without 's or the apostrophe after a final s: "lund's" and "lunds'" lose their ending."""
    if word.endswith("'s"):
        return word[:-2]
    return word.removesuffix("'")


def in_a_row(one: Sequence[str], other: Sequence[str]) -> bool:
    """True where the words of one stand in a row among those of the other, whichever is shorter; never where one has none."""
    short, long = sorted((tuple(one), tuple(other)), key=len)
    return bool(short) and any(long[n : n + len(short)] == short for n in range(len(long) - len(short) + 1))


def _belongs(sign: str) -> bool:
    return sign.isalnum() or unicodedata.category(sign) in ("Mn", "Mc", "Lo", "Lm")
