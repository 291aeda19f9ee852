"""School years and years of service, reckoned from the narrator's birth. Pure.

At which age school begins and when somebody is called up differs from place to place and from time to time: 5, and 18 to
20, are choices of this project (tests/rules/test_told_times.py), so such a time is little trusted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from archive.rules.ages import aged
from archive.rules.context import text_at
from archive.rules.numbers import cardinal, ordinal
from archive.rules.spoken import Token, word_set
from archive.rules.told import Knowing, Told

SCHOOL_AT = 5
CALLED_UP_AT = 18
SERVED_YEARS = 2
_SURE = 0.5
_Phrases = dict[tuple[str, str], tuple[tuple[str, ...], ...]]


def _phrases(*said: str) -> _Phrases:
    """Phrases by their first two words, the longest first."""
    found: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for words in sorted((tuple(p.split()) for p in said), key=len, reverse=True):
        found.setdefault((words[0], words[1]), []).append(words)
    return {k: tuple(v) for k, v in found.items()}


_SCHOOL_BEGINS = _phrases(
    "i started school", "starting school", "i began school", "i first went to school", "my first day at school", "my first day of school",
    "my first day in school", "my first morning at school", "i'd started school", "i'd just started school", "i had just started school",
    "i was starting school", "i went to school first",
)  # fmt: skip
_CALLED_UP = _phrases("i was called up", "i got called up", "my call up", "they called me up", "i was conscripted", "my calling up", "i got my call up")
_SERVICE = _phrases(
    "my national service", "my military service", "i did national service", "my army days", "my army years", "my service", "my two years service",
    "my two years in the army", "i did my service", "my conscription", "doing national service",
)  # fmt: skip
_OUT = _phrases("i came out of the", "i got out of the", "i came back from the", "i was out of the", "i left the", "i was discharged from the")
_IN = _phrases("i was in the", "i was still in the", "i was away in the", "i did my time in the")
_FORCES = word_set("army navy forces services raf marines service")
_CLASSES = word_set("class standard grade")
SECOND_WORDS = frozenset(second for said in (_SCHOOL_BEGINS, _CALLED_UP, _SERVICE, _OUT, _IN) for _, second in said)


def read_school(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "when I started school", "in my second year at school", "I was in the fourth class": the narrator's own."""
    if not knowing.born:
        return None
    length = _said(spoken, at, _SCHOOL_BEGINS)
    if length:
        return _reckoned(at, at + length - 1, SCHOOL_AT, SCHOOL_AT, "school year", "started school", knowing)
    found = _year_at_school(spoken, at) or _class(spoken, at)
    if found is None:
        return None
    number, last = found
    age = SCHOOL_AT + number - 1
    return _reckoned(at, last, age, age, "school year", f"year {number} at school", knowing) if 1 <= number <= 13 else None


def read_service(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "I was in the army", "my national service", "I was called up", "when I came out of the army", "my three years in the navy"."""
    if not knowing.born:
        return None
    length = _said(spoken, at, _CALLED_UP)
    if length:
        return _reckoned(at, at + length - 1, CALLED_UP_AT, CALLED_UP_AT, "call-up", "called up", knowing)
    years = _years_of_service(spoken, at)
    if years:
        count, last = years
        return _reckoned(at, last, CALLED_UP_AT, CALLED_UP_AT + count - 1, "years of service", f"{count} years of service", knowing)
    length = _said(spoken, at, _SERVICE)
    if length:
        return _served(at, at + length - 1, knowing)
    length = _said(spoken, at, _OUT)
    if length and text_at(spoken, at + length) in _FORCES:
        out = CALLED_UP_AT + SERVED_YEARS
        return _reckoned(at, at + length, out, out, "out of the service", "out of the service", knowing)
    length = _said(spoken, at, _IN)
    return _served(at, at + length, knowing) if length and text_at(spoken, at + length) in _FORCES - {"service"} else None


def _served(first: int, last: int, knowing: Knowing) -> Told | None:
    return _reckoned(first, last, CALLED_UP_AT, CALLED_UP_AT + SERVED_YEARS - 1, "years of service", "in the service", knowing)


def _reckoned(first: int, last: int, age: int, older: int, rule: str, what: str, knowing: Knowing) -> Told | None:
    time = aged(first, last, age, older, False, knowing)
    return replace(time, rule=rule, reckoning=f"{time.reckoning} ({what})", sure=_SURE) if time else None


def _said(spoken: Sequence[Token], at: int, phrases: _Phrases) -> int:
    """How many tokens the longest of these phrases takes at token `at`; 0 where none is said."""
    for words in phrases.get((spoken[at].text, text_at(spoken, at + 1)), ()):
        if tuple(t.text for t in spoken[at : at + len(words)]) == words:
            return len(words)
    return 0


def _year_at_school(spoken: Sequence[Token], at: int) -> tuple[int, int] | None:
    """ "my second year at school", "my last but one year" not: (number of the year, last token)."""
    if spoken[at].text != "my":
        return None
    number = ordinal(spoken, at + 1)
    after = at + 1 + number.length if number else at
    if number is None or text_at(spoken, after) not in ("year", "term") or text_at(spoken, after + 1) not in ("at", "of", "in"):
        return None
    return (number.value, after + 2) if text_at(spoken, after + 2) == "school" else None


def _class(spoken: Sequence[Token], at: int) -> tuple[int, int] | None:
    """ "I was in the fourth class", "I was in standard three": (number of the class, last token)."""
    if [t.text for t in spoken[at : at + 3]] not in (["i", "was", "in"], ["i", "were", "in"]):
        return None
    if text_at(spoken, at + 3) in ("standard", "class", "grade"):
        number = cardinal(spoken, at + 4)
        return (number.value, at + 3 + number.length) if number else None
    number = ordinal(spoken, at + 4) if text_at(spoken, at + 3) in ("the", "my") else None
    after = at + 4 + number.length if number else at
    return (number.value, after) if number and text_at(spoken, after) in _CLASSES else None


def _years_of_service(spoken: Sequence[Token], at: int) -> tuple[int, int] | None:
    """ "my three years in the navy", "my two years' service": (how many, last token)."""
    if spoken[at].text != "my":
        return None
    number = cardinal(spoken, at + 1)
    after = at + 1 + number.length if number else at
    if number is None or not 1 <= number.value <= 30 or text_at(spoken, after) != "years":
        return None
    if text_at(spoken, after + 1) == "service":
        return number.value, after + 1
    if [t.text for t in spoken[after + 1 : after + 3]] == ["in", "the"] and text_at(spoken, after + 3) in _FORCES:
        return number.value, after + 3
    return None
