"""How times, days and numbers are said on the pages."""

from __future__ import annotations

import re
from datetime import date

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def clock(ms: int) -> str:
    """Milliseconds as a place on the recording's clock: 0:07, 12:05, 1:02:05."""
    seconds = max(0, ms) // 1000
    hours, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def lasting(ms: int) -> str:
    """Milliseconds as a length: 48 seconds, 3 min 20 s, 1 h 05 min."""
    seconds = round(max(0, ms) / 1000)
    if seconds < 60:
        return many(seconds, "second")
    if seconds < 3600:
        return f"{seconds // 60} min {seconds % 60:02d} s"
    return f"{seconds // 3600} h {seconds % 3600 // 60:02d} min"


def day(on: date | None) -> str:
    """A day as people write it: 2 May 2026; nothing where it is not known."""
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}" if on else ""


def begin(text: str) -> str:
    """The same text with a capital at its start; the rest is left as it is."""
    return text[:1].upper() + text[1:]


def many(number: int, one: str, more: str = "") -> str:
    """A number with its noun: no words, 1 word, 12 words."""
    noun = one if number == 1 else more or one + "s"
    return f"{number:,} {noun}" if number else f"no {more or one + 's'}"


# What somebody wished for, by the code it is on record with.
WISHES = {
    "full": "by their full name", "first": "by their first name", "initials": "by their initials",
    "pseudonym": "by a pseudonym", "unnamed": "unnamed",
    "as_recorded": "as recorded", "disguised": "disguised", "not_heard": "not to be heard",
    "wanted": "yes", "not_wanted": "no",
}  # fmt: skip


def wish(code: str) -> str:
    """A wish in words."""
    return WISHES.get(code, code.replace("_", " "))


_EDTF_DAY = re.compile(r"(\d{4}|\d{3}X)(?:-(\d{2}))?(?:-(\d{2}))?([~?%]?)", re.ASCII)
_SEASONS = {21: "spring", 22: "summer", 23: "autumn", 24: "winter"}
_HEDGES = {"~": "about ", "?": "perhaps ", "%": "perhaps about ", "": ""}


def told(edtf: str) -> str:
    """A date of the record (EDTF) as people say it: 14 January 1968 to 16 January 1968. What is not simple stays as it is."""
    first, _, last = edtf.partition("/")
    if ".." in (first, last):  # an open start or end
        said = _told_part(last if first == ".." else first)
        return f"{'until' if first == '..' else 'from'} {said}" if said else edtf
    parts = [_told_part(part) for part in ((first, last) if last else (first,))]
    return " to ".join(parts) if all(parts) else edtf


def _told_part(part: str) -> str:
    match = _EDTF_DAY.fullmatch(part)
    if match is None:
        return ""
    year, month, day_of, hedge = match.groups()
    year = f"the {year[:3]}0s" if year.endswith("X") else year
    number = int(month or 0)
    name = MONTHS[number - 1] if 1 <= number <= 12 else _SEASONS.get(number, "")
    if number and not name:
        return ""
    return _HEDGES[hedge] + " ".join(p for p in (str(int(day_of)) if day_of else "", name, year) if p)
