"""Reading one spoken time at a place in the words: years, decades, seasons, months, ages, events. Pure.

What each form means is the project's choice (CHECKS section 1); how much a reading is to be trusted is `sure`.
"""

from __future__ import annotations

import calendar as months_of
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from archive.domain.dates import SEASONS, at_age, bounds, part_of_decade, season
from archive.errors import BadInput
from archive.rules import context
from archive.rules.calendar import Calendar, Event, days_near, season_near, year_near
from archive.rules.numbers import STARTS, Number, cardinal, decade, full_year, ordinal, short_year
from archive.rules.spoken import Token, word_set

MONTHS = {m.lower(): n for n, m in enumerate(months_of.month_name) if m} | {
    "jan": 1, "feb": 2, "aug": 8, "sept": 9, "oct": 10, "nov": 11, "dec": 12, "christmas": 12,
}
PARTS = {"early": "early", "mid": "mid", "late": "late", "middle": "mid", "beginning": "early", "start": "early", "end": "late"}
SHORT = "year without its century"
_YEAR_PARTS = {"early": (1, 4), "mid": (5, 8), "late": (9, 12)}
_UNITS = {"year": 365, "years": 365, "month": 30, "months": 30, "week": 7, "weeks": 7, "day": 1, "days": 1, "night": 1}
_AGE_FILLERS = word_set("only just about still nearly almost barely maybe already around then probably all of")
_AROUND = frozenset(("about", "around", "nearly", "almost", "maybe", "probably", "roughly"))


@dataclass(frozen=True, slots=True)
class Told:
    """A time as read: tokens first..last, its EDTF, by which rule, how it was reckoned, how sure (0..1).

    `plain`: a year or decade as it stands, to which a hedge may be added; `offered`: too vague to be found by.
    """

    first: int
    last: int
    edtf: str
    rule: str
    reckoning: str = ""
    sure: float = 0.9
    plain: bool = False
    offered: bool = False


@dataclass(frozen=True)
class Knowing:
    """What is known beside the words: when the narrator was born (EDTF), when it was recorded, the calendar."""

    born: str | None
    recorded_on: date
    calendar: Calendar

    @property
    def born_year(self) -> int | None:
        """The first year in which the narrator may have been born."""
        if not self.born:
            return None
        lower, upper = bounds(self.born)
        known = lower or upper
        return known.year if known else None


Reader = Callable[[Sequence[Token], int, Knowing], Told | None]


def with_century(short: int, knowing: Knowing) -> tuple[int, str, float]:
    """The year that two digits mean: never after the recording, if possible after the birth, 19xx first."""
    possible = [y for y in (1900 + short, 2000 + short) if y <= knowing.recorded_on.year] or [1800 + short]
    born = knowing.born_year
    lived = [y for y in possible if born is None or y >= born]
    chosen = (lived or possible)[0]
    reckoning = f"recorded {knowing.recorded_on.year}"
    if born is not None:
        reckoning = f"born {born}, {reckoning}"
    sure = 0.85 if lived and len(lived) == 1 else 0.7
    if chosen >= 2000 or not lived:
        sure = 0.5
    return chosen, f"“{short:02d}” → {chosen} ({reckoning})", sure


def decade_of(value: int, knowing: Knowing) -> tuple[int, str]:
    """The decade that "the sixties" means: 19xx unless that ended before a narrator born since 1985."""
    if value >= 100:
        return value, ""
    first = 1900 + value
    born = knowing.born_year
    late = born is not None and born >= 1985 and first + 9 < born and 2000 + value <= knowing.recorded_on.year
    if first > knowing.recorded_on.year:
        first -= 100
    return (first + 100 if late else first), ""


def read_year(spoken: Sequence[Token], at: int, knowing: Knowing, in_range: bool = False) -> Told | None:
    """One year, in full or by its last two digits where the words around it say so."""
    number = full_year(spoken, at)
    if number:
        last = at + number.length - 1
        if number.value > knowing.recorded_on.year or not context.year_fits(spoken, at, last, number, in_range):
            return None
        return Told(at, last, f"{number.value:04d}", "year", sure=0.95, plain=True)
    short = short_year(spoken, at)
    if short is None or short.value > 99:
        return None
    last = at + short.length - 1
    if not context.short_year_fits(spoken, at, last, short, in_range):
        return None
    year, reckoning, sure = with_century(short.value, knowing)
    return Told(at, last, f"{year:04d}", SHORT, reckoning, sure, plain=True)


def read_decade(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """A decade or a part of one: "the sixties", "the mid-seventies", "the end of the 1960s"."""
    part, start = _part(spoken, at)
    number = decade(spoken, start)
    if number is None or context.someones_age(spoken, at):
        return None
    last = start + number.length - 1
    if number.spelled and number.value < 100 and not part and not context.article_before(spoken, at):
        return None
    first, reckoning = decade_of(number.value, knowing)
    if first > knowing.recorded_on.year:
        return None
    if part:
        return Told(at, last, part_of_decade(first, part), f"{part} in a decade", reckoning, 0.85)
    return Told(at, last, f"{first // 10:03d}X", "decade", reckoning, 0.9)


def read_part_of_year(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "early 1974", "the end of sixty-two" → four months of it, roughly."""
    part, start = _part(spoken, at)
    if not part:
        return None
    year = read_year(spoken, start, knowing, in_range=True)
    if year is None:
        return None
    first, last = _YEAR_PARTS[part]
    edtf = f"{year.edtf}-{first:02d}~/{year.edtf}-{last:02d}~"
    return Told(at, year.last, edtf, f"{part} in a year", year.reckoning, min(year.sure, 0.8))


def _part(spoken: Sequence[Token], at: int) -> tuple[str, int]:
    """early / mid / late and where the time itself begins; ("", at) where there is none."""
    if at >= len(spoken) or spoken[at].text not in PARTS or spoken[at].stop:
        return "", at
    long_form = spoken[at].text in ("middle", "beginning", "start", "end")
    following = at + 1
    if long_form and not (following < len(spoken) and spoken[following].text == "of"):
        return "", at
    while following < len(spoken) and spoken[following].text in ("of", "the", "to", "in", "or"):
        following += 1
    if following < len(spoken) and spoken[following].text in ("early", "mid", "late"):
        following += 1  # "the early to mid sixties": the first part decides
    return PARTS[spoken[at].text], following


def read_season(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the winter of sixty-two" (and -three) → 1962-12/1963-02; "summer 1968" → 1968-22; "the winter before the flood"."""
    name = spoken[at].text
    if name not in SEASONS or spoken[at].stop:
        return None
    near = _near_event(spoken, at, knowing)
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
        return None
    last = _second_year(spoken, year, knowing) if name == "winter" else year.last
    return Told(at, last, season(int(year.edtf), name), "season of a year", year.reckoning, year.sure)


def _second_year(spoken: Sequence[Token], year: Told, knowing: Knowing) -> int:
    """Where a winter names its second year too ("62-63", "sixty-two to sixty-three", "1962, 63"), the last token."""
    start = year.last + 1
    if start < len(spoken) and spoken[start].text in ("to", "into", "and"):
        start += 1
    following = read_year(spoken, start, knowing, in_range=True)
    return following.last if following and int(following.edtf) == int(year.edtf) + 1 else year.last


def read_month(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """A month of a year or a day of it: "January 1968", "the fourteenth of January sixty-eight", "January 14th, 1968"."""
    day = ordinal(spoken, at) or cardinal(spoken, at)
    start = at
    if day:
        start = at + day.length
        if start < len(spoken) and spoken[start].text == "of":
            start += 1
    month = _month(spoken, start)
    if month is None:
        return None
    following = start + 1
    if day is None:
        day, following = _day_after(spoken, following)
    if following < len(spoken) and spoken[following].text in ("of", "in"):
        following += 1
    year = read_year(spoken, following, knowing, in_range=True)
    if year is None or (day is None and following == start + 1 and _day_perhaps(spoken, year)):
        return None
    edtf = f"{year.edtf}-{month:02d}" + (f"-{day.value:02d}" if day else "")
    try:
        lower, _ = bounds(edtf)
    except BadInput:
        return None
    if lower is None or lower > knowing.recorded_on:
        return None
    return Told(at, year.last, edtf, "day" if day else "month", year.reckoning, year.sure)


def _month(spoken: Sequence[Token], at: int) -> int | None:
    if at >= len(spoken) or spoken[at].stop == ".":
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


def read_event(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """An event by one of its names; not where another year follows it ("the flood of fifty-three")."""
    found = knowing.calendar.read(spoken, at)
    if found is None:
        return None
    event, length = found
    last = at + length - 1
    if last + 1 < len(spoken) and spoken[last + 1].text in ("of", "in") and not spoken[last].stop:
        other = read_year(spoken, last + 2, knowing, in_range=True)
        if other:
            same = _same_time(other.edtf, event.edtf)
            return _event_told(event, at, other.last) if same else replace(other, first=at)
    return _event_told(event, at, last)


def _event_told(event: Event, first: int, last: int) -> Told:
    return Told(first, last, event.edtf, "event", f"{event.name} = {event.edtf}", 0.85)


def _same_time(year: str, edtf: str) -> bool:
    lower, upper = bounds(edtf)
    return bool(lower and upper and lower.year <= int(year) <= upper.year)


def read_near_event(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the year after the flood", "ten years before the bridge opened", "the year the bridge opened"."""
    count, start = 1, at
    if spoken[at].text == "a" and at + 1 < len(spoken) and spoken[at + 1].text not in _UNITS:
        return None
    number = cardinal(spoken, at)
    if spoken[at].text == "a" or (number and number.value):
        count = number.value if number else 1
        start = at + (number.length if number else 1)
    if start >= len(spoken) or spoken[start].text not in _UNITS or spoken[start].stop:
        return None
    unit = spoken[start].text
    if number and not unit.endswith("s") and count != 1:
        return None
    about = at > 0 and spoken[at - 1].text in _AROUND
    near = _near_event(spoken, start, knowing)
    if near:
        event, last, after = near
        sign = 1 if after else -1
        years = unit.startswith("year")
        edtf = year_near(event, sign * count) if years else days_near(event, sign * count * _UNITS[unit])
        if edtf is None:
            return None
        word = "after" if after else "before"
        why = f"{event.name} was {event.edtf}; {count} {unit} {word} it"
        return Told(at, last, edtf + ("~" if years and about else ""), f"{unit.rstrip('s')} {word} an event", why, 0.8)
    if unit not in ("year", "night", "day") or number:
        return None
    return _unit_of_event(spoken, at, start, unit, knowing)


def _unit_of_event(spoken: Sequence[Token], at: int, start: int, unit: str, knowing: Knowing) -> Told | None:
    """ "the year the bridge opened", "the night of the flood", "the same year as the strike"."""
    begin = start + 1
    while begin < len(spoken) and spoken[begin].text in ("of", "that", "when", "as"):
        begin += 1
    found = knowing.calendar.read(spoken, begin)
    if found is None:
        return None
    event, length = found
    edtf = year_near(event, 0) if unit == "year" else event.edtf
    if edtf is None:
        return None
    return Told(at, begin + length - 1, edtf, f"{unit} of an event", f"{event.name} was {event.edtf}", 0.85)


def _near_event(spoken: Sequence[Token], at: int, knowing: Knowing) -> tuple[Event, int, bool] | None:
    """before / after and an event behind token `at`: (event, last token, is after)."""
    side = at + 1
    if side >= len(spoken) or spoken[side].text not in ("before", "after"):
        return None
    found = knowing.calendar.read(spoken, side + 1)
    if found is None:
        return None
    return found[0], side + found[1], spoken[side].text == "after"


def read_age(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """The narrator's own age, where a birth date is known: "when I was ten", "at the age of ten I …", "aged ten"."""
    if not knowing.born:
        return None
    start = context.own_age_starts(spoken, at)
    if start is None:
        return None
    about = False
    while start < len(spoken) and spoken[start].text in _AGE_FILLERS:
        about = about or spoken[start].text in _AROUND
        start += 1
    number = cardinal(spoken, start)
    if number is None or not 3 <= number.value <= 99:
        return None
    last, older = start + number.length - 1, number.value
    if last + 2 < len(spoken) and spoken[last + 1].text in ("or", "to") and not spoken[last].stop:
        second = cardinal(spoken, last + 2)
        if second and number.value < second.value <= number.value + 5:
            last, older = last + 1 + second.length, second.value
    end = context.age_ends(spoken, last)
    if end is None:
        return None
    return _aged(at, end, number.value, older, about, knowing)


def _aged(first: int, last: int, age: int, older: int, about: bool, knowing: Knowing) -> Told | None:
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
    return Told(first, last, edtf, "own age", f"born {knowing.born}, aged {said} → {edtf}", 0.7 if about else 0.8)


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
    return Told(at, last, edtf, "own birthday", f"born {knowing.born} → {edtf}", 0.85)


def read_after_war(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "just after the war": which war is not said; 1945~/1947~ is only offered."""
    begin = at + 1 if spoken[at].text in ("just", "right", "soon", "shortly") else at
    texts = [t.text for t in spoken[begin : begin + 3]]
    if texts != ["after", "the", "war"] or knowing.recorded_on.year < 1947:
        return None
    return Told(at, begin + 2, "1945~/1947~", "after the war", "which war is not said", 0.2, offered=True)


_OF_NUMBERS: tuple[Reader, ...] = (read_near_event, read_month, read_decade, read_year)
_BY_WORD: dict[str, tuple[Reader, ...]] = (
    dict.fromkeys(STARTS, _OF_NUMBERS)
    | dict.fromkeys(SEASONS, (read_season,))
    | dict.fromkeys(MONTHS, (read_month,))
    | dict.fromkeys(PARTS, (read_part_of_year, read_decade))
    | dict.fromkeys((*_UNITS, "a"), (read_near_event,))
    | dict.fromkeys(("i", "i'd", "when", "at", "aged"), (read_age,))
    | dict.fromkeys(("just", "right", "soon", "shortly", "after"), (read_after_war,))
    | {"my": (read_birthday,)}
)


OPENERS = frozenset(_BY_WORD)


def readers(token: Token, knowing: Knowing) -> tuple[Reader, ...]:
    """What may begin with this token; nothing for nearly all words."""
    found = _OF_NUMBERS if token.text[:1].isdigit() else _BY_WORD.get(token.text, ())
    return (*found, read_event) if token.letters in knowing.calendar.forms else found
