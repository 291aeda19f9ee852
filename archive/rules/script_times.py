"""Times as scripts write them. Pure."""

from __future__ import annotations

import re

MOST_MS = 2**31 - 1
CLOCK = r"(?:\d{1,3}:)?\d{1,2}:\d{2}(?:[.,]\d{1,3})?"
_PARTS = re.compile(r"(?:(\d{1,3}):)?(\d{1,2}):(\d{2})(?:[.,](\d{1,3}))?")
_SECONDS = re.compile(r"\d{1,9}(?:[.,]\d{1,9})?")


def clock_ms(text: str) -> int | None:
    """`1:02`, `1:02:03`, `01:02:03,4` as milliseconds; None where it is no time."""
    found = _PARTS.fullmatch(text.strip())
    if found is None:
        return None
    hours, minutes, seconds = int(found[1] or 0), int(found[2]), int(found[3])
    if seconds > 59 or (found[1] is not None and minutes > 59):
        return None
    return (hours * 3600 + minutes * 60 + seconds) * 1000 + int((found[4] or "0").ljust(3, "0"))


def time_ms(text: str) -> int | None:
    """A time as a clock or in seconds (`12.5`, `12,5`) as milliseconds; None where it is neither."""
    bare = text.strip()
    if _SECONDS.fullmatch(bare):
        found = round(float(bare.replace(",", ".")) * 1000)
        return found if found <= MOST_MS else None
    return clock_ms(bare)
