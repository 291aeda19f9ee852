"""Spoken times as EDTF, each with its words, its rule and its reckoning. Suggestions only; the phrase is always kept.

A passage is read turn by turn, since a time may be counted from the one told before. Readers of single times are in
told.py, seasons.py, nearby.py, ages.py, lifetimes.py, chains.py, births.py and present.py; of ranges in ranges.py; here
they are put together, with what a person takes back (contrast.py) or hedges (hedges.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from archive.domain.dates import SEASONS, bounds, decades
from archive.domain.values import Word
from archive.rules.ages import AFTER_I, read_age, read_birthday, read_in_my, read_own_birth
from archive.rules.births import birth_told, read_beside_birth, read_kins_age
from archive.rules.calendar import Calendar, Event
from archive.rules.chains import elliptical, read_chain, read_unsaid_year, told_again
from archive.rules.contrast import correction, denied
from archive.rules.hedges import hedged
from archive.rules.lifetimes import SECOND_WORDS, read_school, read_service
from archive.rules.memory import BIRTH, own_birth, told_of
from archive.rules.nearby import UNITS, counted, read_after_war, read_event, read_near_event
from archive.rules.numbers import STARTS
from archive.rules.present import FROM_RECORDING, NOW_STARTS, read_ago, read_last, read_now
from archive.rules.ranges import (
    OPEN,
    RANGES,
    read_doubtful_pair,
    read_open,
    read_pair,
    read_range,
    read_two_years,
    time_in_range,
)
from archive.rules.seasons import FEAST_STARTS, MONTHS, read_feast, read_month, read_season, read_seasons_away
from archive.rules.spoken import Token, tokens
from archive.rules.suggestion import Suggestion, suggest
from archive.rules.told import PARTS, Knowing, Reader, Thread, Told, read_decade, read_part_of_year, read_year

__all__ = ["Event", "Turn", "dates_in_passage", "suggest_dates"]

_AGAIN = 4  # tokens: "sixty-eight was the year of the flood" tells one time


class Turn(NamedTuple):
    """What one person says in a piece, and when that person was born (EDTF) or None: then no ages are read."""

    words: Sequence[Word]
    born: str | None


def _beside_birth(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    return read_beside_birth(spoken, at, knowing, _single)


def _read_counted(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "ten years ago", "ten years before the bridge", "ten years later", "ten years after he was born"."""
    if counted(spoken, at) is None:
        return None
    found = [read(spoken, at, knowing) for read in (read_near_event, read_ago, read_chain, _beside_birth)]
    return max((t for t in found if t), key=lambda t: t.last, default=None)


_OF_NUMBERS: tuple[Reader, ...] = (
    _read_counted, read_seasons_away, read_month, read_decade, read_year, read_two_years, read_doubtful_pair,
)  # fmt: skip
_OF_OWN: tuple[Reader, ...] = (read_age, read_school, read_service)
# Which readings may begin with a word. Nearly all words begin none, and are passed over at once.
_READERS: tuple[tuple[frozenset[str], tuple[Reader, ...]], ...] = (
    (STARTS, _OF_NUMBERS),
    (frozenset(SEASONS), (read_season, read_unsaid_year)),
    (FEAST_STARTS, (read_feast,)),
    (frozenset(MONTHS), (read_month, read_unsaid_year)),
    (frozenset(("my",)), (read_birthday, read_school, read_service)),
    (frozenset(PARTS), (read_part_of_year, read_decade)),
    (frozenset(UNITS), (read_near_event,)),
    (frozenset(("a",)), (_read_counted,)),
    (frozenset(("the",)), (read_chain, _beside_birth, read_own_birth)),
    (frozenset(("i", "i'd")), _OF_OWN),
    (frozenset(("at", "aged", "as", "me", "we")), (read_age,)),
    (frozenset(("and",)), (read_age,)),
    (frozenset(("when",)), (read_age, read_kins_age)),
    (frozenset(("starting", "they", "doing")), (read_school, read_service)),
    (frozenset(("in", "into")), (read_in_my,)),
    (frozenset(("just", "right", "soon", "shortly", "after")), (read_after_war,)),
    (NOW_STARTS, (read_now,)),
    (frozenset(("last", "this")), (read_last,)),
)


# What must follow a word that is said too often to be looked at each time.
_SECOND: dict[str, frozenset[str]] = (
    dict.fromkeys(("in", "into"), frozenset(("my",)))
    | {
        "the": frozenset((*UNITS, *SEASONS, "next", "following", "very")),
        "a": frozenset((*UNITS, "couple")),
        "and": frozenset(("i",)),
        "we": frozenset(("were",)),
        "me": frozenset(("and",)),
        "they": frozenset(("called",)),
        "i": SECOND_WORDS | AFTER_I,
    }
)


def _by_word() -> dict[str, tuple[Reader, ...]]:
    found: dict[str, tuple[Reader, ...]] = {}
    for words, readers in _READERS:
        for word in words:
            found[word] = (*found.get(word, ()), *readers)
    return found


_BY_WORD = _by_word()


def suggest_dates(
    words: Sequence[Word], born: str | None, recorded_on: date, events: Sequence[Event] = ()
) -> list[Suggestion]:
    """The times that are told in these words, in order, without overlaps.

    `born`: the narrator's birth date (EDTF) or None: then no ages are read. `recorded_on`: date.max where it is not
    known. Raises BadInput where `born` is no EDTF.
    """
    return dates_in_passage([Turn(words, born)], recorded_on, events)


def dates_in_passage(turns: Sequence[Turn], recorded_on: date, events: Sequence[Event] = ()) -> list[Suggestion]:
    """The times that are told in a passage, turn by turn, in order. Word indices are those of the turn.

    Raises BadInput where a birth date is no EDTF.
    """
    calendar, thread = _calendar(tuple(events)), Thread()
    found: list[Suggestion] = []
    for turn in turns:
        born = turn.born.strip() if turn.born and turn.born.strip() else None
        if born:
            bounds(born)
        spoken = tokens(turn.words)
        found += _times(turn.words, spoken, Knowing(born, recorded_on, calendar, thread))
        thread.begun_at += len(spoken)
    return found


def _times(words: Sequence[Word], spoken: Sequence[Token], knowing: Knowing) -> list[Suggestion]:
    openers = _openers(knowing.calendar)
    found: list[Told] = []
    at = 0
    for start, token in enumerate(spoken):
        if start < at or not (token.text in openers or token.text[:1].isdigit()):
            continue
        time = None if _passed_over(spoken, start, knowing) else _read(spoken, start, knowing, at)
        if time is None:
            continue
        again = bool(found) and time.edtf == found[-1].edtf and time.first - at < _AGAIN
        if not again and not denied(spoken, time.first, time.last):
            found.append(time)
            _note(spoken, time, words, knowing)
        at = time.last + 1
    return [_suggestion(words, spoken, time) for time in _of_what(spoken, found)]


def _note(spoken: Sequence[Token], time: Told, words: Sequence[Word], knowing: Knowing) -> None:
    """Keep what may be counted from: a time told, and a birth."""
    start_ms = words[spoken[time.first].word].start_ms if time.from_ms is None else time.from_ms
    if time.rule != FROM_RECORDING:
        knowing.thread.told(time, start_ms)
    birth = birth_told(spoken, time, start_ms)
    if birth:
        knowing.thread.births.append(birth)


def _of_what(spoken: Sequence[Token], found: list[Told]) -> list[Told]:
    """The times of a turn, each with what it is told of where that is on record as well."""
    for n, time in enumerate(found):
        if own_birth(spoken, time):
            found[n] = replace(time, about=BIRTH)
        of = told_of(spoken, found[n - 1], found[n]) if n else None
        if of:
            this, other = (n, n - 1) if of[0] else (n - 1, n)
            found[this] = replace(found[this], about=of[1], reach=found[other].first if of[0] else found[other].last)
    return found


@lru_cache(maxsize=64)
def _calendar(events: tuple[Event, ...]) -> Calendar:
    return Calendar.of(events)


@lru_cache(maxsize=64)
def _openers(calendar: Calendar) -> frozenset[str]:
    """Every word that a time may begin with; all others are passed over at once."""
    return RANGES | OPEN | _BY_WORD.keys() | calendar.forms.keys()


def _passed_over(spoken: Sequence[Token], at: int, knowing: Knowing) -> bool:
    """True for a word that is said all the time and tells no time with the word after it."""
    second = _SECOND.get(spoken[at].text)
    if second is None or (at + 1 < len(spoken) and spoken[at + 1].text in second):
        return False
    return not knowing.calendar.may_begin(spoken, at)


def _suggestion(words: Sequence[Word], spoken: Sequence[Token], time: Told) -> Suggestion:
    """A time with its words. One that is counted from another reaches to the words of that one as well: what closes or
    hides those hides what follows from them."""
    made = suggest(
        "date", time.edtf, words, spoken[time.first].word, spoken[time.last].word,
        rule=time.rule, reckoning=time.reckoning, sure=time.sure,
        decades=() if time.offered else decades(time.edtf), about=time.about,
    )
    if time.from_ms is None and time.reach is None:
        return made
    start_ms = made.start_ms if time.from_ms is None else min(made.start_ms, time.from_ms)
    end_ms = made.end_ms
    if time.reach is not None:
        far = words[spoken[time.reach].word]
        start_ms, end_ms = min(start_ms, far.start_ms), max(end_ms, far.end_ms)
    return replace(made, start_ms=start_ms, end_ms=end_ms)


def _read(spoken: Sequence[Token], at: int, knowing: Knowing, floor: int) -> Told | None:
    """The longest time that begins at `at`, with ranges, corrections, hedges; before token `floor` all is read already."""
    opener = spoken[at].text
    if opener in RANGES or opener in OPEN:
        span = (read_range if opener in RANGES else read_open)(spoken, at, knowing, _single)
        if span:
            return span
    time = _single(spoken, at, knowing)
    if time is None:
        return None
    right = _corrected(spoken, time, knowing)
    if right:
        return right
    pair = read_pair(spoken, time, knowing, _single) if time.plain else None
    if pair:
        return pair
    return hedged(spoken, time, floor) if time.plain else time


def _corrected(spoken: Sequence[Token], first: Told, knowing: Knowing) -> Told | None:
    """ "in 67, no, 68", "the year after the flood, no, two years after": the last word counts."""
    at = correction(spoken, first.last)
    if at is None:
        return None
    short = elliptical(spoken, at) if first.base else None
    if short:
        second = told_again(first, short[0], short[1], at, short[2], knowing)
    else:
        second = time_in_range(spoken, at, knowing, _single)
    if second is None:
        return None
    pair = read_pair(spoken, second, knowing, _single) if second.plain else None
    second = pair or second
    if denied(spoken, first.first, first.last):
        return second  # "it wasn't 1974, more like 1975"
    why = f"{first.edtf} corrected to {second.edtf}"
    return replace(second, first=first.first, reckoning="; ".join(r for r in (second.reckoning, why) if r), plain=False)


def _readers(spoken: Sequence[Token], at: int, knowing: Knowing) -> tuple[Reader, ...]:
    text = spoken[at].text
    found = _OF_NUMBERS if text[:1].isdigit() else _BY_WORD.get(text, ())
    return (*found, read_event) if knowing.calendar.may_begin(spoken, at) else found


def _single(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    best: Told | None = None
    for reader in _readers(spoken, at, knowing) if at < len(spoken) else ():
        time = reader(spoken, at, knowing)
        if time and (best is None or time.last > best.last):
            best = time
    return best
