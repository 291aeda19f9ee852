"""Dates as the archive writes them: a subset of EDTF (Library of Congress, 4 Feb 2019) with its bounds. Pure.

Levels 0 and 1 with years 0001 to 9999, and sets of level 2. Reversed intervals are refused (the `edtf` library takes
them), and winter crosses the year: write 1962-12/1963-02 (2010-24 is read as December to February for that reason).
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from archive.domain.values import PersonDay
from archive.errors import BadInput

_PART = re.compile(r"([0-9]{4}|[0-9]{3}X|[0-9]{2}XX)(?:-([0-9]{2}|XX)(?:-([0-9]{2}|XX))?)?([~?%]?)")
SEASONS = {"spring": 21, "summer": 22, "autumn": 23, "fall": 23, "winter": 24}
_SEASON_MONTHS = {21: (3, 5), 22: (6, 8), 23: (9, 11)}
ADULT_AT = 18


@dataclass(frozen=True, slots=True)
class _Bounds:
    lower: date
    upper: date


def _bad(edtf: str) -> BadInput:
    return BadInput(
        f"“{edtf}” is not a date this archive can read.",
        "Write 1968, 1968-01, 1968-01-14, 196X, 1968~ (about), 1968? (uncertain), 1962-12/1963-02, ../1987 or 1970/..",
    )


@lru_cache(maxsize=4096)
def _part(text: str) -> _Bounds:
    """Bounds of one date without interval or set. Raises BadInput."""
    match = _PART.fullmatch(text)
    if match is None:
        raise _bad(text)
    year, month, day, _ = match.groups()
    first_year, last_year = int(year.replace("X", "0")), int(year.replace("X", "9"))
    if last_year < 1:
        raise _bad(text)
    first_year = max(first_year, 1)
    if month is None or month == "XX":
        if day not in (None, "XX"):
            raise _bad(text)
        return _Bounds(date(first_year, 1, 1), date(last_year, 12, 31))
    number = int(month)
    if "X" in year or not (1 <= number <= 12 or (21 <= number <= 24 and day is None)):
        raise _bad(text)
    if number > 12:
        return _season(first_year, number, text)
    days = calendar.monthrange(first_year, number)[1]
    if day is None or day == "XX":
        return _Bounds(date(first_year, number, 1), date(first_year, number, days))
    if not 1 <= int(day) <= days:
        raise _bad(text)
    exact = date(first_year, number, int(day))
    return _Bounds(exact, exact)


def _season(year: int, number: int, text: str) -> _Bounds:
    if number == 24:
        if year >= 9999:
            raise _bad(text)
        return _Bounds(date(year, 12, 1), date(year + 1, 2, calendar.monthrange(year + 1, 2)[1]))
    first, last = _SEASON_MONTHS[number]
    return _Bounds(date(year, first, 1), date(year, last, calendar.monthrange(year, last)[1]))


@lru_cache(maxsize=4096)
def bounds(edtf: str) -> tuple[date | None, date | None]:
    """First and last day that a date may mean, both inclusive; None where that end is open. Raises BadInput."""
    text = edtf.strip()
    if text[:1] in ("[", "{"):
        return _set_bounds(text, edtf)
    if "/" not in text:
        part = _part(text)
        return part.lower, part.upper
    start, _, end = text.partition("/")
    if (start in ("", "..") and end in ("", "..")) or "/" in end:
        raise _bad(edtf)
    first = None if start in ("", "..") else _part(start)
    last = None if end in ("", "..") else _part(end)
    if first and last and first.lower > last.upper:
        raise BadInput(f"“{edtf}” ends before it starts.", "Write the earlier date first.")
    return (first.lower if first else None), (last.upper if last else None)


def _set_bounds(text: str, edtf: str) -> tuple[date | None, date | None]:
    if text[-1] != {"[": "]", "{": "}"}[text[0]]:
        raise _bad(edtf)
    lowers: list[date | None] = []
    uppers: list[date | None] = []
    for member in (m.strip() for m in text[1:-1].split(",")):
        start, dots, end = member.partition("..")
        if not dots:
            end = start
        if not start and not end:
            raise _bad(edtf)
        lower = _part(start).lower if start else None
        upper = _part(end).upper if end else None
        if lower and upper and lower > upper:
            raise BadInput(f"“{edtf}” ends before it starts.", "Write the earlier date first.")
        lowers.append(lower)
        uppers.append(upper)
    lower_known = [d for d in lowers if d is not None]
    upper_known = [d for d in uppers if d is not None]
    return (
        min(lower_known) if len(lower_known) == len(lowers) else None,
        max(upper_known) if len(upper_known) == len(uppers) else None,
    )


def validate(edtf: str) -> str:
    """The date without spaces around it. Raises BadInput where it is none."""
    bounds(edtf)
    return edtf.strip()


def decades(edtf: str) -> list[int]:
    """Decades a date touches, by their first year ([1960]). An open end adds none beyond the end that is known."""
    return list(_decades(edtf))


@lru_cache(maxsize=4096)
def _decades(edtf: str) -> range:
    lower, upper = bounds(edtf)
    known = [d for d in (lower, upper) if d is not None]
    first, last = known[0].year // 10 * 10, known[-1].year // 10 * 10
    return range(first, last + 1, 10)


def overlaps(one: str, other: str) -> bool:
    """True where two dates may mean the same day. Open ends reach for ever. Raises BadInput."""
    (a, b), (c, d) = bounds(one), bounds(other)
    return (a is None or d is None or a <= d) and (c is None or b is None or c <= b)


def years_later(day: date, years: int) -> date:
    """The same day so many years on; 29 February becomes 1 March where there is none (the careful reading)."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


def adult_days(born: str | None) -> PersonDay:
    """Bounds of the 18th birthday of somebody born on an EDTF date; nothing known gives (None, None)."""
    if not born or not born.strip():
        return PersonDay(None, None)
    lower, upper = bounds(born)
    return PersonDay(
        years_later(lower, ADULT_AT) if lower else None, years_later(upper, ADULT_AT) if upper else None
    )


def last_day_of(edtf: str | None) -> date | None:
    """The latest day that a date may mean; None where it is open or not told."""
    return bounds(edtf)[1] if edtf and edtf.strip() else None


def at_age(born: str, first_age: int, last_age: int | None = None) -> str:
    """When somebody was so old, as EDTF: born 1942, 12 → 1954/1955; born 1942-05-10, 12 → 1954-05-10/1955-05-09.

    `last_age`: the older of two ages ("nine or ten"). Raises BadInput where the birth date is open.
    """
    lower, upper = bounds(born)
    if lower is None or upper is None:
        raise _bad(born)
    start = years_later(lower, first_age)
    end = years_later(upper, (first_age if last_age is None else last_age) + 1) - timedelta(days=1)
    if lower == upper:
        return f"{start.isoformat()}/{end.isoformat()}"
    if (upper - lower).days <= 31:
        return f"{start:%Y-%m}/{end:%Y-%m}"
    return f"{start.year:04d}/{end.year:04d}"


def season(year: int, name: str) -> str:
    """A season of a year as EDTF; the winter of a year begins in its December: 1962 → 1962-12/1963-02."""
    number = SEASONS[name]
    return f"{year:04d}-12/{year + 1:04d}-02" if number == 24 else f"{year:04d}-{number}"


def part_of_decade(decade: int, part: str) -> str:
    """early, mid or late of a decade (1970) as EDTF: mid → 1974~/1976~ (project choice)."""
    first, last = {"early": (0, 3), "mid": (4, 6), "late": (7, 9)}[part]
    return f"{decade + first:04d}~/{decade + last:04d}~"
