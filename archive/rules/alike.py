"""Numbers as they are written and as they are said: "74", "seventy-four", "nineteen seventy-four", "1974". Pure.

From one analysed number to its other forms; used on questions alone, so that what was said stays as it was said and phrases stay right.
English, as people and the speech engine write it (project choice; the readings of years are those of HeidelTime's rules, CHECKS §1).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from functools import lru_cache
from typing import TypeAlias

from archive.rules.numbers import DECADES, SMALL, TENS

Tokens: TypeAlias = tuple[str, ...]

_WORD_OF = {n: word for word, n in reversed(SMALL.items())}
_TENS_OF = {n: word for word, n in reversed(TENS.items()) if word != "fourty"}
_DECADE_OF = {n: word for word, n in DECADES.items()}
_NOUGHTS = ("oh", "o")
_YEARS = range(1100, 2100)
_SHORT = (18, 19, 20)  # centuries of which a year is said by its last two digits


def numbers_at(tokens: Tokens, at: int) -> tuple[int, tuple[Tokens, ...]] | None:
    """The longest number that begins at a place of exact tokens: how many tokens it takes, and its other forms."""
    decade = _decade_at(tokens, at)
    if decade is not None:
        length, found = decade
        return length, tuple(f for f in _decade_forms(found) if f != tokens[at : at + length])
    for length in range(min(7, len(tokens) - at), 0, -1):
        value = _value(tokens[at : at + length])
        if value is not None:
            return length, tuple(f for f in forms(value) if f != tokens[at : at + length])
    return None


@lru_cache(maxsize=2000)
def _value(tokens: Tokens) -> int | None:
    """What all of these tokens together say; None where they are no one number from 0 to 9999."""
    if len(tokens) == 1 and tokens[0].isascii() and tokens[0].isdigit():
        return int(tokens[0]) if len(tokens[0]) <= 4 and (tokens[0] == "0" or tokens[0][0] != "0") else None
    return next((n for n in _below_hundred(tokens) + _hundreds(tokens) + _year(tokens) if n is not None), None)


def _below_hundred(tokens: Tokens) -> list[int | None]:
    if len(tokens) == 1:
        return [SMALL.get(tokens[0], TENS.get(tokens[0]))]
    if len(tokens) == 2 and tokens[0] in TENS and 1 <= SMALL.get(tokens[1], 0) <= 9:
        return [TENS[tokens[0]] + SMALL[tokens[1]]]
    return [None]


def _hundreds(tokens: Tokens) -> list[int | None]:
    """ "three hundred and four", "two thousand (and) five", "nineteen hundred"."""
    for word, by in (("hundred", 100), ("thousand", 1000)):
        if word not in tokens:
            continue
        cut = tokens.index(word)
        many = _below_hundred(tokens[:cut])[0] if cut else None
        if tokens[:cut] == ("a",):
            many = 1
        rest = tokens[cut + 1 :]
        rest = rest[1:] if rest[:1] == ("and",) and len(rest) > 1 else rest
        less = 0 if not rest else (_below_hundred(rest)[0] if by == 100 else next((n for n in _below_hundred(rest) + _hundreds(rest) if n is not None), None))
        if many and less is not None and many * by + less < 10_000 and less < by and (by == 100 or many < 10):
            return [many * by + less]
    return [None]


def _year(tokens: Tokens) -> list[int | None]:
    """ "nineteen seventy-four", "nineteen 74", "nineteen oh five"."""
    if len(tokens) < 2 or not 11 <= SMALL.get(tokens[0], TENS.get(tokens[0], 0)) <= 20:
        return [None]
    century, rest = SMALL.get(tokens[0], TENS.get(tokens[0], 0)), tokens[1:]
    if len(rest) == 2 and rest[0] in _NOUGHTS and 1 <= SMALL.get(rest[1], 0) <= 9:
        return [century * 100 + SMALL[rest[1]]]
    short = int(rest[0]) if len(rest) == 1 and rest[0].isascii() and rest[0].isdigit() and len(rest[0]) == 2 else _below_hundred(rest)[0]
    return [century * 100 + short] if short is not None and 10 <= short <= 99 else [None]


def _said(n: int) -> Tokens:
    """A number below a hundred in words."""
    if n in _WORD_OF:
        return (_WORD_OF[n],)
    return (_TENS_OF[n - n % 10], *((_WORD_OF[n % 10],) if n % 10 else ()))


@lru_cache(maxsize=2000)
def forms(value: int) -> tuple[Tokens, ...]:
    """Every way in which a number from 0 to 9999 is written or said. A number of two digits may be a year's last two, and is said within it."""
    made: list[Tokens] = [(str(value),)]
    if value < 100:
        made.append(_said(value))
        if value >= 10:
            made += [(f"{century}{value}",) for century in _SHORT]
    else:
        hundreds, less = divmod(value, 100)
        if value < 1000:
            made += _joined((*_said(hundreds), "hundred"), less)
        elif value % 1000 < 100:
            made += _joined((*_said(value // 1000), "thousand"), less)
        if value in _YEARS:
            made += _joined((*_said(hundreds), "hundred"), less) if hundreds % 10 else []
            if less >= 10:
                made += [(*_said(hundreds), *_said(less)), (*_said(hundreds), str(less))]
            elif less:
                made += [(*_said(hundreds), nought, *_said(less)) for nought in _NOUGHTS]
    return tuple(dict.fromkeys(made))


def _joined(hundreds: Tokens, less: int) -> list[Tokens]:
    return [(*hundreds, *_said(less)), (*hundreds, "and", *_said(less))] if less else [hundreds]


def _decade_at(tokens: Tokens, at: int) -> tuple[int, int] | None:
    """ "seventies", "70s", "1970s", "nineteen seventies": (how many tokens, the decade; below 100 where no century is said)."""
    token = tokens[at]
    if token in DECADES:
        return 1, DECADES[token]
    digits = token.removesuffix("s")
    if digits != token and digits.isascii() and digits.isdigit() and len(digits) in (2, 4) and digits.endswith("0"):
        return 1, int(digits)
    century = SMALL.get(token, 0)
    if 17 <= century <= 19 and at + 1 < len(tokens) and tokens[at + 1] in DECADES:
        return 2, century * 100 + DECADES[tokens[at + 1]]
    return None


def _decade_forms(decade: int) -> tuple[Tokens, ...]:
    century, short = divmod(decade, 100)
    if short not in _DECADE_OF:
        return ((f"{decade}s",),)
    if not century:
        return ((f"{short}s",), (_DECADE_OF[short],), *((f"{c}{short}s",) for c in _SHORT))
    return ((f"{decade}s",), (*_said(century), _DECADE_OF[short])) if century < 20 else ((f"{decade}s",),)


def names_at(groups: Iterable[Collection[Tokens]]) -> Callable[[Tokens, int], tuple[int, tuple[Tokens, ...]] | None]:
    """The same for names: each group is one thing's names, as exact tokens."""
    others: dict[Tokens, dict[Tokens, None]] = {}
    for group in groups:
        for name in group:
            others.setdefault(name, {}).update(dict.fromkeys(n for n in group if n != name))
    longest = max(map(len, others), default=0)

    def at(tokens: Tokens, start: int) -> tuple[int, tuple[Tokens, ...]] | None:
        for length in range(min(longest, len(tokens) - start), 0, -1):
            found = others.get(tokens[start : start + length])
            if found:
                return length, tuple(found)
        return None

    return at
