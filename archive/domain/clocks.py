"""What speaks against the clock of a recorder. Pure: today is an argument.

A clock that nobody doubts is still only what the recorder says: the day of a recording is what a person said.
"""

from __future__ import annotations

from datetime import date, timedelta

from archive.domain.phrases import day as told_day

# Days from which clocks count when nobody set them: MP4's and Unix's first day, FAT's, that of satellite time, and the turn of
# the century (ISO/IEC 14496-12, POSIX, FAT: from memory; the last: common practice, no source). A month of counting on is allowed for.
STARTS = (date(1904, 1, 1), date(1970, 1, 1), date(1980, 1, 1), date(1980, 1, 6), date(2000, 1, 1))
COUNTED_ON = timedelta(days=31)
FIRST_MACHINE = date(1997, 7, 1)  # EBU Tech 3285 was first published in July 1997: no file with a `bext` chunk is older
AHEAD = timedelta(days=1)  # a clock of another time zone may be a day ahead


def doubt(day: str, time: str, today: date) -> str:
    """Why this day cannot be right, in a sentence; "" where nothing speaks against it. `day`, `time`: 2024-05-12, 14:03:07."""
    if not day:
        return ""
    said = date.fromisoformat(day)
    if any(start <= said < start + COUNTED_ON for start in STARTS) or (said.month, said.day, time[:2]) == (1, 1, "00"):
        return f"Its clock said {told_day(said)}: clocks start there when nobody sets them."
    if said < FIRST_MACHINE:
        return f"Its clock said {told_day(said)}: that is before there were such recorders."
    if said > today + AHEAD:
        return f"Its clock said {told_day(said)}: that is still to come."
    return ""
