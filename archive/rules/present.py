"""Times told from the day of recording: now, today, last year, ten years ago. Nothing where nobody wrote that day down. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from archive.domain.dates import SEASONS
from archive.rules.calendar import Event, season_near
from archive.rules.chains import shifted
from archive.rules.context import numeric, text_at
from archive.rules.nearby import AROUND, counted
from archive.rules.seasons import MONTHS, month_named
from archive.rules.spoken import Token, word_set
from archive.rules.told import Knowing, Told

FROM_RECORDING = "told from the recording"
_NOW = {
    ("nowadays",): 0.6, ("today",): 0.6, ("these", "days"): 0.6, ("as", "we", "speak"): 0.7, ("at", "the", "moment"): 0.5,
    ("at", "present"): 0.5, ("yesterday",): 0.6, ("this", "morning"): 0.4,
}  # fmt: skip
NOW_STARTS = frozenset(words[0] for words in _NOW) | {"now"}
_PRESENT = word_set(
    "is are am it's that's there's he's she's i'm we're they're you're has have i've we've they've you've there're where's here's can can't do don't "
    "does doesn't isn't aren't go goes live lives know want see call calls remember"
)
_PAST = word_set("was were had did went came said thought knew wasn't weren't hadn't didn't")
_TALK = word_set("recording telling talking speaking saying asking sitting")  # "we are recording now" tells of no time
_FIGURES = word_set("like as if was until till to and seems every or from")
_MINE = word_set("the my her his our their your its that very a")


def read_now(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "nowadays", "these days", "it's a car park now"; not "now, my father …", "every now and then", "I'm eighty-two now"."""
    if not knowing.dated:
        return None
    if spoken[at].text == "now":
        return _now(spoken, at, knowing)
    for words, sure in _NOW.items():
        last = at + len(words) - 1
        if tuple(t.text for t in spoken[at : last + 1]) == words and text_at(spoken, at - 1) not in _FIGURES:
            day = knowing.recorded_on - timedelta(days=1 if words == ("yesterday",) else 0)
            return Told(at, last, day.isoformat(), FROM_RECORDING, _recorded(knowing), sure)
    return None


def read_last(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "last year", "this year", "last summer", "last month", "last January"; not "her last year at school"."""
    if not knowing.dated or text_at(spoken, at - 1) in _MINE and not spoken[at - 1].stop:
        return None
    last, unit = spoken[at].text == "last", text_at(spoken, at + 1)
    if spoken[at].stop or text_at(spoken, at + 2) in ("of", "at") and not spoken[at + 1].stop:
        return None
    edtf, today = None, knowing.recorded_on
    if unit in ("year", "month"):
        edtf = f"{today.year:04d}" if unit == "year" else f"{today:%Y-%m}"
        edtf = shifted(edtf, -1, unit) if last else edtf
    elif unit in SEASONS and last:
        edtf = season_near(Event("", today.isoformat()), unit, after=False)
    elif unit in SEASONS:
        ended = season_near(Event("", (today + timedelta(days=92)).isoformat()), unit, after=False)
        edtf = ended if ended and knowing.came(ended) else None
    elif last and unit in MONTHS and (month := month_named(spoken, at + 1)):
        edtf = f"{today.year - (month >= today.month):04d}-{month:02d}"
    if edtf is None:
        return None
    return Told(at, at + 1, edtf, FROM_RECORDING, _recorded(knowing), 0.7)


def read_ago(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "thirty years ago", "a month ago", counted from the recording."""
    number = counted(spoken, at) if knowing.dated else None
    if number is None or text_at(spoken, number[2] + 1) != "ago" or spoken[number[2]].stop:
        return None
    count, unit, end, about = number
    today = knowing.recorded_on
    base = f"{today.year:04d}" if unit.startswith("year") else f"{today:%Y-%m}" if unit.startswith("month") else today.isoformat()
    edtf = shifted(base, -count, unit)
    if edtf is None:
        return None
    about = about or text_at(spoken, at - 1) in AROUND
    why = f"recorded {base}, {count} {unit} before"
    return Told(at, end + 1, edtf + ("~" if about else ""), f"{unit.rstrip('s')}s ago", why, 0.6)


def _recorded(knowing: Knowing) -> str:
    return f"recorded {knowing.recorded_on.isoformat()}"


def _now(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    if text_at(spoken, at + 1) in ("then", "and") and text_at(spoken, at + 2) in ("then", "again", "") or text_at(spoken, at + 1) == "then":
        return None
    before = text_at(spoken, at - 1)
    opens = spoken[at].opens or (at > 0 and bool(spoken[at - 1].stop))
    if spoken[at].opens and spoken[at].stop or before in ("by", "until", "till", "just", "every", "right", "up", "before", "even"):
        return None
    if opens or before in ("and", "but"):
        fits = not spoken[at].stop and text_at(spoken, at + 1) in _PRESENT or text_at(spoken, at + 2) in _PRESENT and not spoken[at].stop
    else:
        fits = _present_before(spoken, at)
    if not fits:
        return None
    return Told(at, at, knowing.recorded_on.isoformat(), FROM_RECORDING, _recorded(knowing), 0.4)


def _present_before(spoken: Sequence[Token], at: int) -> bool:
    """True where the clause before "now" is of the present and tells no age or year itself ("I'm eighty-two now")."""
    n = at - 1
    while n >= 0 and not spoken[n].stop and n > at - 9:
        if spoken[n].text in _PAST or spoken[n].text in _TALK:
            return False
        if spoken[n].text in _PRESENT:
            return not any(numeric(t.text) for t in spoken[n + 1 : at])
        n -= 1
    return False
