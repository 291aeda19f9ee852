"""What is closed together with speech that is held back: the title of its recording, counts of it, notes about it; and how that is said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from archive.db import describing
from archive.domain import editing
from archive.domain.editing import Progress
from archive.domain.phrases import closed_through
from archive.domain.reasons import PRIVATE, Reason, Why, last_day
from archive.domain.values import Role, Viewer
from archive.gate.reading import Reading, Readings
from archive.rules.analysis import analyse

CLOSED_TO_YOU = "closed to you today"  # no hold, but no permission either
NOT_AVAILABLE = "not available"  # what whoever is no keeper is told of a withdrawal, a pause or an objection
SHORTEST = 4  # letters of a title's word that can tell what was said


def is_held(readings: Readings, viewer: Viewer, recording_id: int) -> bool:
    """True where a hold keeps any of a recording from this viewer today. Whoever is keeper knows what they hold."""
    return bool(_kept_from(readings.of(recording_id), viewer))


def _kept_from(reading: Reading, viewer: Viewer) -> list[tuple[int, int, tuple[Reason, ...]]]:
    """What a hold keeps from this viewer; of a keeper only what is not for their account."""
    if viewer.role != Role.KEEPER:
        return reading.held_pieces(viewer)
    if not reading.readings.reach(viewer).people:
        return []
    return [piece for piece in reading.held_pieces(viewer) if any(r.code == Why.NOT_FOR_THIS_ACCOUNT for r in piece[2])]


def closed_words(reasons: Iterable[Reason]) -> str:
    """What is said of closed speech: “closed through 31 December 2039”, or “not available”, never who withdrew what."""
    holds = list(reasons)
    if any(r.code in PRIVATE for r in holds):
        return NOT_AVAILABLE
    ends = [r.opens_on for r in holds]
    known = [last_day(day) for day in ends if day is not None]
    return closed_through(max(known) if len(known) == len(ends) and known else None)


def why_closed(readings: Readings, viewer: Viewer, recording_id: int, gaps: Sequence[tuple[int, int]]) -> tuple[str, ...]:
    """Why each of these stretches (ms) is closed to this viewer, in words."""
    held = readings.of(recording_id).held_pieces(viewer)
    found = []
    for start_ms, end_ms in gaps:
        reasons = [r for s, e, some in held if s < end_ms and start_ms < e for r in some]
        found.append(closed_words(reasons) if reasons else CLOSED_TO_YOU)
    return tuple(found)


def title_closed(reading: Reading, viewer: Viewer, title: str) -> str:
    """What stands instead of a recording's title, "" where it may stand: none does where all of it is held back, nor one with a word that is
    said in what is held back alone."""
    if title and reading.roles.keys() & reading.readings.reach(viewer).people:
        return f"[{NOT_AVAILABLE}]"  # it may bear their name, though only others are heard in what is open
    held = _kept_from(reading, viewer) if title else []
    if not held:
        return ""
    told = f"[{closed_words(r for *_, some in held for r in some)}]"
    within = 0
    for start_ms, end_ms, _ in held:
        within += end_ms - start_ms
    if within >= reading.row.duration_ms:
        return told
    of_title = {s for e, s in zip(*_both(title), strict=True) if len(e) >= SHORTEST}
    secret = of_title & _said(reading, [(s, e) for s, e, _ in held])
    if not secret:
        return ""
    return told if secret - _said(reading, _outside(held, reading.row.duration_ms)) else ""


def _both(text: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    found = analyse(text)
    return found.exact, found.stem


def _said(reading: Reading, pieces: Sequence[tuple[int, int]]) -> set[str]:
    """The stems of what is said in these pieces (ms)."""
    reading.read_words(pieces)
    spoken = [w.text for s, e in pieces for u in reading.overlapping(s, e) for w in u.words if w.start_ms < e and s < w.end_ms]
    return set(_both(" ".join(spoken))[1])


def _outside(held: Sequence[tuple[int, int, object]], duration_ms: int) -> list[tuple[int, int]]:
    marks = [0, *(m for s, e, _ in held for m in (s, e)), duration_ms]
    return [(s, e) for s, e in zip(marks[::2], marks[1::2], strict=True) if e > s]


@dataclass(frozen=True, slots=True)
class OpenCounts:
    """How much of a recording there is for somebody who may not know of all of it."""

    words: int
    far: Progress
    suggestions: int


def open_counts(readings: Readings, viewer: Viewer, recording_id: int) -> OpenCounts | None:
    """Words, lines and suggestions of what no hold keeps from this viewer; None where none keeps anything, and all may be counted."""
    if not is_held(readings, viewer, recording_id):
        return None
    reading = readings.of(recording_id)
    held = _kept_from(reading, viewer)

    def is_open(start_ms: int, end_ms: int) -> bool:
        return not any(s < end_ms and start_ms < e for s, e, _ in held)

    outside = _outside(held, reading.row.duration_ms)
    reading.read_words(outside)
    lines = [u for s, e in outside for u in reading.overlapping(s, e)]
    lines = list({u.block_id: u for u in lines}.values())
    words = sum(is_open(w.start_ms, w.end_ms) for u in lines for w in u.words)
    waiting = [r for r in describing.tags_of(readings.connection, recording_id) if r.state == "suggested"]
    far = editing.progress((u.state, u.speaker_id is None, u.verbatim, 1) for u in lines)
    return OpenCounts(words, far, sum(is_open(r.start_ms, r.end_ms) for r in waiting))
