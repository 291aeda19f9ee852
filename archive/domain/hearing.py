"""Heard by a person: which ticks stand for what is shown today, and whether what leaves is final. Pure.

A tick is for one checksum of what is shown and heard; with another one it counts for nothing. What is masked, unnamed or
disguised needs a second tick, by somebody else, after the first, for this very excerpt (what stands around it counts).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from archive.domain.letters import folded
from archive.domain.reasons import NOT_HEARD, NOT_HEARD_TWICE


@dataclass(frozen=True, slots=True)
class Tick:
    """Somebody said that they heard it. `by`: an account or a person's code; `at`: the moment, ISO 8601."""

    excerpt_id: int
    shown_sha256: str
    by: str
    at: str
    second: bool = False


@dataclass(frozen=True, slots=True)
class Hearing:
    """How an excerpt stands for one use. `hidden`: why a second person is needed, in sentences; () where none is.

    `before`: the newest tick that something changed since, where no tick stands.
    """

    shown_sha256: str
    hidden: tuple[str, ...] = ()
    first: Tick | None = None
    second: Tick | None = None
    before: Tick | None = None

    @property
    def draft_reason(self) -> str:
        """Why it leaves as a draft, in a sentence; "" where it is final."""
        if self.first is None:
            return NOT_HEARD
        return NOT_HEARD_TWICE if self.hidden and self.second is None else ""


def same_person(one: str, other: str) -> bool:
    """True where two names of accounts or codes are the same, however they are typed."""
    return " ".join(folded(one).split()) == " ".join(folded(other).split())


def standing(ticks: Sequence[Tick], excerpt_id: int, shown_sha256: str, hidden: tuple[str, ...]) -> Hearing:
    """What `ticks` (in their order) are worth for what is shown now."""
    now = [t for t in ticks if t.shown_sha256 == shown_sha256]
    first = next((n for n, t in enumerate(now) if not t.second), None)
    if first is None:
        return Hearing(shown_sha256, hidden, before=next((t for t in reversed(ticks) if not t.second), None))
    second = next(
        (t for t in now[first + 1 :] if t.second and t.excerpt_id == excerpt_id and not same_person(t.by, now[first].by)), None
    )
    return Hearing(shown_sha256, hidden, now[first], second)
