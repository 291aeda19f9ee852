"""The gate's own decision about an excerpt or a stretch, with the share of each person heard: for whoever asks why."""

from __future__ import annotations

from typing import Any

from archive.db.session import Row
from archive.domain import consent
from archive.domain.consent import Decision
from archive.domain.values import Stretch, Way
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings

TOGETHER = 0  # no person's id


def interpreters_of(readings: Readings, row: Row[Any]) -> frozenset[str]:
    """Codes of the interpreters whose words an excerpt quotes; empty where it quotes none."""
    return frozenset(readings.codes[p] for p in Pinned(readings, row).interpreters)


def of_stretch(readings: Readings, stretch: Stretch, use: str, way: Way) -> dict[int, Decision]:
    """person id → the decision if nobody but they were heard; `TOGETHER` → for all of them."""
    reading = readings.of(stretch.recording_id)
    heard = reading.people_in(stretch.start_ms, stretch.end_ms)
    piece = (stretch.start_ms, stretch.end_ms)
    return {TOGETHER: reading.decide(piece, heard, use, way, None)} | {p: reading.decide(piece, frozenset({p}), use, way, None) for p in sorted(heard)}


def of_excerpt(readings: Readings, row: Row[Any], use: str, way: Way) -> dict[int, Decision]:
    """The same for an excerpt; of each person the pieces in which they are heard."""
    pinned = Pinned(readings, row)
    pieces = pinned.asked_for(way)
    found = {TOGETHER: pinned.decide(use, way)}
    for person_id in sorted({p for _, heard in pieces for p in heard}):
        theirs = [pinned.decide_piece(piece, frozenset({person_id}), use, way) for piece, heard in pieces if person_id in heard]
        found[person_id] = consent.merge(theirs)
    return found
