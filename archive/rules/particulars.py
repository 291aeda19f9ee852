"""Numbers that point to somebody: telephone numbers, spoken or in digits, and years of birth. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from archive.domain.values import Naming, Word
from archive.rules.dates import suggest_dates
from archive.rules.numbers import full_year
from archive.rules.said import Found, Said
from archive.rules.spoken import word_set

_DIGITS = word_set("oh o nought zero one two three four five six seven eight nine double treble triple")
_LEAST_DIGITS = 6  # of a telephone number without a word that says so
_CALLED = word_set("phone telephone phoned telephoned ring rang dial dialled mobile exchange number")
_NEAR = 6  # tokens between "telephone" and a short number
_BORN = frozenset(("born", "birthday", "birth"))
_REACH = 12  # tokens between "born" and the year


def telephone_numbers(said: Said) -> Iterator[Found]:
    """ "01632 960 123", "oh one six three two …", "ring Tarnwick 254"."""
    at = 0
    while at < len(said):
        last, digits, spoken = at - 1, 0, False
        while last + 1 < len(said) and (size := _size(said.text(last + 1))):
            last, digits, spoken = last + 1, digits + size, spoken or not said.text(last + 1).isdigit()
        if last < at:
            at += 1
            continue
        texts = [said.text(n) for n in range(at, last + 1)]
        called = any(said.text(n) in _CALLED for n in range(max(0, at - _NEAR), at))
        years = all(len(t) == 4 and t.isdigit() for t in texts)
        counted = spoken and not called and last - at + 1 < _LEAST_DIGITS  # "one two three" is counting
        if not years and (digits >= _LEAST_DIGITS and not counted and (called or last > at or digits > 6) or called and digits >= 3 and not counted):
            yield Found(at, last, Naming.NUMBER, None, "a telephone number")
        at = last + 1


def _size(text: str) -> int:
    """How many digits a token stands for; 0 where it is none."""
    if text in _DIGITS:
        return 1
    plain = text.removeprefix("+")
    return len(plain) if plain.isdigit() and plain.isascii() else 0


def years_of_birth(said: Said, words: Sequence[Word]) -> Iterator[Found]:
    """ "born on Net Row, in nineteen thirty-eight", "her birthday was the fourth of May 1942"."""
    for at in range(len(said)):
        if said.text(at) not in _BORN:
            continue
        first, last = at, at
        while last + 1 < len(said) and last - at < _REACH and not said.closes(last):
            last += 1
        while first > 0 and at - first < _REACH and not said.closes(first - 1):
            first -= 1
        run = words[said.spoken[first].word : said.spoken[last].word + 1]
        times = [s for s in suggest_dates(run, None, date.max) if s.decades and s.value[:3].isdigit()]
        begin = said.spoken[first].word
        after = [s for s in times if begin + s.first_word > said.spoken[at].word] or times
        if after:
            tokens = [n for n in range(first, last + 1) if after[0].first_word <= said.spoken[n].word - begin <= after[0].last_word]
            yield Found(tokens[0], tokens[-1], Naming.BIRTH, None, "a year of birth")
        elif (year := next((n for n in range(at, last + 1) if full_year(said.spoken, n)), None)) is not None:
            found = full_year(said.spoken, year)
            assert found is not None
            yield Found(year, year + found.length - 1, Naming.BIRTH, None, "a year of birth")
