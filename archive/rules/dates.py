"""Spoken times as EDTF, each with its words, its rule and its reckoning. Suggestions only; the phrase is always kept.

Readers of single times are in told.py; here they are put together: ranges, "until" and "since", hedges, corrections.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import lru_cache

from archive.domain.dates import SEASONS, bounds, decades
from archive.domain.values import Word
from archive.errors import BadInput
from archive.rules import context
from archive.rules.ages import read_age, read_birthday
from archive.rules.calendar import Calendar, Event
from archive.rules.nearby import UNITS, read_after_war, read_ago, read_event, read_near_event
from archive.rules.numbers import STARTS
from archive.rules.seasons import (
    FEAST_STARTS,
    MONTHS,
    month_named,
    read_feast,
    read_month,
    read_season,
    read_seasons_away,
)
from archive.rules.spoken import Token, tokens
from archive.rules.suggestion import Suggestion, suggest
from archive.rules.told import PARTS, SHORT, Knowing, Reader, Told, read_decade, read_part_of_year, read_year

__all__ = ["Event", "suggest_dates"]

_HEDGES = frozenset(("about", "around", "round", "roughly", "circa", "approximately"))
_DOUBTS = frozenset(("maybe", "perhaps", "possibly"))
_UNSURE = ("must have been", "might have been", "could have been", "may have been", "i think it was", "i believe it was", "was it")
_RANGES = frozenset(("from", "between"))
_OPEN = frozenset(("until", "till", "til", "since", "before", "after", "up"))

_OF_NUMBERS: tuple[Reader, ...] = (read_near_event, read_seasons_away, read_ago, read_month, read_decade, read_year)
# Which readings may begin with a word. Nearly all words begin none, and are passed over at once.
_BY_WORD: dict[str, tuple[Reader, ...]] = (
    dict.fromkeys(STARTS, _OF_NUMBERS)
    | dict.fromkeys(SEASONS, (read_season,))
    | dict.fromkeys(FEAST_STARTS, (read_feast,))
    | dict.fromkeys(MONTHS, (read_month,))
    | {"christmas": (read_feast, read_month), "my": (read_birthday,)}
    | dict.fromkeys(PARTS, (read_part_of_year, read_decade))
    | dict.fromkeys((*UNITS, "a"), (read_near_event,))
    | dict.fromkeys(("i", "i'd", "when", "at", "aged", "as"), (read_age,))
    | dict.fromkeys(("just", "right", "soon", "shortly", "after"), (read_after_war,))
)


def suggest_dates(
    words: Sequence[Word], born: str | None, recorded_on: date, events: Sequence[Event] = ()
) -> list[Suggestion]:
    """The times that are told in these words, in order, without overlaps.

    `born`: the narrator's birth date (EDTF) or None: then no ages are read. `recorded_on`: date.max where it is not
    known. Raises BadInput where `born` is no EDTF.
    """
    knowing = Knowing(born.strip() if born and born.strip() else None, recorded_on, _calendar(tuple(events)))
    if knowing.born:
        bounds(knowing.born)
    spoken = tokens(words)
    openers = _openers(knowing.calendar)
    found: list[Suggestion] = []
    at = 0
    for start, token in enumerate(spoken):
        if start < at or not (token.text in openers or token.text[:1].isdigit()):
            continue
        time = _read(spoken, start, knowing)
        if time is None:
            continue
        if not _denied(spoken, time.first):
            found.append(_suggestion(words, spoken, time))
        at = time.last + 1
    return found


@lru_cache(maxsize=64)
def _calendar(events: tuple[Event, ...]) -> Calendar:
    return Calendar.of(events)


@lru_cache(maxsize=64)
def _openers(calendar: Calendar) -> frozenset[str]:
    """Every word that a time may begin with; all others are passed over at once."""
    return _RANGES | _OPEN | _BY_WORD.keys() | calendar.forms.keys()


def _suggestion(words: Sequence[Word], spoken: Sequence[Token], time: Told) -> Suggestion:
    return suggest(
        "date", time.edtf, words, spoken[time.first].word, spoken[time.last].word,
        rule=time.rule, reckoning=time.reckoning, sure=time.sure,
        decades=() if time.offered else decades(time.edtf),
    )


def _read(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """The longest time that begins at `at`, with ranges, corrections, hedges."""
    opener = spoken[at].text
    if opener in _RANGES or opener in _OPEN:
        span = _range(spoken, at, knowing) if opener in _RANGES else _open(spoken, at, knowing)
        if span:
            return span
    single = _single(spoken, at, knowing)
    if single is None:
        return None
    pair = _months_after(spoken, single) or _years_apart(spoken, single, knowing) or _until(spoken, single, knowing)
    if pair:
        return pair
    return _hedged(spoken, single) if single.plain else single


def _readers(token: Token, knowing: Knowing) -> tuple[Reader, ...]:
    found = _OF_NUMBERS if token.text[:1].isdigit() else _BY_WORD.get(token.text, ())
    return (*found, read_event) if token.letters in knowing.calendar.forms else found


def _single(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    best: Told | None = None
    for reader in _readers(spoken[at], knowing) if at < len(spoken) else ():
        time = reader(spoken, at, knowing)
        if time and (best is None or time.last > best.last):
            best = time
    return best


def _time_in_range(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """A time that a range begins or ends with; "the" before it is passed over, two digits need no more words."""
    start = at
    while start < len(spoken) and spoken[start].text in ("the", "about", "around", "when", "in"):
        start += 1
    if start >= len(spoken):
        return None
    options = [_single(spoken, n, knowing) for n in range(at, start + 1)]
    options.append(read_year(spoken, start, knowing, in_range=True))
    read = [t for t in options if t]
    return max(read, key=lambda t: t.last) if read else None


def _range(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "from sixty-two to sixty-four", "between 1962 and 1964", "from the strike until the bridge opened"."""
    opener = spoken[at].text
    if spoken[at].stop:
        return None
    first = _time_in_range(spoken, at + 1, knowing)
    if first is None:
        return None
    middle = first.last + 1
    if opener == "from" and middle < len(spoken) and spoken[middle].text in ("on", "onward", "onwards"):
        return replace(first, first=at, last=middle, edtf=f"{_start(first.edtf)}/..", rule="since …", plain=False)
    joints = ("and",) if opener == "between" else ("to", "till", "until", "til", "through", "right", "up")
    if middle >= len(spoken) or spoken[middle].text not in joints:
        return None
    while spoken[middle].text in ("right", "up", "through") and middle + 1 < len(spoken):
        middle += 1
    second = _time_in_range(spoken, middle + 1, knowing)
    if second is None or (context.round_number(first.edtf, first.rule) and context.round_number(second.edtf, second.rule)):
        return None  # "between forty and fifty" is told of ages and wages more often than of years
    return _joined(first, second, at, "from … to …")


def _joined(first: Told, second: Told, at: int, rule: str) -> Told | None:
    edtf = f"{_start(first.edtf)}/{_end(second.edtf)}"
    if not _valid(edtf):
        return None
    reckoning = "; ".join(r for r in (first.reckoning, second.reckoning) if r)
    return Told(at, second.last, edtf, rule, reckoning, min(first.sure, second.sure))


def _open(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "until 1983" → ../1983; "since the flood" → its end/..; "before the flood" → ../its day, little trusted."""
    opener = spoken[at].text
    if spoken[at].stop:
        return None
    begin = at + 1
    if opener == "up":
        if begin >= len(spoken) or spoken[begin].text not in ("to", "until", "till"):
            return None
        opener, begin = "until", begin + 1
    if opener in ("before", "after"):
        return _beside(spoken, at, opener, knowing)
    time = _time_in_range(spoken, begin, knowing)
    if time is None or (time.rule == SHORT and not context.time_after_until(spoken, time.first, time.last)):
        return None
    edtf = f"{_start(time.edtf)}/.." if opener == "since" else f"../{_end(time.edtf)}"
    if not _valid(edtf):
        return None
    return Told(at, time.last, edtf, f"{opener} …", time.reckoning, time.sure - 0.1)


def _beside(spoken: Sequence[Token], at: int, side: str, knowing: Knowing) -> Told | None:
    """ "before the flood" → ../its first day; "after 1961" → 1961/..; "just before 1961" → 1960~. Little trusted."""
    if at + 1 >= len(spoken):
        return None
    event = read_event(spoken, at + 1, knowing)
    if event:
        edtf = f"../{_start(event.edtf)}" if side == "before" else f"{_end(event.edtf)}/.."
        return Told(at, event.last, edtf, f"{side} …", event.reckoning, 0.4) if _valid(edtf) else None
    year = read_year(spoken, at + 1, knowing)
    if year is None:
        return None
    number = int(year.edtf)
    near = at > 0 and spoken[at - 1].text in ("just", "shortly", "right", "soon")
    if near:
        edtf = f"{number - 1:04d}~" if side == "before" else f"{number:04d}~/{number + 1:04d}~"
    else:
        edtf = f"../{number - 1:04d}" if side == "before" else f"{number:04d}/.."
    return Told(at, year.last, edtf, f"{side} …", year.reckoning, 0.5)


def _years_apart(spoken: Sequence[Token], first: Told, knowing: Knowing) -> Told | None:
    """Two years one after another: "1959 or 1960", "1962-63", "in sixty-two, sixty-three", "in 67, no, 68"."""
    if not first.plain or first.last + 1 >= len(spoken):
        return None
    middle = first.last + 1
    joint = spoken[middle].text
    corrected = joint == "no" and bool(spoken[first.last].stop)
    if corrected:
        middle += 1
        while middle < len(spoken) and spoken[middle].text in ("it", "was", "wait", "sorry", "i", "tell", "a", "lie", "in", "er"):
            middle += 1
    elif joint in ("or", "to", "till", "until", "into") or (joint == "and" and first.rule == SHORT):
        middle += 1
    elif not (spoken[first.last].stop == "," or spoken[middle].word == spoken[first.last].word or spoken[middle].raw[0] in "-–"):
        return None
    if joint in ("or", "to", "into") and middle < len(spoken) and spoken[middle].text in ("was", "in", "maybe"):
        middle += 2 if spoken[middle].text == "was" else 1
    second = read_year(spoken, middle, knowing, in_range=True)
    if second is None or len(first.edtf) != 4:
        return None
    second = _same_century(first, second)
    earlier, later = int(first.edtf), int(second.edtf)
    if corrected:
        return replace(second, first=first.first, reckoning=f"{first.edtf} corrected to {second.edtf}", plain=False)
    if joint == "or" and 0 < abs(later - earlier) <= 10:
        both = ", ".join(sorted((first.edtf, second.edtf)))
        return Told(first.first, second.last, f"[{both}]", "one year or another", second.reckoning, 0.8)
    near = 1 if joint not in ("to", "till", "until", "into") and spoken[middle].word != spoken[first.last].word else 30
    if not 0 < later - earlier <= near:
        return None
    return _joined(first, second, first.first, "years one after another")


def _months_after(spoken: Sequence[Token], year: Told) -> Told | None:
    """The month told after its year: "in sixty-eight, in January", "nineteen seventy-four, from March to June"."""
    at = year.last + 1
    if not year.plain or len(year.edtf) != 4 or at + 1 >= len(spoken) or spoken[year.last].stop == ".":
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


def _until(spoken: Sequence[Token], first: Told, knowing: Knowing) -> Told | None:
    """ "1959 to when the bridge opened": a year and any other time, without "from" before it."""
    middle = first.last + 1
    if not first.plain or middle + 1 >= len(spoken) or spoken[first.last].stop == ".":
        return None
    if spoken[middle].text not in ("to", "till", "until"):
        return None
    second = _time_in_range(spoken, middle + 1, knowing)
    return _joined(first, second, first.first, "from … to …") if second else None


def _same_century(first: Told, second: Told) -> Told:
    """ "1850-58": the second year takes the century of the first."""
    if second.rule != SHORT:
        return second
    year = int(first.edtf) // 100 * 100 + int(second.edtf) % 100
    return replace(second, edtf=f"{year:04d}") if year > int(first.edtf) else second


def _hedged(spoken: Sequence[Token], time: Told) -> Told:
    """ "about 1959", "1959 or so" → 1959~; "maybe 1959" → 1959?; both → 1959%."""
    first, last = time.first, time.last
    near = doubt = False
    before = [spoken[n].text if n >= 0 and not spoken[n].stop else "" for n in (first - 1, first - 2, first - 3, first - 4)]
    if before[0] in _HEDGES:
        near, first = True, first - 1
    elif before[0] == "in" and before[1] in _HEDGES:
        near, first = True, first - 2
    elif before[0] in _DOUBTS or (before[0] == "in" and before[1] in _DOUBTS):
        doubt = True
    after = [t.text for t in spoken[last + 1 : last + 3]]
    if after == ["or", "so"] or after == ["or", "thereabouts"] or after[:1] in (["ish"], ["thereabouts"]):
        near, last = True, last + (1 if after[0] != "or" else 2)
    if " ".join(reversed([b for b in before if b])).removesuffix(" in").endswith(_UNSURE):
        doubt = True
    if after == ["i", "think"] or after == ["was", "it"] or after == ["i", "believe"]:
        doubt = True
    mark = "%" if near and doubt else "~" if near else "?" if doubt else ""
    if not mark or len(time.edtf) != 4:
        return time
    return replace(time, first=first, last=last, edtf=time.edtf + mark, sure=time.sure - 0.1)


def _denied(spoken: Sequence[Token], first: int) -> bool:
    """ "that was not 1974", "it wasn't in 1974": nothing is suggested; "not until 1974" still tells a time."""
    for n in range(first - 1, max(-1, first - 4), -1):
        token = spoken[n]
        if token.stop:
            return False
        if [t.text for t in spoken[max(0, n - 3) : n + 1]] in (["don't", "think", "it", "was"], ["doubt", "if", "it", "was"]):
            return True
        if token.text in ("not", "wasn't", "weren't", "isn't", "never"):
            return spoken[first].text not in ("until", "till", "til", "since", "before") and n >= first - 2
        if token.text not in ("in", "the", "about", "around", "was"):
            return False
    return False


def _start(edtf: str) -> str:
    return edtf.strip("[]").partition("/")[0].partition(",")[0]


def _end(edtf: str) -> str:
    return edtf.strip("[]").rpartition("/")[2].rpartition(", ")[2]


def _valid(edtf: str) -> bool:
    try:
        bounds(edtf)
    except BadInput:
        return False
    return True
