"""The narrator's own age in speech, as a date, where the birth date is known. Ages of others are left alone. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from archive.domain.dates import at_age, bounds
from archive.errors import BadInput
from archive.rules import context
from archive.rules.contrast import correction
from archive.rules.nearby import AROUND
from archive.rules.numbers import DECADES, TENS, cardinal, ordinal
from archive.rules.spoken import Token, word_set
from archive.rules.told import FROM_BIRTH, Knowing, Told

_AGE_FILLERS = word_set(
    "only just about still nearly almost barely maybe already around then probably all of a an girl boy lad lass child "
    "little young slip"
)
_OTHERS = word_set(
    "he she they his her their him them brother sister mother father mum dad son daughter uncle aunt grandad gran wife "
    "husband lad girl boy man woman"
)


_I_WAS = (
    ("i", "was"), ("i", "turned"), ("i", "became"), ("i", "reached"), ("i", "must", "have", "been"),
    ("i", "would", "have", "been"), ("i'd", "have", "been"), ("i", "might", "have", "been"),
    ("i", "could", "have", "been"), ("i'd", "been"), ("i", "had", "turned"), ("i", "can't", "have", "been"),
    ("i", "wasn't"), ("i", "were"), ("i", "would", "be"), ("i'd", "be"), ("i'd", "just", "turned"), ("i'd", "turned"),
)  # fmt: skip
AFTER_I = frozenset(words[1] for words in _I_WAS)
_PARTS_OF_TEN = {"early": (0, 3), "mid": (4, 6), "late": (7, 9)}
_OWN_BIRTH = {
    ("the", "year", "i", "was", "born"): 0, ("the", "year", "that", "i", "was", "born"): 0,
    ("the", "year", "after", "i", "was", "born"): 1, ("the", "year", "before", "i", "was", "born"): -1,
}  # fmt: skip
# Who lives, calls or stands "at nineteen" is at a house, not of an age.
_LOCATING = word_set("knocked knocking lived live living were are called calling stopped stayed staying visited lodged born next was number over down up")


def read_age(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """The narrator's own age, where a birth date is known: "when I was ten", "at the age of ten I …", "aged ten"."""
    if not knowing.born:
        return None
    start = _own_age_starts(spoken, at)
    if start is None:
        return None
    about = False
    decade_of_life = _in_my(spoken, at, start, knowing)
    if decade_of_life:
        return decade_of_life
    while start < len(spoken) and spoken[start].text in _AGE_FILLERS:
        about = about or spoken[start].text in AROUND
        start += 1
    number = cardinal(spoken, start)
    if number is None or not 3 <= number.value <= 99:
        return None
    last, older = start + number.length - 1, number.value
    right = correction(spoken, last)
    second = cardinal(spoken, right) if right else None
    if right and second and second.value >= 3:
        number, last, older = second, right + second.length - 1, second.value
    second_at = last + (2 if last + 1 < len(spoken) and spoken[last + 1].text in ("or", "to") else 1)
    if spoken[last].stop != ".":
        second = cardinal(spoken, second_at)
        if second and number.value <= second.value <= number.value + (1 if second_at == last + 1 else 5):
            last, older = second_at + second.length - 1, second.value
    end = _age_ends(spoken, last)
    if end is None:
        return None
    return aged(at, end, number.value, older, about, knowing)


def aged(first: int, last: int, age: int, older: int, about: bool, knowing: Knowing) -> Told | None:
    """When the narrator was so old, over tokens first..last; None where that had not come by the day of recording."""
    try:
        edtf = at_age(knowing.born or "", age, older)
    except BadInput:
        return None
    lower, _ = bounds(edtf)
    if lower is None or lower > knowing.recorded_on:
        return None
    if about:
        edtf = "/".join(f"{end[:4]}~" for end in edtf.split("/"))
    said = f"{age}" if older == age else f"{age} to {older}"
    return Told(first, last, edtf, "own age", f"{FROM_BIRTH}{knowing.born}, aged {said} → {edtf}", 0.7 if about else 0.8)


def read_birthday(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "my tenth birthday": a day where the day of birth is known, else a year."""
    if spoken[at].text != "my" or not knowing.born:
        return None
    number = ordinal(spoken, at + 1)
    last = at + 1 + number.length if number else at
    if number is None or last >= len(spoken) or spoken[last].text != "birthday":
        return None
    lower, upper = bounds(knowing.born)
    if lower is None or upper is None or lower.year != upper.year:
        return None
    year = lower.year + number.value
    edtf = f"{year:04d}" + (f"-{lower:%m-%d}" if lower == upper and (lower.month, lower.day) != (2, 29) else "")
    if year > knowing.recorded_on.year:
        return None
    return Told(at, last, edtf, "own birthday", f"{FROM_BIRTH}{knowing.born} → {edtf}", 0.85)


def _in_my(spoken: Sequence[Token], at: int, start: int, knowing: Knowing) -> Told | None:
    """ "when I was in my twenties", "in my early twenties", "in my teens": some years of a life."""
    begin = start
    while begin < len(spoken) and spoken[begin].text in ("still", "just", "well", "already"):
        begin += 1
    if [t.text for t in spoken[begin : begin + 2]] not in (["in", "my"], ["into", "my"]):
        return None
    last = begin + 2
    part = _PARTS_OF_TEN.get(context.text_at(spoken, last))
    last += 1 if part else 0
    named = context.text_at(spoken, last)
    if named == "teens":
        ages = (13, 19)
    elif DECADES.get(named):
        ages = (DECADES[named], DECADES[named] + 9)
    else:
        return None
    if part:
        ages = (max(ages[0], ages[0] // 10 * 10 + part[0]), min(ages[1], ages[0] // 10 * 10 + part[1]))
    if context.text_at(spoken, last + 1) in ("now", "today", "already"):
        return None  # how old somebody is today is no time
    found = aged(at, last, *ages, False, knowing)
    return replace(found, sure=0.6) if found else None


def read_in_my(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "in my teens", "in my twenties" without more words before it."""
    return _in_my(spoken, at, at, knowing) if knowing.born else None


def read_own_birth(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the year I was born", "the year after I was born"."""
    if not knowing.born:
        return None
    texts = [t.text for t in spoken[at : at + 6]]
    said, shift = next(((w, n) for w, n in _OWN_BIRTH.items() if tuple(texts[: len(w)]) == w), ((), 0))
    if not said:
        return None
    lower, upper = bounds(knowing.born)
    if lower is None or upper is None or lower.year != upper.year:
        return None
    edtf = f"{lower.year + shift:04d}"
    return Told(at, at + len(said) - 1, edtf, "own birth", f"{FROM_BIRTH}{knowing.born} → {edtf}", 0.85) if knowing.came(edtf) else None


def _own_age_starts(spoken: Sequence[Token], at: int) -> int | None:
    """Where the number of the narrator's own age would stand, for an expression that begins at `at`."""
    texts = [t.text for t in spoken[at : at + 7]]
    if texts[:1] == ["when"]:
        return None if texts[1:2] not in (["i"], ["i'd"]) else _own_age_starts(spoken, at + 1)
    if texts[:1] in (["i"], ["i'd"]) and context.text_at(spoken, at - 1) not in ("if", "than"):
        return _after_i(texts, at)
    if texts[:4] == ["at", "the", "age", "of"] and _narrators(spoken, at, at + 4):
        return at + 4
    if texts[:1] == ["at"] and (_leaving(spoken, at) or "old" in texts[2:5]) and _narrators(spoken, at, at + 1):
        return at + 1
    if texts[:2] in (["as", "a"], ["as", "an"]) and _narrators(spoken, at, at + 3):
        return at + 2 if "year" in texts or "of" in texts[2:5] else None
    if texts[:1] in (["me"], ["we"]) or texts[:2] == ["and", "i"]:
        return _after_we(texts, at)
    if texts[:1] == ["aged"] and _narrators(spoken, at, at + 1):
        return at + 1
    return None


def _after_i(texts: Sequence[str], at: int) -> int | None:
    for said in _I_WAS:
        if tuple(texts[: len(said)]) == said:
            return at + len(said)
    return None


def _after_we(texts: Sequence[str], at: int) -> int | None:
    """ "me and her were six", "and I were six", "we were both six"; "we were ten in two rooms" is a count."""
    if texts[:2] == ["me", "and"] and "were" in texts[3:6]:
        return at + texts.index("were") + 1
    if texts[:3] == ["and", "i", "were"]:
        return at + 3
    return at + 3 if texts[:3] == ["we", "were", "both"] else None


def _leaving(spoken: Sequence[Token], at: int) -> bool:
    """ "at fifteen", "at seventy-four": past twelve no clock strikes so."""
    number = cardinal(spoken, at + 1)
    if number is None or not 13 <= number.value <= 99 or context.text_at(spoken, at - 1) in _LOCATING:
        return False
    last = at + number.length
    return bool(spoken[last].stop) or context.text_at(spoken, last + 1) in context.FUNCTION | {""}


def _narrators(spoken: Sequence[Token], first: int, last: int) -> bool:
    """For "aged ten": whether the nearest person spoken of is the narrator."""
    for n in range(first - 1, max(-1, first - 8), -1):
        if spoken[n].stop == ".":
            break
        if spoken[n].text in ("i", "me", "i'd", "myself"):
            return True
        if spoken[n].text in _OTHERS:
            return False
    for n in range(last, min(last + 6, len(spoken))):
        if spoken[n].text in ("i", "i'd"):
            return True
        if spoken[n].text in _OTHERS or spoken[n].stop == ".":
            return False
    return False


def _age_ends(spoken: Sequence[Token], last: int) -> int | None:
    """The last token of an age, "years old" with it; None where what follows makes it a count or a time of day."""
    if spoken[last].stop:
        return last
    after = context.text_at(spoken, last + 1)
    if after in ("year", "years"):
        if context.text_at(spoken, last + 2) == "old":
            return last + 2
        return last + 3 if [t.text for t in spoken[last + 2 : last + 4]] == ["of", "age"] else None
    fits = after in ("", "then", "myself", "coming") or (after in context.FUNCTION and after not in ("of", "to", "by", "from", "in", "not"))
    return last if fits or (after == "in" and _year_like(spoken, last + 2)) else None


def _year_like(spoken: Sequence[Token], at: int) -> bool:
    """ "I was ten in 1952", "I was ten in sixty-two" against "I was ten in a bed"."""
    text = context.text_at(spoken, at)
    return text.isdigit() or text in TENS or text in ("nineteen", "the", "that")
