"""The archive's calendar of events, found in speech by their names and turned into dates before and after. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from archive.domain.dates import bounds, season
from archive.domain.values import Word
from archive.rules.spoken import Token, tokens


@dataclass(frozen=True, slots=True)
class Event:
    """An event with its EDTF date and what else it is called ("the flood", "when the bridge opened")."""

    name: str
    edtf: str
    also: tuple[str, ...] = ()

    def edge(self, which: str) -> Event:
        """The event's "first" or "last" part alone ("the strike began"); itself for any other word."""
        first, slash, last = self.edtf.partition("/")
        if not slash or not which:
            return self
        return Event(self.name, first if which == "first" else last, self.also)


_Forms = dict[str, dict[str, tuple[tuple[tuple[str, ...], Event], ...]]]


@dataclass(frozen=True, eq=False)
class Calendar:
    """Events by the first two words of what they are called ("" where it is one word). Build it with `Calendar.of`."""

    forms: _Forms
    things: _Forms  # by what it happened to: "the bridge" of "the bridge opening"

    @staticmethod
    def of(events: Iterable[Event]) -> Calendar:
        """A calendar of these events; one whose date is open at both ends can't be told apart and is left out."""
        forms: dict[tuple[str, ...], Event] = {}
        things: dict[tuple[str, ...], Event] = {}
        for event in events:
            for text in (event.name, *event.also):
                parts = _bare(_parts(text))
                if parts:
                    forms.setdefault(parts, event)
            named = _parts(event.name)
            if len(named) > 2 and named[-1].endswith("ing"):
                things.setdefault(named[:-1], event)
        return Calendar(_by_words(forms), _by_words(things))

    def may_begin(self, spoken: Sequence[Token], at: int) -> bool:
        """False where no event's name begins with this token and the next."""
        seconds = self.forms.get(spoken[at].letters)
        return seconds is not None and ("" in seconds or (at + 1 < len(spoken) and spoken[at + 1].letters in seconds))

    def read(self, spoken: Sequence[Token], at: int) -> tuple[Event, int] | None:
        """The event that is named from token `at` on, and how many tokens its name takes."""
        return self._read(spoken, at, self.forms)

    def read_thing(self, spoken: Sequence[Token], at: int) -> tuple[Event, int] | None:
        """The event by what it happened to ("ten years before the bridge"), for use beside before and after alone."""
        return self._read(spoken, at, self.things)

    @staticmethod
    def _read(spoken: Sequence[Token], at: int, forms: _Forms) -> tuple[Event, int] | None:
        seconds = forms.get(spoken[at].letters) if at < len(spoken) else None
        if seconds is None:
            return None
        longer = seconds.get(spoken[at + 1].letters, ()) if at + 1 < len(spoken) else ()
        for parts, event in (*longer, *seconds.get("", ())):
            last = at + len(parts) - 1
            if last >= len(spoken) or any(t.stop for t in spoken[at:last]):
                continue
            if all(
                t.letters == p or (t is spoken[last] and t.text == p + "'s")
                for t, p in zip(spoken[at : last + 1], parts, strict=True)
            ):
                return event, len(parts)
        return None


def _by_words(named: dict[tuple[str, ...], Event]) -> _Forms:
    forms: dict[str, dict[str, list[tuple[tuple[str, ...], Event]]]] = {}
    for parts, event in sorted(named.items(), key=lambda f: -len(f[0])):
        second = parts[1] if len(parts) > 1 else ""
        owned = (second + "s",) if len(parts) == 2 else ()  # "the flood's"
        for word in (second, *owned):
            forms.setdefault(parts[0], {}).setdefault(word, []).append((parts, event))
    return {first: {second: tuple(found) for second, found in seconds.items()} for first, seconds in forms.items()}


def _bare(parts: tuple[str, ...]) -> tuple[str, ...]:
    """The event itself, without what tells a time by it: "the year the bridge opened" is read where it is spoken."""
    while len(parts) > 1:
        if parts[0] in ("when", "until", "till", "since", "before", "after"):
            parts = parts[1:]
        elif parts[:2] == ("the", "year") and len(parts) > 2:
            parts = parts[3:] if parts[2] in ("of", "when", "that") else parts[2:]
        else:
            break
    return parts


def _parts(text: str) -> tuple[str, ...]:
    return tuple(t.letters for t in tokens([Word(w, 0, 20) for w in text.split()]))


def year_near(event: Event, years: int) -> str | None:
    """The year so many years after the event ended, or before it began (negative)."""
    lower, upper = bounds(event.edtf)
    anchor = upper if years >= 0 else lower
    if anchor is None or not 1 <= anchor.year + years <= 9998:
        return None
    return f"{anchor.year + years:04d}"


def season_near(event: Event, name: str, after: bool) -> str | None:
    """The last whole season that ended before the event began, or the first that began after it had ended."""
    lower, upper = bounds(event.edtf)
    anchor = upper if after else lower
    if anchor is None or not _countable(anchor):
        return None
    years = range(anchor.year - 2, anchor.year + 3)
    spans = [(bounds(season(y, name)), season(y, name)) for y in (years if after else reversed(years))]
    for (first, last), edtf in spans:
        if first and last and (first > anchor if after else last < anchor):
            return edtf
    return None


def month_near(event: Event, months: int) -> str | None:
    """The month so many months before the event began (negative) or after it ended; None where only its year is known."""
    lower, upper = bounds(event.edtf)
    anchor = upper if months >= 0 else lower
    if anchor is None or not _countable(anchor) or len(_known(event, months)) < len("1968-01"):
        return None
    whole = anchor.year * 12 + anchor.month - 1 + months
    return f"{whole // 12:04d}-{whole % 12 + 1:02d}"


def days_near(event: Event, days: int) -> str | None:
    """So many days before the event began (negative) or after it ended: the day where that is known, else about the month
    (1974-07~)."""
    lower, upper = bounds(event.edtf)
    anchor: date | None = upper if days >= 0 else lower
    if anchor is None or not _countable(anchor):
        return None
    day = anchor + timedelta(days=days)
    return day.isoformat() if len(_known(event, days)) == len("1968-01-14") else f"{day:%Y-%m}~"


def _countable(anchor: date) -> bool:
    """True for a day from which a hundred years lie on the calendar on both sides."""
    return 100 < anchor.year < 9900


def _known(event: Event, count: int) -> str:
    """The end of an event that is counted from."""
    return event.edtf.split("/")[-1 if count >= 0 else 0]
