"""Which places a question for a place is about: itself by any name, the same ground, and all that lies within, at the time that is told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from archive.db import gazetteer, search
from archive.db.session import Connection
from archive.rules.grounds import ALWAYS, Grounds, touches


class Ground:
    """The hierarchy of the gazetteer in one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._rows = gazetteer.places(connection)
        called = {r.id: r.name for r in self._rows}
        within = gazetteer.within(connection)
        self.names = [r.name for r in self._rows]
        self._grounds = Grounds(
            {r.name: [(called[w], edtf) for w, edtf in within.get(r.id, ())] for r in self._rows},
            [(r.name, called[r.same_as_id]) for r in self._rows if r.same_as_id is not None],
        )
        self._dates: list[str] | None = None
        self._touching: dict[tuple[str, ...], list[str]] = {}

    def called(self, name: str) -> list[str]:
        """The places that bear a name, whatever its capitals."""
        others, wanted = gazetteer.place_names(self._connection), name.casefold()
        return [r.name for r in self._rows if wanted in {r.name.casefold(), *(t.casefold() for t, _ in others.get(r.id, ()))}]

    def inside(self, names: Iterable[str]) -> dict[str, tuple[str, ...] | None]:
        """name → the dates told anywhere in the archive with which it lies within these; None where it always does."""
        found = self._grounds.inside(names)
        return {
            name: None if times == ALWAYS else tuple(sorted({d for spans in times for d in self._touched(spans)}))
            for name, times in sorted(found.items())
        }

    def _touched(self, spans: Sequence[str]) -> list[str]:
        """The dates told that touch every one of these times."""
        key = tuple(spans)
        if key not in self._touching:
            if self._dates is None:
                self._dates = search.dates_told(self._connection)
            self._touching[key] = [d for d in self._dates if all(touches(edtf, [d]) for edtf in spans)]
        return self._touching[key]
