"""When something on record comes due: a seal's end, the look every five years at what ends by an event. Pure."""

from __future__ import annotations

from datetime import date

from archive.domain.agreements import ReleaseKind, Restraint
from archive.domain.dates import years_later

LOOK_AGAIN_YEARS = 5  # project choice: what stays closed until an event is looked at so often, and so is what stayed closed at its end


def look_on(hold: Restraint) -> date | None:
    """The day from which a hold is to be looked at: its end, or five years after it was made or looked at last where an event ends it or
    its end has passed. None: nothing ever says so. It opens nothing by itself."""
    looked = max((r.from_on for r in hold.releases if r.kind == ReleaseKind.KEPT), default=None)
    days = []
    if hold.until_on is not None:
        past = looked is not None and looked >= hold.until_on
        days.append(years_later(looked, LOOK_AGAIN_YEARS) if past and looked is not None else hold.until_on)
    if hold.event:
        days.append(years_later(looked or hold.from_on, LOOK_AGAIN_YEARS))
    return min(days, default=None)
