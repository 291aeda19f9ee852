"""Which place lies within which, and when. Pure.

A place may lie in one until some year and in another from then on (Linked Places format 1.3: relations carry time spans).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from archive.domain.dates import overlaps

Spans = tuple[str, ...]  # EDTF; a memory must touch every one of them
ALWAYS: tuple[Spans, ...] = ((),)


class Grounds:
    """The places of a gazetteer by name, as they lie within each other."""

    def __init__(self, within: Mapping[str, Sequence[tuple[str, str]]], same: Iterable[tuple[str, str]] = ()) -> None:
        """`within`: place → the places it lies in with the EDTF of when ("" at any time); `same`: pairs that are one ground under two names."""
        self._within = within
        self._inside: dict[str, list[tuple[str, str]]] = {}
        for name, others in within.items():
            for other, edtf in others:
                self._inside.setdefault(other, []).append((name, edtf))
        self._same: dict[str, list[str]] = {}
        for one, other in same:
            self._same.setdefault(one, []).append(other)
            self._same.setdefault(other, []).append(one)

    def around(self, name: str, dates: Sequence[str] = ()) -> tuple[str, ...]:
        """The places that a place lies within, nearest first; with `dates` (EDTF) those of that time. A circle ends where it began."""
        found: dict[str, None] = {}
        waiting = [name]
        while waiting:
            for other, edtf in self._within.get(waiting.pop(0), ()):
                if other != name and other not in found and touches(edtf, dates):
                    found[other] = None
                    waiting.append(other)
        return tuple(found)

    def inside(self, names: Iterable[str]) -> dict[str, tuple[Spans, ...]]:
        """Places, the same ground under other names, and all that lies within, at any depth: name → the times at which it does,
        any of which will do; `ALWAYS` where at any time."""
        found: dict[str, set[Spans]] = {}
        waiting: list[tuple[str, Spans]] = [(name, ()) for name in names]
        while waiting:
            name, spans = waiting.pop()
            known = found.setdefault(name, set())
            if any(set(other) <= set(spans) for other in known):
                continue  # it lies here at any of these times already; this also ends a circle
            known.add(spans)
            waiting += [(other, spans) for other in self._same.get(name, ())]
            for other, edtf in self._inside.get(name, ()):
                waiting.append((other, spans if not edtf or edtf in spans else (*spans, edtf)))
        return {name: ALWAYS if () in spans else tuple(sorted(spans)) for name, spans in found.items()}

    def circle(self, name: str) -> tuple[str, ...]:
        """The way from a place back to itself ("A", "B", "A"); () where there is none. Times do not matter: nothing lies in itself."""
        came_from: dict[str, str] = {}
        waiting = [name]
        while waiting:
            at = waiting.pop(0)
            for other, _ in self._within.get(at, ()):
                if other == name:
                    way = [name, at]
                    while way[-1] != name:
                        way.append(came_from[way[-1]])
                    return tuple(reversed(way)) if at != name else (name, name)
                if other not in came_from:
                    came_from[other] = at
                    waiting.append(other)
        return ()


def touches(edtf: str, dates: Sequence[str]) -> bool:
    """True where something of this time ("" any) may be meant by a memory of these dates; without dates always."""
    return not edtf or not dates or any(overlaps(edtf, d) for d in dates)
