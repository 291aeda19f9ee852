"""What readers are not told of because of what it is called: places, themes, events that bear a withheld name."""

from __future__ import annotations

from typing import Any

from archive.db.session import Row
from archive.domain.letters import in_a_row, without_possessive
from archive.domain.quoting import text_tokens
from archive.gate.reading import Readings

Facets = dict[str, tuple[tuple[str, int], ...]]


def is_withheld(readings: Readings, text: str, place: bool = False) -> bool:
    """True where what a place, a theme or an event is called names somebody who is withheld: readers are not told of it. A place, too,
    where it is hidden like a name anywhere."""
    if readings.matcher.first_hit(text) is not None:
        return True
    tokens = [without_possessive(t) for t in text_tokens(text)] if place else []
    return place and any(in_a_row(tokens, other) for other in readings.hidden_places)


def tag_is_withheld(readings: Readings, kind: str, value: str) -> bool:
    """The same of the value of a tag."""
    return kind in ("place", "theme") and is_withheld(readings, value, place=kind == "place")


def names_somebody(readings: Readings, row: Row[Any]) -> bool:
    """True where a tag is of a place or theme that bears the name of somebody who is withheld, by whatever other name it was said."""
    return row.kind in ("place", "theme") and is_withheld(readings, row.value)


def open_counts(readings: Readings, counted: Facets) -> Facets:
    """Of what is counted the places and themes that readers may be told of, and all else."""
    return {kind: tuple((v, n) for v, n in some if not tag_is_withheld(readings, kind, v)) for kind, some in counted.items()}
