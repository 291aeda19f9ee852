"""Times with two ends, or with one: from … to, between, until, since, before, after; and years one after another. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from archive.domain.dates import bounds
from archive.errors import BadInput
from archive.rules import context
from archive.rules.hedges import near
from archive.rules.nearby import read_event
from archive.rules.numbers import short_year
from archive.rules.seasons import month_named
from archive.rules.spoken import Token
from archive.rules.told import FROM_BIRTH, SHORT, Knowing, Reader, Told, read_year, with_century

RANGES = frozenset(("from", "between"))
OPEN = frozenset(("until", "till", "til", "since", "before", "after", "up", "to"))
_TO = ("to", "till", "until", "til", "through", "right", "up")
_GOING = frozenset(("going", "lasted", "ran", "stayed", "open", "on", "worked", "carried", "hung"))
_POINTS = frozenset(("event", "own age", "own birth"))  # until these: up to their first part


def read_range(spoken: Sequence[Token], at: int, knowing: Knowing, single: Reader) -> Told | None:
    """ "from sixty-two to sixty-four", "between 1962 and 1964", "from March to June 1974", "from 1970 on"."""
    opener = spoken[at].text
    if spoken[at].stop:
        return None
    first = time_in_range(spoken, at + 1, knowing, single)
    if first is None:
        return _months_of_a_year(spoken, at, single, knowing)
    middle = first.last + 1
    if opener == "from" and middle < len(spoken) and spoken[middle].text in ("on", "onward", "onwards"):
        return replace(first, first=at, last=middle, edtf=f"{_start(first.edtf)}/..", rule="since …", plain=False)
    joints = ("and",) if opener == "between" else _TO
    if middle >= len(spoken) or spoken[middle].text not in joints:
        return None
    while spoken[middle].text in ("right", "up", "through") and middle + 1 < len(spoken):
        middle += 1
    second = time_in_range(spoken, middle + 1, knowing, single)
    if second is None and spoken[middle].text in ("till", "until", "til"):
        second = _time_in_clause(spoken, middle + 1, knowing)
    if second is None or (context.round_number(first.edtf, first.rule) and context.round_number(second.edtf, second.rule)):
        return None  # "between forty and fifty" is told of ages and wages more often than of years
    return _joined(first, second, at, opener)


def read_open(spoken: Sequence[Token], at: int, knowing: Knowing, single: Reader) -> Told | None:
    """ "until 1983" → ../1983; "since the flood" → its first day/..; "before the flood" → ../its first day, little trusted."""
    opener = spoken[at].text
    if spoken[at].stop:
        return None
    begin = at + 1
    if opener == "to":
        return _going_to(spoken, at, knowing)
    if opener == "up":
        if begin >= len(spoken) or spoken[begin].text not in ("to", "until", "till"):
            return None
        opener, begin = "until", begin + 1
    if opener in ("before", "after"):
        return _beside(spoken, at, opener, knowing)
    time = time_in_range(spoken, begin, knowing, single)
    if time is None:
        return None
    if time.rule == SHORT and opener != "since" and not context.time_after_until(spoken, time.first, time.last):
        return None
    if opener == "since":
        edtf = f"{_start(time.edtf)[:4] if time.rule == 'own age' else _start(time.edtf)}/.."
    else:
        edtf = f"../{_until(time)}"
    if not knowing.came(edtf):
        return None
    return Told(at, time.last, edtf, f"{opener} …", time.reckoning, time.sure - 0.1)


def time_in_range(spoken: Sequence[Token], at: int, knowing: Knowing, single: Reader) -> Told | None:
    """A time that a range begins or ends with; "the" before it is passed over, two digits need no more words."""
    start = at
    while start < len(spoken) and spoken[start].text in ("the", "about", "around", "when", "in"):
        start += 1
    if start >= len(spoken):
        return None
    options = [single(spoken, n, knowing) for n in range(at, start + 1)]
    options.append(read_year(spoken, start, knowing, in_range=True))
    read = [t for t in options if t]
    if not read:
        return None
    time = max(read, key=lambda t: t.last)
    return replace(time, edtf=time.edtf + "~") if time.plain and near(spoken, time.first) and time.first > at else time


def read_pair(spoken: Sequence[Token], first: Told, knowing: Knowing, single: Reader) -> Told | None:
    """What follows a time and belongs to it: its months, a second year, "to" and another time."""
    return _months_after(spoken, first) or _years_apart(spoken, first, knowing) or _to(spoken, first, knowing, single)


def read_two_years(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "I was apprentice at Lund's, 62 to 66.": two short years between two stops, the second later."""
    if at == 0 or not spoken[at - 1].stop or spoken[at - 1].text in context.NUMBERED:
        return None
    first = short_year(spoken, at)
    middle = at + first.length if first else at
    if first is None or context.text_at(spoken, middle) not in ("to", "till", "until"):
        return None
    second = short_year(spoken, middle + 1)
    last = middle + second.length if second else middle
    if second is None or not (first.value >= 20 and first.value < second.value <= 99) or not spoken[last].stop:
        return None
    (begun, why, sure), (ended, _, _) = with_century(first.value, knowing), with_century(second.value, knowing)
    edtf = f"{begun:04d}/{ended:04d}"
    if first.value % 10 == 0 and second.value % 10 == 0 or not 0 < ended - begun < 60:
        return None
    return Told(at, last, edtf, "from … to …", why, min(sure, 0.6))


def read_doubtful_pair(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "it was 58 or 59", where nothing is counted: two short years one after another."""
    first = short_year(spoken, at)
    if first is None or first.value < 20 or not context.said_to_be(spoken, at):
        return None
    middle = at + first.length
    second = short_year(spoken, middle + 1) if context.text_at(spoken, middle) == "or" else None
    if second is None or second.value != first.value + 1:
        return None
    last = middle + second.length
    if not context.short_year_fits(spoken, middle + 1, last, second, True):
        return None
    (one, why, _), (other, _, _) = with_century(first.value, knowing), with_century(second.value, knowing)
    return Told(at, last, f"[{one:04d}, {other:04d}]", "one year or another", why, 0.7) if other == one + 1 else None


def _joined(first: Told, second: Told, at: int, opener: str) -> Told | None:
    end = _last(second) if opener == "between" else _until(second)
    edtf = f"{_start(first.edtf)}/{end}"
    if not _valid(edtf):
        return None
    told = sorted((first.reckoning, second.reckoning), key=lambda r: not r.startswith(FROM_BIRTH))  # it begins so: readers are not told
    reckoning = "; ".join(filter(None, told))
    return Told(at, second.last, edtf, "from … to …", reckoning, min(first.sure, second.sure))


def _months_of_a_year(spoken: Sequence[Token], at: int, single: Reader, knowing: Knowing) -> Told | None:
    """ "from March to June 1974": the year belongs to both months."""
    month = month_named(spoken, at + 1)
    if month is None or spoken[at + 1].stop or context.text_at(spoken, at + 2) not in ("to", "till", "until", "and") or at + 3 >= len(spoken):
        return None
    second = single(spoken, at + 3, knowing)
    if second is None or second.rule != "month" or int(second.edtf[5:7]) <= month:
        return None
    return replace(second, first=at, edtf=f"{second.edtf[:4]}-{month:02d}/{second.edtf}", rule="from … to …", plain=False)


def _time_in_clause(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "till they took the name away in 1979": the year that the clause ends with."""
    for n in range(at, min(at + 9, len(spoken) - 1)):
        if spoken[n].stop:
            return None
        if spoken[n].text == "in":
            return read_year(spoken, n + 1, knowing)
    return None


def _going_to(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the yard kept going to 1991"."""
    if context.text_at(spoken, at - 1) not in _GOING or at + 1 >= len(spoken):
        return None
    year = read_year(spoken, at + 1, knowing)
    return Told(at, year.last, f"../{year.edtf}", "until …", year.reckoning, 0.6) if year and year.rule != SHORT else None


def _beside(spoken: Sequence[Token], at: int, side: str, knowing: Knowing) -> Told | None:
    """ "before the flood" → ../its first day; "after 1961" → 1961/..; "just before 1961" → 1960~. Little trusted."""
    if at + 1 >= len(spoken):
        return None
    event = read_event(spoken, at + 1, knowing)
    if event:
        edtf = f"../{_start(event.edtf)}" if side == "before" else f"{_last(event)}/.."
        return Told(at, event.last, edtf, f"{side} …", event.reckoning, 0.4) if knowing.came(edtf) else None
    year = read_year(spoken, at + 1, knowing)
    if year is None:
        return None
    number = int(year.edtf)
    close = at > 0 and spoken[at - 1].text in ("just", "shortly", "right", "soon")
    if close:
        edtf = f"{number - 1:04d}~" if side == "before" else f"{number:04d}~/{number + 1:04d}~"
    else:
        edtf = f"../{number:04d}" if side == "before" else f"{number:04d}/.."
    return Told(at, year.last, edtf, f"{side} …", year.reckoning, 0.5)


def _years_apart(spoken: Sequence[Token], first: Told, knowing: Knowing) -> Told | None:
    """Two years one after another: "1959 or 1960", "1962-63", "in sixty-two, sixty-three"; "71, 72, 73, one of those"."""
    if len(first.edtf) != 4 or first.last + 1 >= len(spoken):
        return None
    middle = first.last + 1
    joint = spoken[middle].text
    if joint in ("or", "to", "till", "until", "into") or (joint == "and" and first.rule == SHORT):
        middle += 1
    elif not (spoken[first.last].stop == "," or spoken[middle].word == spoken[first.last].word or spoken[middle].raw[0] in "-–"):
        return None
    if joint in ("or", "to", "into") and context.text_at(spoken, middle) in ("was", "in", "maybe", "perhaps", "possibly"):
        middle += 2 if spoken[middle].text == "was" else 1
    second = read_year(spoken, middle, knowing, in_range=True)
    if second is None:
        return None
    second = _same_century(first, second)
    earlier, later = int(first.edtf), int(second.edtf)
    if joint == "or" and 0 < abs(later - earlier) <= 10:
        both = ", ".join(sorted((first.edtf, second.edtf)))
        return Told(first.first, second.last, f"[{both}]", "one year or another", second.reckoning, 0.8)
    apart = joint in ("to", "till", "until", "into") or spoken[middle].word == spoken[first.last].word
    if not 0 < later - earlier <= (30 if apart else 1):
        return None
    return _joined(first, second, first.first, "from") if apart else _run(spoken, first, second, knowing)


def _run(spoken: Sequence[Token], first: Told, second: Told, knowing: Knowing) -> Told | None:
    """Years counted up, "71, 72, 73": all of them, or one of them where that is said."""
    while spoken[second.last].stop == ",":
        following = read_year(spoken, second.last + 1, knowing, in_range=True)
        if following is None or int(following.edtf) != int(second.edtf) + 1:
            break
        second = following
    after = second.last + 1
    if [t.text for t in spoken[after : after + 2]] == ["one", "of"]:
        every = ", ".join(f"{y:04d}" for y in range(int(first.edtf), int(second.edtf) + 1))
        return Told(first.first, min(after + 2, len(spoken) - 1), f"[{every}]", "one year or another", second.reckoning, 0.8)
    return _joined(first, second, first.first, "from")


def _months_after(spoken: Sequence[Token], year: Told) -> Told | None:
    """The month told after its year: "in sixty-eight, in January", "nineteen seventy-four, from March to June"."""
    at = year.last + 1
    if len(year.edtf) != 4 or at + 1 >= len(spoken) or spoken[year.last].stop == ".":
        return None
    months = [month_named(spoken, at + 1)]
    if spoken[at].text == "from" and at + 3 < len(spoken) and spoken[at + 2].text in ("to", "till", "until"):
        months.append(month_named(spoken, at + 3))
    elif spoken[at].text != "in":
        return None
    known = [m for m in months if m]
    if len(known) != len(months) or known != sorted(known):
        return None
    edtf = "/".join(f"{year.edtf}-{m:02d}" for m in known)
    rule = "month" if len(known) == 1 else "from … to …"
    return replace(year, last=at + 2 * len(known) - 1, edtf=edtf, rule=rule, plain=False)


def _to(spoken: Sequence[Token], first: Told, knowing: Knowing, single: Reader) -> Told | None:
    """ "1959 to when the bridge opened": a year and any other time, without "from" before it."""
    middle = first.last + 1
    if middle + 1 >= len(spoken) or spoken[first.last].stop == "." or spoken[middle].text not in ("to", "till", "until"):
        return None
    second = time_in_range(spoken, middle + 1, knowing, single)
    return _joined(first, second, first.first, "from") if second else None


def _same_century(first: Told, second: Told) -> Told:
    """ "1850-58": the second year takes the century of the first."""
    if second.rule != SHORT:
        return second
    year = int(first.edtf) // 100 * 100 + int(second.edtf) % 100
    return replace(second, edtf=f"{year:04d}") if year > int(first.edtf) else second


def _until(time: Told) -> str:
    """What "until" such a time ends with: an event's or an age's first part, the year of a birthday; else its last part."""
    if time.rule in ("own age", "own birth"):
        return _start(time.edtf)[:4]
    return _start(time.edtf) if time.rule in _POINTS else _last(time)


def _start(edtf: str) -> str:
    return edtf.strip("[]").partition("/")[0].partition(",")[0]


def _last(time: Told) -> str:
    return time.edtf.strip("[]").rpartition("/")[2].rpartition(", ")[2]


def _valid(edtf: str) -> bool:
    try:
        bounds(edtf)
    except BadInput:
        return False
    return True
