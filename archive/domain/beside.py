"""Several tellings side by side: where what they tell agrees, overlaps or differs. It compares values of tags, never who is right. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from archive.domain.dates import overlaps

Together = Callable[[str, str], bool]


class Agrees(StrEnum):
    """How those that tell something of a kind compare."""

    SAME = "same"
    OVERLAPS = "overlaps"
    DIFFERS = "differs"
    ONE = "one"  # only one of them tells anything of it
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Compared:
    """One kind of thing told. `told`: the values of each side, in their order; `apart`: pairs of sides (from 1) that share nothing."""

    kind: str
    agrees: Agrees
    told: tuple[tuple[str, ...], ...]
    apart: tuple[tuple[int, int], ...]


def compare(kind: str, told: Sequence[Iterable[str]], together: Together) -> Compared:
    """Compare what sides tell. The same: the very same values; overlaps: each two share a value, or have two that go `together`."""
    sides = [tuple(dict.fromkeys(values)) for values in told]
    telling = [n for n, values in enumerate(sides) if values]
    pairs = [(a, b) for n, a in enumerate(telling) for b in telling[n + 1 :]]
    apart = tuple((a + 1, b + 1) for a, b in pairs if not any(x == y or together(x, y) for x in sides[a] for y in sides[b]))
    if len(telling) < 2:
        agrees = Agrees.ONE if telling else Agrees.NOTHING
    elif apart:
        agrees = Agrees.DIFFERS
    else:
        agrees = Agrees.SAME if all(set(sides[a]) == set(sides[b]) for a, b in pairs) else Agrees.OVERLAPS
    return Compared(kind, agrees, tuple(sides), apart)


def same_time(one: str, other: str) -> bool:
    """True where two told dates (EDTF) may mean the same day."""
    return overlaps(one, other)


def within(outer: Mapping[str, str]) -> Together:
    """Whether of two places or themes one lies within the other. `outer`: each → what it lies directly within ("" or missing: nothing)."""

    def all_around(value: str) -> set[str]:
        found: set[str] = set()
        while value and value not in found:
            found.add(value)
            value = outer.get(value, "")
        return found

    return lambda one, other: one in all_around(other) or other in all_around(one)
