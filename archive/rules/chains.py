"""Times that are counted from the one told before, in this turn or an earlier one of the passage. Pure.

"In 1974 he lost his place. The year after, we lost the house." The farther back it was told, the less it is trusted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from archive.domain.dates import SEASONS, bounds, season
from archive.rules.calendar import Event, season_near
from archive.rules.context import text_at
from archive.rules.nearby import UNITS, counted
from archive.rules.seasons import month_named
from archive.rules.spoken import Token, word_set
from archive.rules.told import FROM_BIRTH, Knowing, Told

FARTHEST = 60  # tokens between the time told before and what is counted from it
_SAME_BREATH = 25
_STARTS_CLAUSE = word_set("we i they he she it you there my our dad mum father mother")
_JOINTS = word_set("and but then so")
_LATER = frozenset(("later", "on"))
_NEXT = frozenset(("next", "following"))


def read_chain(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "the year after, …", "three years later", "two years before that", "the next morning", "the following spring"."""
    read = _next(spoken, at) or _counted(spoken, at, knowing)
    if read is None:
        return None
    count, unit, last, about = read
    base = _base(spoken, at, knowing, FARTHEST)
    if base is None or _about_the_base(spoken, at, last, knowing):
        return None
    edtf = shifted(base.edtf, count, unit)
    if edtf is None or not knowing.came(edtf):
        return None
    mark = "~" if about and len(edtf) == 4 else ""
    return _told(at, last, edtf + mark, base, knowing, f"{abs(count)} {unit} {'after' if count > 0 else 'before'} it")


def read_unsaid_year(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "in the autumn she died", "by that December", "that summer": a season or month of the year told before."""
    name = spoken[at].text
    month = month_named(spoken, at)
    before = text_at(spoken, at - 1)
    if (at > 0 and spoken[at - 1].stop) or text_at(spoken, at + 1) in ("of", "before", "after") and not spoken[at].stop:
        return None
    that = before == "that"
    if not that and not (before == "in" and month) and not (before == "the" and text_at(spoken, at - 2) in ("in", "by", "come") and not month):
        return None
    near = _base(spoken, at, knowing, FARTHEST if that else _SAME_BREATH, same_breath=not that)
    far = None if near or not month else _base(spoken, at, knowing, FARTHEST)
    base = near or (far if far and "/" in far.edtf else None)  # "in May", told of a strike that lasted from March to June
    edtf = _within(base.edtf, name, month) if base else None
    if base is None or edtf is None or not knowing.came(edtf):
        return None
    return _told(at, at, edtf, base, knowing, "of that year")


def told_again(base: Told, count: int, unit: str, first: int, last: int, knowing: Knowing) -> Told | None:
    """So many units from what `base` was counted from itself: "the year after the flood, no, two years after"."""
    edtf = shifted(base.base, count, unit) if base.base else None
    if edtf is None or not knowing.came(edtf):
        return None
    given = base.reckoning if base.reckoning.startswith(FROM_BIRTH) else f"counted from {base.base}"
    return Told(first, last, edtf, base.rule, f"{given}, {abs(count)} {unit}", base.sure, base=base.base, from_ms=base.from_ms)


def elliptical(spoken: Sequence[Token], at: int) -> tuple[int, str, int] | None:
    """ "two years after", with what it is counted from left out: (count, unit, last token)."""
    number = counted(spoken, at)
    if number is None or text_at(spoken, number[2] + 1) not in ("after", "before", "later", "earlier"):
        return None
    sign = 1 if text_at(spoken, number[2] + 1) in ("after", "later") else -1
    return sign * number[0], number[1], number[2] + 1


def _told(first: int, last: int, edtf: str, base: Told, knowing: Knowing, how: str) -> Told:
    given = base.reckoning if base.reckoning.startswith(FROM_BIRTH) else f"told before: {base.edtf}"
    return Told(first, last, edtf, "counted from the time before", f"{given}; {how} → {edtf}", base.sure, base=base.edtf, from_ms=knowing.thread.last_ms)


def _base(spoken: Sequence[Token], at: int, knowing: Knowing, farthest: int, same_breath: bool = False) -> Told | None:
    """The time told before, less trusted the farther back; None where nothing near enough was told."""
    before = knowing.thread.before(at)
    if before is None or before[1] > farthest:
        return None
    time, gap = before
    if same_breath and (gap >= at or any(t.stop == "." for t in spoken[at - gap - 1 : at])):
        return None
    return replace(time, sure=min(time.sure, 0.7 if gap <= _SAME_BREATH else 0.5))


def _next(spoken: Sequence[Token], at: int) -> tuple[int, str, int, bool] | None:
    """ "the next year", "the following spring"."""
    if spoken[at].text != "the":
        return None
    start = at + 2 if text_at(spoken, at + 1) == "very" else at + 1
    unit = text_at(spoken, start + 1)
    if text_at(spoken, start) not in _NEXT or not (unit in SEASONS or unit in UNITS and not unit.endswith("s")):
        return None
    return 1, unit, start + 1, False


def _counted(spoken: Sequence[Token], at: int, knowing: Knowing) -> tuple[int, str, int, bool] | None:
    """ "three years later", "two years before that", "the year after", "the spring after that"."""
    the = spoken[at].text == "the"
    if the and (text_at(spoken, at + 1) in SEASONS or text_at(spoken, at + 1) in UNITS and not text_at(spoken, at + 1).endswith("s")):
        count, unit, end, about = 1, text_at(spoken, at + 1), at + 1, False
    else:
        number = counted(spoken, at)
        if number is None:
            return None
        count, unit, end, about = number
    side = text_at(spoken, end + 1)
    if spoken[end].stop or side not in ("after", "before", "later", "earlier", "on", "afterwards"):
        return None
    sign = -1 if side in ("before", "earlier") else 1
    last = end + 1
    if side in ("later", "earlier", "afterwards"):
        return sign * count, unit, last, about
    following = text_at(spoken, last + 1)
    if side == "on":
        return (count, unit, last, about) if spoken[last].stop else None
    if following == "that" and (spoken[last + 1].stop or text_at(spoken, last + 2) not in ("day", "night", "year")):
        return sign * count, unit, last + 1, about
    if spoken[last].stop or not following:
        return sign * count, unit, last, about
    joined = text_at(spoken, at - 1) in _JOINTS and sign > 0 and following in _STARTS_CLAUSE
    return (count, unit, last, about) if joined and _one_clause(spoken, last + 1) else None


def _one_clause(spoken: Sequence[Token], at: int) -> bool:
    """ "and the year after we got two rooms": what follows is what happened then, not what it is counted from."""
    end = at
    while end < len(spoken) and not spoken[end].stop:
        if spoken[end].text in ("born", "him", "her", "married"):
            return False
        end += 1
    return end >= len(spoken) or spoken[end].stop == "." or text_at(spoken, end + 1) in _JOINTS


def _about_the_base(spoken: Sequence[Token], at: int, last: int, knowing: Knowing) -> bool:
    """ "the flood took those, five years later.": the event told before is itself what came later."""
    before = knowing.thread.before(at)
    if before is None or before[0].rule != "event" or spoken[last].text not in ("later", "earlier", "afterwards") or spoken[last].stop != ".":
        return False
    return before[1] < at and not any(t.stop == "." or t.text in _JOINTS for t in spoken[at - before[1] : at])


def shifted(edtf: str, count: int, unit: str) -> str | None:
    """A time so many years, months, weeks, days or seasons on (or back: negative); None where it is too vague for that."""
    mark = edtf[-1] if edtf[-1] in "~?%" else ""
    core = edtf.rstrip("~?%")
    if "X" in core or ".." in core or core[0] in "[{":
        return None
    lower, upper = bounds(core)
    if lower is None or upper is None:
        return None
    anchor = upper if count > 0 else lower
    if not 100 < lower.year <= upper.year < 9900:
        return None
    kind = unit.rstrip("s")
    if kind in SEASONS:
        return season_near(Event("", core), kind, count > 0)
    if kind == "year":
        ends = core.split("/")
        if len(ends) == 2 and all(len(e) == 4 for e in ends) and upper.year - lower.year == 1:
            return f"{lower.year + count:04d}/{upper.year + count:04d}"  # a year of somebody's life
        return f"{anchor.year + count:04d}{mark}"
    known = len(core.split("/")[-1 if count > 0 else 0])
    if kind == "month" and known >= len("1968-01"):
        months = anchor.year * 12 + anchor.month - 1 + count
        return f"{months // 12:04d}-{months % 12 + 1:02d}{mark}"
    if known == len("1968-01-14") and kind not in ("year", "month"):
        return (anchor + timedelta(days=count * UNITS[unit])).isoformat() + mark
    return None


def _within(edtf: str, name: str, month: int | None) -> str | None:
    """A season or month of the year of a time told before; after the month that was told, where one was."""
    core = edtf.rstrip("~?%")
    if "X" in core or ".." in core or core[0] in "[{":
        return None
    lower, upper = bounds(core)
    if lower is None or upper is None or (upper - lower).days > 366:
        return None
    if month is None:
        if lower.year != upper.year:
            return None
        return season(lower.year, name)
    year = lower.year + (1 if len(core) == len("1968-01") and month < lower.month else 0)
    if "/" in core and not lower.month <= month <= upper.month:
        return None
    return f"{year:04d}-{month:02d}"
