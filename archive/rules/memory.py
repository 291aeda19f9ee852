"""Where what is told and what is on record do not agree: a told date beside the calendar of events, the birth date, and what
others tell of the same event. It is said, never corrected: memory is what the archive is for. Pure.

Of what a date is told is kept with it as one word: "event:the Sallow flood", "birth:", or "age:1948/1949" (the time at which
the narrator was as old as told in the same breath).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from archive.domain.dates import bounds
from archive.errors import BadInput
from archive.rules.spoken import Token, word_set

if TYPE_CHECKING:
    from archive.rules.calendar import Event
    from archive.rules.told import Told

EVENT, BIRTH, AGE = "event:", "birth:", "age:"
ABOUT_DAYS = 730  # "about 1967" does not disagree with 1968 or 1969 (project choice)
_MOST_BETWEEN = 7
_JOINING = word_set(
    "in of that was it it's on the year night back about i think with during came happened must have been be when at well then early late mid and "
    "around would it'd that'd you know we got had"
)
_OWN_AGE = "own age"
_FOLLOWING = (" an event", "…")


def of_event(event: Event) -> str:
    """What is kept with a date that is told of an event."""
    return EVENT + event.name


def told_of(spoken: Sequence[Token], first: Told, second: Told) -> tuple[bool, str] | None:
    """Of what one of two times is told, by the other: (whether it is the second that is told of the first, of what).

    "the flood, that was in sixty-seven", "I was ten in 1952"; None where they stand too far apart or are of two things.
    """
    between = spoken[first.last + 1 : second.first]
    if len(between) > _MOST_BETWEEN or any(t.text not in _JOINING for t in between) or any(t.stop == "." for t in spoken[first.last : second.first]):
        return None
    if first.event and _by_itself(second):
        return True, EVENT + first.event
    if second.event and _by_itself(first) and not (between and between[-1].text == "and"):
        return False, EVENT + second.event
    if first.rule == _OWN_AGE and _by_itself(second) and second.rule != _OWN_AGE:
        return True, AGE + first.edtf
    return None


def own_birth(spoken: Sequence[Token], time: Told) -> bool:
    """ "I was born on Net Row, in nineteen thirty-eight": a date told of the narrator's own birth."""
    if not _by_itself(time):
        return False
    at = time.first - 1
    while at >= 2 and at > time.first - 10 and spoken[at].stop != ".":
        if [t.text for t in spoken[at - 2 : at + 1]] == ["i", "was", "born"]:
            return True
        at -= 1
    return False


def _by_itself(time: Told) -> bool:
    """True for a time that is told without the calendar, the time told before or the day of recording."""
    return not (time.base or time.event or time.offered or ".." in time.edtf or time.rule.endswith(_FOLLOWING) or time.rule == "told from the recording")


def disagrees(told: str, record: str) -> bool:
    """True where two dates cannot mean the same day, what is told as "about" taken widely. False where either is none."""
    try:
        (begins, ends), (lower, upper) = _widely(told), _widely(record)
    except BadInput:
        return False
    apart = ends is not None and lower is not None and ends < lower
    return apart or (begins is not None and upper is not None and upper < begins)


def noted(told: str, record: str) -> str:
    """The date on record as it may be noted after a quote, no finer than what was told: 1967 beside 1968-01-14/1968-01-16 → 1968."""
    first = record.strip("[]").partition("/")[0].partition(",")[0].rstrip("~?%")
    length = len(told.partition("/")[0].rstrip("~?%"))
    return first[: 7 if length >= 7 and "X" not in told else 4] if first[:4].isdigit() else record


def _widely(edtf: str) -> tuple[date | None, date | None]:
    lower, upper = bounds(edtf)
    if "~" not in edtf and "%" not in edtf:
        return lower, upper
    wide = timedelta(days=ABOUT_DAYS)
    return (lower - wide if lower and lower.year > 2 else lower), (upper + wide if upper and upper.year < 9996 else upper)
