"""What is shown of stretches that somebody kept or compares, and of what the archive has by place and decade: part of the first door."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from archive.db.cells import Cell
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, PlayStretch, ShownCell, ShownPassage
from archive.domain.editing import least
from archive.domain.values import Stretch, Viewer, Way
from archive.gate.reading import Reading, Readings
from archive.gate.show import narrators_shown, sees_names, show_title, words_shown

FEW_UNNAMED = 3  # fewer people without a name than this are not told apart


def show_passages(readings: Readings, viewer: Viewer, stretches: Sequence[Stretch], doubtful_below: float) -> tuple[ShownPassage | None, ...]:
    """Each stretch as it may be read today; None where nothing in it may be, whatever the reason."""
    near = readings.near(stretches)
    return tuple(_passage(near[s.recording_id], viewer, s, doubtful_below) for s in stretches)


def _passage(reading: Reading, viewer: Viewer, stretch: Stretch, doubtful_below: float) -> ShownPassage | None:
    said = []
    for utterance in reading.overlapping(stretch.start_ms, stretch.end_ms):
        words = words_shown(reading, viewer, utterance, doubtful_below)
        inside = [w for w in words if w.start_ms < stretch.end_ms and stretch.start_ms < w.end_ms]
        if any(not w.closed for w in inside):
            said.append((utterance, inside))
    if not said:
        return None
    speakers = dict.fromkeys(u.speaker_id for u, _ in said)
    pieces = reading.open_pieces(viewer, TEAM, Way.VOICE)
    heard = [(max(s, stretch.start_ms), min(e, stretch.end_ms)) for s, e in pieces if s < stretch.end_ms and stretch.start_ms < e]
    return ShownPassage(
        token=GATE_TOKEN, recording=reading.row.code, title=show_title(reading.readings, viewer, reading.recording_id),
        start_ms=stretch.start_ms, end_ms=stretch.end_ms,
        speakers=tuple(reading.called(p, viewer) if p is not None else "speaker not assigned" for p in speakers),
        words=tuple(w for _, inside in said for w in inside), playable=tuple(PlayStretch(s, e) for s, e in heard),
        state=least(u.state for u, _ in said).value, verbatim=all(u.verbatim for u, _ in said),
    )  # fmt: skip


def show_cells(readings: Readings, viewer: Viewer, rows: Iterable[Mapping[int, Cell]]) -> tuple[tuple[ShownCell, ...], ...]:
    """Rows of cells, decade by decade. A reader is not told how many of fewer than three people without a name are heard."""
    named = narrators_shown(readings, viewer)
    return tuple(tuple(_cell(viewer, decade, cell, named) for decade, cell in row.items()) for row in rows)


def _cell(viewer: Viewer, decade: int, cell: Cell, named: frozenset[int]) -> ShownCell:
    unnamed = len(cell.people - named)
    hidden = not sees_names(viewer) and 0 < unnamed < FEW_UNNAMED
    return ShownCell(
        token=GATE_TOKEN, decade=decade, passages=cell.passages, ms=cell.ms, people=len(cell.people) - unnamed if hidden else len(cell.people),
        others=hidden, usable=cell.usable, usable_ms=cell.usable_ms,
    )  # fmt: skip


def apart(readings: Readings, viewer: Viewer, heard: Iterable[frozenset[int]]) -> tuple[frozenset[int], ...]:
    """Sets of people as this viewer may tell them from one another: to a reader all without a name are one (0)."""
    if sees_names(viewer):
        return tuple(heard)
    named = narrators_shown(readings, viewer)
    return tuple(frozenset(p if p in named else 0 for p in people) for people in heard)
