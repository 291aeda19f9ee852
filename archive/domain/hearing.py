"""Heard by a person: which ticks stand for what is shown today, and whether what leaves is final. Pure.

A tick is for one checksum of what is shown and heard; with another one it counts for nothing. What is masked, unnamed or
disguised needs a second tick after the first, for this very excerpt and for all that stands around it: by somebody else, and
typed in under another account, or both from a sheet that was signed on paper.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from archive.domain.letters import folded
from archive.domain.phrases import OWN_ACCOUNT
from archive.domain.reasons import AROUND_CHANGED, NOT_HEARD, NOT_HEARD_TWICE
from archive.domain.values import Part

TEAM_PARTS = frozenset((Part.INTERVIEWER, Part.INTERPRETER))
ONE_IS_ENOUGH = "Nothing in it is masked, unnamed or disguised: one listening is enough."
FIRST_IS_MISSING = "Somebody has to hear it against the sound first; then a second person listens."


@dataclass(frozen=True, slots=True)
class Tick:
    """Somebody said that they heard it. `by`: who listened, an account or a person's code; `at`: the moment, ISO 8601.

    `typed_by`: the account that typed it in, "" where that is not on record. `from_sheet`: it stood on a sheet. `around`: of a
    second tick, a mark of each line that was shown of what stands around it.
    """

    excerpt_id: int
    shown_sha256: str
    by: str
    at: str
    second: bool = False
    typed_by: str = ""
    from_sheet: bool = False
    around: frozenset[str] = frozenset()

    @property
    def who(self) -> str:
        """Who listened, and who typed it in where that was not the same: "I-01, typed in by E-01 from a sheet"."""
        if not self.typed_by:
            return self.by
        another = not same_person(self.by, self.typed_by)
        sheet = (" from a sheet" if another else ", from a sheet") if self.from_sheet else ""
        return self.by + (f", typed in by {self.typed_by}" if another else "") + sheet


@dataclass(frozen=True, slots=True)
class Hearing:
    """How an excerpt stands for one use. `hidden`: why a second person is needed, in sentences; () where none is.

    `firsts`: every first tick that stands, in order; `first`: the one that the second goes with, else the earliest.
    `before`: the newest tick that something changed since, where no tick stands. `moved`: the newest second tick that would
    stand, had nothing come or changed around the quote since.
    """

    shown_sha256: str
    hidden: tuple[str, ...] = ()
    firsts: tuple[Tick, ...] = ()
    first: Tick | None = None
    second: Tick | None = None
    before: Tick | None = None
    moved: Tick | None = None

    @property
    def draft_reason(self) -> str:
        """Why it leaves as a draft, in a sentence; "" where it is final."""
        if self.first is None:
            return NOT_HEARD
        if not self.hidden or self.second is not None:
            return ""
        return AROUND_CHANGED if self.moved is not None else NOT_HEARD_TWICE


def same_person(one: str, other: str) -> bool:
    """True where two names of accounts or codes are the same, however they are typed."""
    return " ".join(folded(one).split()) == " ".join(folded(other).split())


def of_the_team(parts: Collection[Part], adult_by: date | None, on: date) -> bool:
    """Whether somebody on record may be named as who listened without an account: whoever asks or interprets, and is of age.
    `adult_by`: their latest possible 18th birthday, None where it is not known."""
    return not TEAM_PARTS.isdisjoint(parts) and (adult_by is None or adult_by <= on)


def standing(
    ticks: Sequence[Tick], excerpt_id: int, shown_sha256: str, hidden: tuple[str, ...], around: frozenset[str] = frozenset()
) -> Hearing:
    """What `ticks` (in their order) are worth for what is shown now, with these marks of what stands around it.

    What stands around it no more voids nothing: the second person saw more than there is now.
    """
    now = [t for t in ticks if t.shown_sha256 == shown_sha256]
    firsts = tuple(t for t in now if not t.second)
    if not firsts:
        return Hearing(shown_sha256, hidden, before=next((t for t in reversed(ticks) if not t.second), None))
    pairs = [
        (first, second)
        for n, second in enumerate(now)
        if second.second and second.excerpt_id == excerpt_id
        for first in now[:n]
        if not first.second and _apart(first, second)
    ]
    for first, second in pairs:
        if around <= second.around:
            return Hearing(shown_sha256, hidden, firsts, first, second)
    return Hearing(shown_sha256, hidden, firsts, firsts[0], moved=pairs[-1][1] if pairs else None)


def _apart(first: Tick, second: Tick) -> bool:
    """Two people listened, and two accounts typed it; a sheet that both signed on paper may be typed in by one."""
    if same_person(first.by, second.by):
        return False
    return second.from_sheet or bool(first.typed_by and second.typed_by) and not same_person(first.typed_by, second.typed_by)


def why_not_second(hearing: Hearing, tick: Tick) -> str:
    """Why this cannot be the second tick of what is shown now, and what to do; "" where it can."""
    if not hearing.hidden:
        return ONE_IS_ENOUGH
    if not hearing.firsts:
        return FIRST_IS_MISSING
    if any(_apart(first, tick) for first in hearing.firsts):
        return ""
    others = [first for first in hearing.firsts if not same_person(first.by, tick.by)]
    if not others:
        return f"{tick.by} has heard it already. Somebody else has to listen now. {OWN_ACCOUNT}"
    if not any(first.typed_by for first in others):
        return f"That {others[0].by} listened was typed in by nobody on record. They have to listen and tick it once more."
    return (
        f"That {others[0].by} listened was typed in under the same account ({others[0].typed_by}). {OWN_ACCOUNT} "
        f"Or {others[0].by} ticks it once more under an account of their own."
    )


def may_tick_again(hearing: Hearing, tick: Tick) -> bool:
    """Whether a further first tick is of use: another listener or another account, where two are needed and none is second yet."""
    return (
        bool(hearing.hidden) and hearing.second is None
        and not any(same_person(f.by, tick.by) and same_person(f.typed_by, tick.typed_by) for f in hearing.firsts)
    )  # fmt: skip
