"""Suggestions with what speaks for them, for whoever decides: the passage as this viewer may read it, and what to play."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from archive.db import units
from archive.db.session import Row
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, PlayStretch, ShownEvidence
from archive.domain.masking import under_masks
from archive.domain.values import Stretch, Viewer, Way
from archive.gate.names import around, to_play
from archive.gate.reading import Reading, Readings
from archive.gate.show import show_title, shown_tags


def seen(row: Row[Any]) -> str:
    """A mark of a suggestion's words and state: another one means that it is not what was shown."""
    told = repr((row.recording_id, row.start_ms, row.end_ms, row.kind, row.value, row.evidence, row.state))
    return hashlib.sha256(told.encode("utf-8")).hexdigest()[:16]


def show_evidence(readings: Readings, viewer: Viewer, rows: Sequence[Row[Any]], whole: bool = False) -> tuple[ShownEvidence, ...]:
    """These suggestions in their order, without those that this viewer may not read. `whole`: with the words of their passages."""
    held = {row.id: _passage(readings, row) for row in rows}
    near = readings.near([*held.values(), *(Stretch(r.recording_id, r.start_ms, r.end_ms) for r in rows)])
    found = (_evidence(near[row.recording_id], viewer, row, held[row.id], whole) for row in rows)
    return tuple(one for one in found if one is not None)


def _passage(readings: Readings, row: Row[Any]) -> Stretch:
    cuts = [p for p in units.passages(readings.connection, row.recording_id) if p.start_ms <= row.start_ms < p.end_ms]
    return Stretch(row.recording_id, cuts[-1].start_ms, cuts[-1].end_ms) if cuts else Stretch(row.recording_id, row.start_ms, row.end_ms)


def _evidence(reading: Reading, viewer: Viewer, row: Row[Any], passage: Stretch, whole: bool) -> ShownEvidence | None:
    tags = shown_tags(reading, viewer, [row])
    if not tags:
        return None
    playable = reading.open_pieces(viewer, TEAM, Way.VOICE)
    here = [(row.start_ms, row.end_ms)]
    lines = []
    for utterance in reading.overlapping(passage.start_ms, passage.end_ms) if whole else ():
        runs = [(w.text, hit) for run in reading.runs(utterance, viewer) for w, hit in zip(run.words, under_masks(run.words, here), strict=True)]
        if runs:
            speaker = utterance.speaker_id
            lines.append((reading.called(speaker, viewer) if speaker is not None else "", tuple(runs)))
    before, said, after = around(reading, viewer, Stretch(row.recording_id, row.start_ms, row.end_ms))
    heard = any(s <= passage.start_ms and passage.end_ms <= e for s, e in playable)
    return ShownEvidence(
        token=GATE_TOKEN, tag=tags[0], recording=reading.row.code, title=show_title(reading.readings, viewer, reading.recording_id),
        before=before, said=said, after=after, play=to_play(row.start_ms, row.end_ms, playable),
        passage=PlayStretch(passage.start_ms, passage.end_ms) if heard else None, lines=tuple(lines), seen=seen(row),
    )  # fmt: skip
