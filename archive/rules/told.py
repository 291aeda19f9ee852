"""What a spoken time is read as, and the reading of years and decades. Pure.

What each form means is the project's choice (CHECKS section 1); how much a reading is to be trusted is `sure`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from archive.domain.dates import bounds, part_of_decade
from archive.errors import BadInput
from archive.rules import context
from archive.rules.calendar import Calendar
from archive.rules.numbers import decade, full_year, short_year
from archive.rules.spoken import Token

PARTS = {
    "early": "early",
    "mid": "mid",
    "late": "late",
    "latter": "late",
    "middle": "mid",
    "beginning": "early",
    "start": "early",
    "end": "late",
}
SHORT = "year without its century"
FROM_BIRTH = "born "  # so begins every reckoning that gives a birth date away
_YEAR_PARTS = {"early": (1, 4), "mid": (5, 8), "late": (9, 12)}


@dataclass(frozen=True, slots=True)
class Told:
    """A time as read: tokens first..last, its EDTF, by which rule, how it was reckoned, how sure (0..1).

    `plain`: a year, decade, month or day as it stands, to which a hedge may be added; `offered`: too vague to be found
    by; `base`: the time from which it was counted, where it was ("the year after the flood").
    `from_ms`, `reach`: when that time was told in the passage, before (milliseconds) or in the same turn (a token): what
    closes or hides the one hides the other. `event`: the event of the calendar that it names; `about`: what it is told of
    (memory.py).
    """

    first: int
    last: int
    edtf: str
    rule: str
    reckoning: str = ""
    sure: float = 0.9
    plain: bool = False
    offered: bool = False
    base: str = ""
    from_ms: int | None = None
    reach: int | None = None
    event: str = ""
    about: str = ""


@dataclass(slots=True)
class Birth:
    """A birth that was told: when (EDTF), and the words of its clause ("our", "jean", "brother")."""

    edtf: str
    words: frozenset[str]
    from_ms: int


@dataclass(slots=True)
class Thread:
    """What was told before in a passage, turn after turn: the last time, how many tokens ago that was, and births."""

    last: Told | None = None
    last_at: int = 0  # tokens of the passage before the end of the last time
    last_ms: int = 0  # where the words begin that tell it
    begun_at: int = 0  # tokens of the passage before the present turn
    births: list[Birth] = field(default_factory=list)

    def told(self, time: Told, start_ms: int) -> None:
        """Note a time of the present turn."""
        self.last, self.last_at, self.last_ms = time, self.begun_at + time.last, start_ms

    def before(self, at: int) -> tuple[Told, int] | None:
        """The last time told before token `at` of the present turn, and how many tokens lie between."""
        return (self.last, self.begun_at + at - self.last_at - 1) if self.last else None


@dataclass(frozen=True)
class Knowing:
    """What is known beside the words: when the narrator was born (EDTF), when it was recorded, the calendar, and what was
    told before.

    `recorded_on` is date.max where nobody wrote it down: then no year is too late.
    """

    born: str | None
    recorded_on: date
    calendar: Calendar
    thread: Thread = field(default_factory=Thread)

    @property
    def dated(self) -> bool:
        """True where somebody wrote down when it was recorded."""
        return self.recorded_on != date.max

    def came(self, edtf: str) -> bool:
        """True for a date that is one and had begun by the day of recording."""
        try:
            lower, _ = bounds(edtf)
        except BadInput:
            return False
        return lower is None or lower <= self.recorded_on

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
    known = [f"born {born}"] if born is not None else []
    if knowing.dated:
        known.append(f"recorded {knowing.recorded_on.year}")
    reckoning = ", ".join(known) or "nothing known of the narrator"
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
    if value == 0:
        return 2000, ""  # "the noughties" are of this century
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
    if spoken[last].capital and context.a_house_of_that_name(spoken, last):
        return None
    first, reckoning = decade_of(number.value, knowing)
    if first > knowing.recorded_on.year:
        return None
    if part:
        return Told(at, last, part_of_decade(first, part), f"{part} in a decade", reckoning, 0.85)
    return Told(at, last, f"{first // 10:03d}X", "decade", reckoning, 0.9, plain=True)


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
    if following < len(spoken) and spoken[following].text == "part":
        following += 1
    if long_form and not (following < len(spoken) and spoken[following].text == "of"):
        return "", at
    if [t.text for t in spoken[following : following + 2]] == ["on", "in"]:
        following += 1  # "late on in the eighties"
    while following < len(spoken) and spoken[following].text in ("of", "the", "to", "in", "or"):
        following += 1
    if following < len(spoken) and spoken[following].text in ("early", "mid", "late"):
        following += 1  # "the early to mid sixties": the first part decides
    return PARTS[spoken[at].text], following
