"""How a quote will stand: what its speaker is shown before they say yes, and what has come or changed since.

A yes given on a sheet is for exactly that. A line that comes or changes voids it; one that is gone does not (whoever read the sheet saw
more), so that a withdrawal or a quote set aside sends nobody a second sheet.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

from archive.db import reviews
from archive.domain.values import Way

if TYPE_CHECKING:
    from archive.gate.pinned import Pinned

# What each line is of, as it is told where it changed.
WORDS, UNDER, PANEL, SOUND, BESIDE = "its words", "the line under it", "its panel", "its sound", "what stands beside it"


def lines(pinned: Pinned, way: Way) -> tuple[tuple[str, str], ...]:
    """(of what it is, how it will stand) for this way: the words with their masks, the line under them, the panel, the pieces of sound
    and how each speaker wishes to be heard, every other quote on the panel."""
    found = [(WORDS, pinned.leaves_as()), (UNDER, " ".join(filter(None, (pinned.attribution(), pinned.translated_by() if pinned.translation else "")))), (PANEL, pinned.row.panel.strip())]
    if way == Way.VOICE:
        on, speakers = pinned.reading.context.on, frozenset(p for p in pinned.speakers() if p is not None)
        wishes = [s.wish_on(on).voice.value for s in pinned.reading.standings_of(speakers)]
        found.append((SOUND, json.dumps([pinned.pieces(), wishes])))
    return (*found, *((BESIDE, f"{other.approved_as} {other.attribution()}") for other in pinned.neighbours))


def marks(pinned: Pinned, way: Way) -> frozenset[str]:
    """A SHA-256 of each line: kept with the question, no words."""
    return frozenset(_mark(*line) for line in lines(pinned, way))


def changed(pinned: Pinned, way: Way, stood: frozenset[str]) -> tuple[str, ...]:
    """What came or changed since a sheet with these marks, in the order of the lines; () where nothing did."""
    return tuple(dict.fromkeys(what for what, how in lines(pinned, way) if _mark(what, how) not in stood))


def void_of(pinned: Pinned, use: str, way: Way) -> frozenset[int]:
    """Approvals of exactly this wording that do not count, because it stands otherwise now than on the sheet on which they were given."""
    given = reviews.stood(pinned.reading.connection, pinned.approved_as, use, way.value)
    if not given:
        return frozenset()
    now = marks(pinned, way)
    return frozenset(approval for approval, stood in given.items() if not now <= stood)


def _mark(what: str, how: str) -> str:
    return hashlib.sha256(f"{what}: {how}".encode("utf-8", "surrogatepass")).hexdigest()
