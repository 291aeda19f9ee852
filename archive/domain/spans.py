"""A stretch of time as somebody types it into a question: EDTF, "1960s", "1959–1962", "1959 to 1962". Pure."""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from archive.domain.dates import bounds
from archive.errors import BadInput

_DECADE = re.compile(r"(?:the\s+)?([0-9]{3})0['’]?s", re.I)
_YEARS = re.compile(r"([0-9]{4})\s*(?:[-–—]|to|until)\s*([0-9]{4})", re.I)


class Span(NamedTuple):
    """First and last day, both inclusive, as ordinals of the calendar."""

    first: int
    last: int

    def overlaps(self, other: Span) -> bool:
        """True where both may mean the same day."""
        return self.first <= other.last and other.first <= self.last


@lru_cache(maxsize=20_000)
def span_of(edtf: str) -> Span:
    """The span of an EDTF date; an open end reaches for ever. Raises BadInput."""
    lower, upper = bounds(edtf)
    return Span((lower or date.min).toordinal(), (upper or date.max).toordinal())


def asked_span(typed: str) -> Span:
    """What somebody typed. Raises BadInput, which says how to write it."""
    text = " ".join(typed.split())
    decade, years = _DECADE.fullmatch(text), _YEARS.fullmatch(text)
    if decade:
        text = f"{decade[1]}X"
    elif years:
        text = f"{years[1]}/{years[2]}"
    try:
        return span_of(text)
    except BadInput as wrong:
        raise BadInput(wrong.message, "Write 1968, 1960s, 1959–1962, 1968-01, or a date as EDTF has it (196X, 1962-12/1963-02, ../1987).") from None
