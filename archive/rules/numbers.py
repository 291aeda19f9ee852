"""Numbers as people say them and as an engine writes them: years, decades, days, ages; words, digits and mixed. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from archive.rules.spoken import Token


def _numbered(listed: str, start: int, step: int = 1) -> dict[str, int]:
    return {word: start + n * step for n, word in enumerate(listed.split())}


SMALL = _numbered(
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
    "eighteen nineteen",
    0,
)
TENS = _numbered("twenty thirty forty fifty sixty seventy eighty ninety", 20, 10) | {"fourty": 40}
_CENTURIES = {"seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20, "17": 17, "18": 18, "19": 19, "20": 20}
_NOUGHT = frozenset(("oh", "o", "ought", "nought", "aught", "0"))
DECADES = _numbered("twenties thirties forties fifties sixties seventies eighties nineties", 20, 10) | {"noughties": 0}
_DECADE_DIGITS = re.compile(r"(1[5-9]|20)?(\d)0'?s")
_ORDINAL_DIGITS = re.compile(r"(\d{1,2})(?:st|nd|rd|th)")
ORDINALS = _numbered(
    "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth fourteenth fifteenth "
    "sixteenth seventeenth eighteenth nineteenth twentieth",
    1,
) | {"thirtieth": 30, "fortieth": 40, "fiftieth": 50}
_MONEY = re.compile(r"[£$€¥%#]")
# Everything a number can begin with; other words are passed over at once.
STARTS = frozenset(SMALL) | frozenset(TENS) | frozenset(DECADES) | frozenset(ORDINALS) | _NOUGHT


@dataclass(frozen=True, slots=True)
class Number:
    """A number read from tokens: its value and how many tokens it took. `marked`: written with an apostrophe ('68)."""

    value: int
    length: int
    marked: bool = False
    spelled: bool = False


def _at(spoken: Sequence[Token], at: int) -> Token | None:
    return spoken[at] if 0 <= at < len(spoken) else None


def _digits(token: Token | None, lengths: tuple[int, ...]) -> int | None:
    """The value of a token that is nothing but so many digits, money and percentages apart."""
    if token is None or not token.text[:1].isdigit() or _MONEY.search(token.raw):
        return None
    text = token.text.removesuffix("'s")
    return int(text) if text.isdigit() and text.isascii() and len(text) in lengths else None


def cardinal(spoken: Sequence[Token], at: int) -> Number | None:
    """A whole number below a hundred: "12", "twelve", "twenty-one", "twenty one"."""
    token = _at(spoken, at)
    if token is None:
        return None
    if token.text[:1].isdigit():
        value = _digits(token, (1, 2))
        return None if value is None else Number(value, 1, marked=_marked(token))
    text = token.text.removesuffix("'s")
    if text in SMALL:
        return Number(SMALL[text], 1, spelled=True)
    if text not in TENS:
        return None
    tens, following = TENS[text], _at(spoken, at + 1)
    unit = SMALL.get(following.text.removesuffix("'s"), 0) if following and text == token.text else 0
    if not token.stop and 1 <= unit <= 9:
        return Number(tens + unit, 2, spelled=True)
    return Number(tens, 1, spelled=True)


def ordinal(spoken: Sequence[Token], at: int) -> Number | None:
    """A day or a birthday: "14th", "fourteenth", "twenty-first"."""
    token = _at(spoken, at)
    if token is None:
        return None
    match = _ORDINAL_DIGITS.fullmatch(token.text) if token.text[:1].isdigit() else None
    if match:
        return Number(int(match[1]), 1)
    if token.text in ORDINALS:
        return Number(ORDINALS[token.text], 1)
    following = _at(spoken, at + 1)
    if token.text in TENS and following and not token.stop and ORDINALS.get(following.text, 99) <= 9:
        return Number(TENS[token.text] + ORDINALS[following.text], 2)
    return None


def short_year(spoken: Sequence[Token], at: int) -> Number | None:
    """The last two digits of a year: "68", "'68", "sixty-eight", "oh five". Which century is not said."""
    token = _at(spoken, at)
    if token is None:
        return None
    following = _at(spoken, at + 1)
    if token.text in _NOUGHT and token.text != "0" and following and not token.stop:
        unit = SMALL.get(following.text, _digits(following, (1,)) or 0)
        return Number(unit, 2, spelled=True) if 1 <= unit <= 9 else None
    if _digits(token, (1,)) is not None:
        return None
    return cardinal(spoken, at)


def full_year(spoken: Sequence[Token], at: int) -> Number | None:
    """A year said in full: "1968", "nineteen sixty-eight", "nineteen 68", "nineteen oh five", "two thousand and five"."""
    token = _at(spoken, at)
    if token is None:
        return None
    digits = _digits(token, (4,))
    if digits is not None:
        return Number(digits, 1) if 1500 <= digits <= 2099 else None
    following = _at(spoken, at + 1)
    if following is None or token.stop:
        return None
    if token.text == "two" and following.text == "thousand":
        return _two_thousand(spoken, at, following)
    century = _CENTURIES.get(token.text)
    if century is None or _MONEY.search(token.raw):
        return None
    if following.text == "hundred":
        return _hundred(spoken, at, century, following)
    if following.text == "and" and not following.stop and not token.text.isdigit():
        rest = cardinal(spoken, at + 2)  # "nineteen and fifty-three"; "nineteen and six" is money
        return Number(century * 100 + rest.value, 2 + rest.length, spelled=True) if rest and rest.spelled and rest.value >= 20 else None
    rest = short_year(spoken, at + 1)
    if rest is None or (rest.value < 10 and following.text not in _NOUGHT) or rest.value > 99:
        return None
    if token.text.isdigit() and (following.word != token.word + 1 or rest.value < 20):
        return None
    return Number(century * 100 + rest.value, 1 + rest.length, spelled=True)


def _two_thousand(spoken: Sequence[Token], at: int, thousand: Token) -> Number:
    bare = Number(2000, 2, spelled=True)
    if thousand.stop:
        return bare
    start = at + 2
    joint = _at(spoken, start)
    if joint and joint.text == "and" and not joint.stop:
        start += 1
    rest = cardinal(spoken, start)
    if rest is None or not 1 <= rest.value <= 99:
        return bare
    return Number(2000 + rest.value, start - at + rest.length, spelled=True)


def _hundred(spoken: Sequence[Token], at: int, century: int, hundred: Token) -> Number | None:
    if century == 20:
        return None
    joint = _at(spoken, at + 2)
    if joint and joint.text == "and" and not hundred.stop and not joint.stop:
        rest = cardinal(spoken, at + 3)
        if rest and 1 <= rest.value <= 99:
            return Number(century * 100 + rest.value, 3 + rest.length, spelled=True)
    return Number(century * 100, 2, spelled=True)


def decade(spoken: Sequence[Token], at: int) -> Number | None:
    """A decade: "the 1960s", "'60s", "sixties", "nineteen-sixties". Below 100 where the century is not said."""
    token = _at(spoken, at)
    if token is None:
        return None
    match = _DECADE_DIGITS.fullmatch(token.text) if token.text[:1].isdigit() else None
    if match:
        tens = int(match[2]) * 10
        return Number(int(match[1]) * 100 + tens if match[1] else tens, 1)
    if token.text in DECADES:
        return Number(DECADES[token.text], 1, spelled=True)
    following = _at(spoken, at + 1)
    if following is None or token.stop or token.text not in _CENTURIES:
        return None
    tens_digits = _DECADE_DIGITS.fullmatch(following.text)
    if following.text in DECADES:
        return Number(_CENTURIES[token.text] * 100 + DECADES[following.text], 2, spelled=True)
    if tens_digits and not tens_digits[1]:
        return Number(_CENTURIES[token.text] * 100 + int(tens_digits[2]) * 10, 2)
    return None


def _marked(token: Token) -> bool:
    start = token.raw.lstrip("(\"“")
    return len(start) >= 3 and start[0] in "'’‘" and start[1:3].isdigit()
