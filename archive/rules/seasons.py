"""Spoken seasons, months and days. Pure."""

from __future__ import annotations

import calendar as months_of
from collections.abc import Sequence

from archive.domain.dates import SEASONS, bounds, season
from archive.errors import BadInput
from archive.rules.calendar import season_near, year_near
from archive.rules.nearby import event_beside
from archive.rules.numbers import Number, cardinal, full_year, ordinal
from archive.rules.spoken import Token
from archive.rules.told import SHORT, Knowing, Told, read_year

_SHORT_MONTHS = {"jan": 1, "feb": 2, "aug": 8, "sept": 9, "oct": 10, "nov": 11, "dec": 12, "christmas": 12}
MONTHS = {m.lower(): n for n, m in enumerate(months_of.month_name) if m} | _SHORT_MONTHS
_FEASTS = {
    ("christmas", "day"): (12, 25),
    ("christmas", "eve"): (12, 24),
    ("boxing", "day"): (12, 26),
    ("new", "year's", "eve"): (12, 31),
    ("new", "year's", "day"): (1, 1),
}
FEAST_STARTS = frozenset(words[0] for words in _FEASTS)


def read_season(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the winter of sixty-two" (and -three) → 1962-12/1963-02; "summer 1968" → 1968-22; "the winter before the flood"."""
    name = spoken[at].text
    if name not in SEASONS or spoken[at].stop == ".":
        return None
    if spoken[at].stop:
        return _season_apart(spoken, at, knowing)
    near = event_beside(spoken, at, knowing)
    if near:
        event, last, after = near
        edtf = season_near(event, name, after)
        if edtf is None:
            return None
        word = "after" if after else "before"
        return Told(at, last, edtf, f"season {word} an event", f"{event.name} was {event.edtf}; {name} {word} it", 0.8)
    start = at + 1
    if start < len(spoken) and spoken[start].text in ("of", "in"):
        start += 1
    year = read_year(spoken, start, knowing, in_range=True)
    if year is None:
        return _season_of_event(spoken, at, start, knowing) or _season_said(spoken, at, knowing)
    last = _second_year(spoken, year, knowing) if name == "winter" else year.last
    return Told(at, last, season(int(year.edtf), name), "season of a year", year.reckoning, year.sure)


def _second_year(spoken: Sequence[Token], year: Told, knowing: Knowing) -> int:
    """Where a winter names its second year too ("62-63", "sixty-two to sixty-three", "1962, 63"), the last token."""
    start = year.last + 1
    if start < len(spoken) and spoken[start].text in ("to", "into", "and"):
        start += 1
    following = read_year(spoken, start, knowing, in_range=True)
    return following.last if following and int(following.edtf) == int(year.edtf) + 1 else year.last


def _season_apart(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "that winter, sixty-two": the year stands by itself after a comma."""
    year = read_year(spoken, at + 1, knowing, in_range=True)
    if year is None or not (spoken[year.last].stop or year.last + 1 == len(spoken)):
        return None
    return Told(at, year.last, season(int(year.edtf), spoken[at].text), "season of a year", year.reckoning, year.sure)


def _season_said(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the spring came, forty-seven that was": its year in the same breath, said to be that."""
    end = at + 1
    while end < at + 3 and end < len(spoken) and spoken[end].text in ("came", "it", "was", "that", "went") and not spoken[end].stop:
        end += 1
    if end >= len(spoken) or spoken[end].stop != "," or spoken[end].text not in ("came", "was", "it", "went"):
        return None
    year = read_year(spoken, end + 1, knowing, in_range=True)
    if year is None or [t.text for t in spoken[year.last + 1 : year.last + 3]] not in (["that", "was"], ["it", "was"], ["that", "would"]):
        return None
    return Told(at, year.last, season(int(year.edtf), spoken[at].text), "season of a year", year.reckoning, min(year.sure, 0.7))


def _season_of_event(spoken: Sequence[Token], at: int, start: int, knowing: Knowing) -> Told | None:
    """ "the spring of the strike": that season of the event's year."""
    found = knowing.calendar.read(spoken, start) if start == at + 2 else None
    edtf = year_near(found[0], 0) if found else None
    if found is None or edtf is None:
        return None
    why = f"{found[0].name} was {found[0].edtf}"
    return Told(at, start + found[1] - 1, season(int(edtf), spoken[at].text), "season of an event", why, 0.75)


def read_seasons_away(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "two winters before the flood"."""
    number = cardinal(spoken, at)
    start = at + number.length if number else at
    if number is None or not 1 <= number.value <= 20 or start >= len(spoken):
        return None
    name = spoken[start].text.removesuffix("s")
    near = event_beside(spoken, start, knowing) if name in SEASONS and not spoken[start].stop else None
    if near is None:
        return None
    event, last, after = near
    nearest = season_near(event, name, after)
    if nearest is None:
        return None
    year = int(nearest[:4]) + (number.value - 1) * (1 if after else -1)
    word = "after" if after else "before"
    why = f"{event.name} was {event.edtf}; {number.value} {name}s {word} it"
    return Told(at, last, season(year, name), f"season {word} an event", why, 0.7)


def read_feast(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "Boxing Day 1962", "Christmas Eve of sixty-two", "New Year's Eve 1962": fixed days of a year."""
    for said, (month, day) in _FEASTS.items():
        start = at + len(said)
        if tuple(t.text for t in spoken[at:start]) == said:
            if start < len(spoken) and spoken[start].text in ("of", "in"):
                start += 1
            year = read_year(spoken, start, knowing, in_range=True)
            if year:
                edtf = f"{year.edtf}-{month:02d}-{day:02d}"
                return Told(at, year.last, edtf, "day", year.reckoning, year.sure)
    return None


def read_month(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """A month of a year or a day of it: "January 1968", "the fourteenth of January sixty-eight", "January 14th, 1968"."""
    day = ordinal(spoken, at) or cardinal(spoken, at)
    start = at
    if day:
        start = at + day.length
        if start < len(spoken) and spoken[start].text == "of":
            start += 1
    month = month_named(spoken, start)
    if month is None or spoken[start].stop == ".":
        return None
    following = start + 1
    if day is None:
        day, following = _day_after(spoken, following)
    if following < len(spoken) and spoken[following].text in ("of", "in"):
        following += 1
    year = read_year(spoken, following, knowing, in_range=True)
    if year is None and day is None and following == start + 2:
        return _month_of_event(spoken, at, following, month, knowing)
    if year is None or (day is None and following == start + 1 and _day_perhaps(spoken, year)):
        return None
    edtf = f"{year.edtf}-{month:02d}" + (f"-{day.value:02d}" if day else "")
    try:
        lower, _ = bounds(edtf)
    except BadInput:
        return None
    if lower is None or lower > knowing.recorded_on:
        return None
    return Told(at, year.last, edtf, "day" if day else "month", year.reckoning, year.sure, plain=True)


def _month_of_event(spoken: Sequence[Token], at: int, start: int, month: int, knowing: Knowing) -> Told | None:
    """ "the January of the flood": that month of the event's year."""
    found = knowing.calendar.read(spoken, start)
    year = year_near(found[0], 0) if found else None
    if found is None or year is None:
        return None
    why = f"{found[0].name} was {found[0].edtf}"
    return Told(at, start + found[1] - 1, f"{year}-{month:02d}", "month of an event", why, 0.75)


def month_named(spoken: Sequence[Token], at: int) -> int | None:
    """The month (1..12) that is named at a token; "may" and "march" in small letters are none."""
    if at >= len(spoken):
        return None
    token = spoken[at]
    if token.text in ("march", "may") and not token.capital:
        return None
    return MONTHS.get(token.text)


def _day_perhaps(spoken: Sequence[Token], year: Told) -> bool:
    """ "May 20" is a day without its year, not May 1920."""
    return year.rule == SHORT and int(year.edtf) % 100 <= 31 and "'" not in spoken[year.first].raw.replace("’", "'")


def _day_after(spoken: Sequence[Token], at: int) -> tuple[Number | None, int]:
    start = at + 1 if at < len(spoken) and spoken[at].text == "the" else at
    day = ordinal(spoken, start)
    if day is None:
        number = cardinal(spoken, start)
        after = start + number.length if number else start
        if number and number.value <= 31 and not number.marked and full_year(spoken, after):
            day = number
    return (day, start + day.length) if day else (None, at)
