"""Events of the calendar in speech, and times told by them: before, after, the year of. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from archive.domain.dates import bounds
from archive.rules.calendar import Event, days_near, year_near
from archive.rules.numbers import cardinal
from archive.rules.spoken import Token
from archive.rules.told import Knowing, Told, read_year

AROUND = frozenset(("about", "around", "nearly", "almost", "maybe", "probably", "roughly"))
_DAYS = frozenset(("day", "days", "night", "morning", "evening"))
UNITS = {"year": 365, "years": 365, "month": 30, "months": 30, "week": 7, "weeks": 7} | dict.fromkeys(_DAYS, 1)


def read_event(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """An event by one of its names; not where another year follows it ("the flood of fifty-three")."""
    found = knowing.calendar.read(spoken, at)
    if found is None:
        return None
    event, length = found
    last = at + length - 1
    if last + 1 < len(spoken) and spoken[last + 1].text == "year" and not spoken[last].stop:
        edtf = year_near(event, 0)
        return Told(at, last + 1, edtf, "year of an event", f"{event.name} was {event.edtf}", 0.85) if edtf else None
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
    if spoken[at].text == "a" and at + 1 < len(spoken) and spoken[at + 1].text not in UNITS:
        return None
    number = cardinal(spoken, at)
    if spoken[at].text == "a" or (number and number.value):
        count = number.value if number else 1
        start = at + (number.length if number else 1)
    if start >= len(spoken) or spoken[start].text not in UNITS or spoken[start].stop:
        return None
    unit = spoken[start].text
    if number and not unit.endswith("s") and count != 1:
        return None
    about = at > 0 and spoken[at - 1].text in AROUND
    near = event_beside(spoken, start, knowing)
    if near:
        event, last, after = near
        sign = 1 if after else -1
        years = unit.startswith("year")
        edtf = year_near(event, sign * count) if years else days_near(event, sign * count * UNITS[unit], unit in _DAYS)
        if edtf is None:
            return None
        word = "after" if after else "before"
        why = f"{event.name} was {event.edtf}; {count} {unit} {word} it"
        return Told(at, last, edtf + ("~" if years and about else ""), f"{unit.rstrip('s')} {word} an event", why, 0.8)
    if unit not in ("year", "night", "day", "morning", "evening") or number:
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


def event_beside(spoken: Sequence[Token], at: int, knowing: Knowing) -> tuple[Event, int, bool] | None:
    """before / after and an event behind token `at`: (event, last token, is after)."""
    side = at + 1
    if side >= len(spoken) or spoken[side].text not in ("before", "after"):
        return None
    found = knowing.calendar.read(spoken, side + 1)
    if found is None:
        return None
    return found[0], side + found[1], spoken[side].text == "after"


def read_after_war(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "just after the war": which war is not said; 1945~/1947~ is only offered."""
    begin = at + 1 if spoken[at].text in ("just", "right", "soon", "shortly") else at
    texts = [t.text for t in spoken[begin : begin + 3]]
    if texts != ["after", "the", "war"] or knowing.recorded_on.year < 1947:
        return None
    return Told(at, begin + 2, "1945~/1947~", "after the war", "which war is not said", 0.2, offered=True)


def read_ago(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "thirty years ago", counted from the recording: about that year."""
    number = cardinal(spoken, at)
    last = at + number.length + 1 if number else at
    if knowing.recorded_on == date.max or number is None or number.value < 2 or [t.text for t in spoken[last - 1 : last + 1]] != ["years", "ago"]:
        return None
    year = knowing.recorded_on.year - number.value
    why = f"recorded {knowing.recorded_on.year}, {number.value} years before"
    return Told(at, last, f"{year:04d}~", "years ago", why, 0.5)
