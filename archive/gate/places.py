"""The gazetteer for people and for files. A place may bear the name of somebody who is hidden ("Lund's yard"): then it is for the team alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from archive.db import gazetteer
from archive.db.gazetteer import ALSO, HEARD, NOT
from archive.db.session import Connection, Row
from archive.domain.agreements import TEAM
from archive.domain.cleared import (
    GATE_TOKEN,
    ClearedGazetteer,
    ForbiddenName,
    PlayStretch,
    ShownGazetteer,
    ShownMisheard,
)
from archive.domain.placenames import Named, PlaceEntry
from archive.domain.values import Viewer, Way
from archive.gate.reading import Readings
from archive.gate.show import sees_names, shown_tags, words_around
from archive.gate.withheld import is_withheld

AROUND_MS = 2500


def show_gazetteer(readings: Readings, viewer: Viewer) -> ShownGazetteer:
    """Every place, for who may see names; for others those whose name names nobody who is withheld."""
    every = entries(readings.connection)
    if not sees_names(viewer):
        places, left_out = _open(readings, every)
        return ShownGazetteer(token=GATE_TOKEN, places=places, left_out=left_out)
    return ShownGazetteer(token=GATE_TOKEN, places=tuple(every), left_out=0)


def clear_gazetteer(readings: Readings) -> ClearedGazetteer:
    """The gazetteer as it may leave, whoever asks."""
    places, left_out = _open(readings, entries(readings.connection))
    return ClearedGazetteer(token=GATE_TOKEN, places=tuple(replace(p, not_heard=()) for p in places), left_out=left_out)


def forbidden_in_gazetteer(readings: Readings) -> tuple[ForbiddenName, ...]:
    """What the last scan looks for in a file of it: every name on record or hidden anywhere, and places that are hidden like names."""
    return (*readings.forbidden, *(ForbiddenName(" ".join(tokens)) for tokens in readings.hidden_places))


def entries(connection: Connection) -> list[PlaceEntry]:
    """The places as they are on record, in the order in which they came, whoever they name: for machinery and for who may see names."""
    rows = sorted(gazetteer.places(connection), key=lambda r: r.id)
    called = {r.id: r.name for r in rows}
    others, within = gazetteer.other_names(connection), gazetteer.within(connection)
    return [
        PlaceEntry(
            r.id, r.name, r.kind, r.language, tuple(Named(o.text, o.edtf, o.language) for o in others.get(r.id, ()) if o.kind == ALSO),
            tuple(o.text for o in others.get(r.id, ()) if o.kind == HEARD), tuple(Named(called[w], edtf) for w, edtf in within.get(r.id, ())),
            r.valid_from or "", r.valid_until or "", called.get(r.same_as_id, ""), r.x_m, r.y_m, r.latitude, r.longitude,
            tuple(o.text for o in others.get(r.id, ()) if o.kind == NOT),
        )
        for r in rows
    ]  # fmt: skip


class Withheld:
    """Which words name somebody who is withheld, though they are a place's."""

    def __init__(self, readings: Readings) -> None:
        self._readings = readings

    def __contains__(self, text: str) -> bool:
        return is_withheld(self._readings, text, place=True)


def _open(readings: Readings, every: Sequence[PlaceEntry]) -> tuple[tuple[PlaceEntry, ...], int]:
    withheld = Withheld(readings)
    known = [p for p in every if p.name not in withheld]
    names = {p.name for p in known}
    shown, left_out = [], len(every) - len(known)
    for place in known:
        also = tuple(n for n in place.also if n.text not in withheld)
        heard = tuple(t for t in place.heard_as if t not in withheld)
        left_out += len(place.also) + len(place.heard_as) - len(also) - len(heard)
        shown.append(
            replace(
                place, also=also, heard_as=heard, within=tuple(w for w in place.within if w.text in names),
                same_as=place.same_as if place.same_as in names else "", not_heard=(), kind="" if place.kind in withheld else place.kind,
            )
        )
    return tuple(shown), left_out


def show_misheard(readings: Readings, viewer: Viewer, rows: Iterable[Row[Any]], doubtful_below: float) -> dict[int, ShownMisheard]:
    """tag id → where it stands, of those of these tags whose evidence this viewer may read."""
    by_recording: Mapping[int, list[Row[Any]]] = defaultdict(list)
    for row in rows:
        by_recording[row.recording_id].append(row)
    shown = {}
    for recording_id, some in by_recording.items():
        readings.in_outline(recording_id)
        reading = readings.of(recording_id)
        reading.read_words((r.start_ms - AROUND_MS, r.end_ms + AROUND_MS) for r in some)
        playable = reading.open_pieces(viewer, TEAM, Way.VOICE)
        for tag in shown_tags(reading, viewer, some):
            start_ms, end_ms = tag.start_ms - AROUND_MS, tag.end_ms + AROUND_MS
            piece = next(((s, e) for s, e in playable if s <= tag.start_ms and tag.end_ms <= e), None)
            shown[tag.tag_id] = ShownMisheard(
                token=GATE_TOKEN, tag_id=tag.tag_id, recording=reading.row.code, start_ms=tag.start_ms, end_ms=tag.end_ms, said=tag.evidence,
                around=words_around(reading, viewer, start_ms, end_ms, doubtful_below),
                play=PlayStretch(max(piece[0], start_ms), min(piece[1], end_ms)) if piece else None,
            )  # fmt: skip
    return shown
