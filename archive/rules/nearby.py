"""Events of the calendar in speech, and times told by them: before, after, the year of. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from archive.domain.dates import bounds
from archive.rules.calendar import Event, days_near, month_near, year_near
from archive.rules.context import text_at
from archive.rules.memory import of_event
from archive.rules.numbers import cardinal
from archive.rules.spoken import Token
from archive.rules.told import Knowing, Told, read_year

AROUND = frozenset(("about", "around", "nearly", "almost", "maybe", "probably", "roughly"))
_DAYS = frozenset(("day", "days", "night", "morning", "evening"))
# "the strike ended", "the strike began": which end of an event is meant.
_EDGES = dict.fromkeys(("ended", "finished", "stopped"), "last") | dict.fromkeys(("began", "started"), "first")
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
        return Told(at, last + 1, edtf, "year of an event", f"{event.name} was {event.edtf}", 0.85, event=event.name) if edtf else None
    if last + 1 < len(spoken) and spoken[last + 1].text in ("of", "in") and not spoken[last].stop:
        other = read_year(spoken, last + 2, knowing, in_range=True)
        if other:
            same = _same_time(other.edtf, event.edtf)
            return _event_told(event, at, other.last) if same else replace(other, first=at, about=of_event(event))
    return _event_told(event, at, last)


def _event_told(event: Event, first: int, last: int) -> Told:
    return Told(first, last, event.edtf, "event", f"{event.name} = {event.edtf}", 0.85, event=event.name)


def _same_time(year: str, edtf: str) -> bool:
    lower, upper = bounds(edtf)
    return bool(lower and upper and lower.year <= int(year) <= upper.year)


def counted(spoken: Sequence[Token], at: int) -> tuple[int, str, int, bool] | None:
    """ "three years", "a month", "a couple of weeks": (how many, the unit, its token, whether it is only about so many)."""
    text, start, about = spoken[at].text, at + 1, False
    if text in ("a", "an"):
        count = 1
        if [t.text for t in spoken[start : start + 2]] == ["couple", "of"]:
            count, start, about = 2, start + 2, True
    else:
        number = cardinal(spoken, at)
        if number is None or not number.value:
            return None
        count, start = number.value, at + number.length
    if start >= len(spoken) or spoken[start].text not in UNITS or spoken[start - 1].stop:
        return None
    unit = spoken[start].text
    return (count, unit, start, about) if unit.endswith("s") == (count != 1) else None


def read_near_event(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the year after the flood", "ten years before the bridge", "the year the bridge opened"."""
    number = counted(spoken, at)
    bare = number is None and spoken[at].text in UNITS and not spoken[at].text.endswith("s")
    if bare:
        number = 1, spoken[at].text, at, False
    if number is None or spoken[number[2]].stop:
        return None
    count, unit, start, about = number
    near = event_beside(spoken, start, knowing)
    if near:
        event, last, after = near
        sign = 1 if after else -1
        years = unit.startswith("year")
        if years:
            edtf = year_near(event, sign * count)
        elif unit.startswith("month"):
            edtf = month_near(event, sign * count)
        else:
            edtf = days_near(event, sign * count * UNITS[unit])
        if edtf is None or not knowing.came(edtf):
            return None
        word = "after" if after else "before"
        why = f"{event.name} was {event.edtf}; {count} {unit} {word} it"
        mark = "~" if (about or text_at(spoken, at - 1) in AROUND) and edtf[-1] != "~" else ""
        return Told(at, last, edtf + mark, f"{unit.rstrip('s')} {word} an event", why, 0.8, base=event.edtf)
    if unit not in ("year", "night", "day", "morning", "evening") or not bare:
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
    return Told(at, begin + length - 1, edtf, f"{unit} of an event", f"{event.name} was {event.edtf}", 0.85, event=event.name)


def event_beside(spoken: Sequence[Token], at: int, knowing: Knowing) -> tuple[Event, int, bool] | None:
    """before / after and an event behind token `at`: (event, last token, is after)."""
    side = at + 1
    if side >= len(spoken) or spoken[side].text not in ("before", "after"):
        return None
    found = knowing.calendar.read(spoken, side + 1) or knowing.calendar.read_thing(spoken, side + 1)
    if found is None:
        return None
    last = side + found[1]
    edge = _EDGES.get(text_at(spoken, last + 1), "") if not spoken[last].stop else ""
    if edge:
        last += 1
    return found[0].edge(edge), last, spoken[side].text == "after"


def read_after_war(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "just after the war": which war is not said; 1945~/1947~ is only offered."""
    begin = at + 1 if spoken[at].text in ("just", "right", "soon", "shortly") else at
    texts = [t.text for t in spoken[begin : begin + 3]]
    if texts != ["after", "the", "war"] or knowing.recorded_on.year < 1947:
        return None
    return Told(at, begin + 2, "1945~/1947~", "after the war", "which war is not said", 0.2, offered=True)
