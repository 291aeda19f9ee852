"""How near the passages of a recording are to the scope notes of themes, from what was read of both; for whoever suggests themes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from archive.db import vectors
from archive.db.session import Connection
from archive.rules import nearness
from archive.rules.themes import Near
from archive.services.vector_cache import SIZE

_SAMPLE, _CONFIRMED = 1000, 50  # units whose mean stands for all; confirmed passages that teach one theme


def near_themes(connection: Connection, recording_id: int, cuts: Sequence[tuple[int, int]]) -> list[dict[str, Near]]:
    """For each passage (start_ms, end_ms) of a recording the themes whose notes are near enough to it, with how near, 0 to 1: what
    `suggest_themes` takes as `nearness`. Empty for a passage of which nothing was read yet, and for all where no note was: then the words
    alone count. What is near enough only because passages were confirmed says of which recordings."""
    notes = vectors.notes(connection)
    read = vectors.of_recordings(connection, notes[0].model, [recording_id]) if notes else []
    here = [[_windows(v) for _, s, e, v in read if s < end_ms and start_ms < e and v] for start_ms, end_ms in cuts]
    rows = [n for n, own in enumerate(here) if own]
    found: list[dict[str, Near]] = [{} for _ in cuts]
    if not rows:
        return found
    model = notes[0].model
    passages = nearness.one_each(np.concatenate(here[n]) for n in rows)
    middle = nearness.one_each(map(_windows, vectors.sample(connection, model, _SAMPLE))).mean(axis=0)
    confirmed = vectors.confirmed(connection, model, _CONFIRMED)
    taught = {t: nearness.one_each(_windows(v) for _, v in some) for t, some in confirmed.items()}
    scopes = {n.name: _windows(n.vector)[0] for n in notes if n.model == model}
    nudged, by_notes = (nearness.nearness(passages, scopes, by, middle) for by in (taught, {}))
    for n, near, alone in zip(rows, nudged, by_notes, strict=True):
        untaught = nearness.near_enough(alone)
        for theme, value in nearness.near_enough(near).items():
            by = () if theme in untaught else tuple(sorted({r for r, _ in confirmed.get(theme, ())}))
            found[n][theme] = Near(value, by)
    return found


def _windows(blob: bytes) -> npt.NDArray[np.float32]:
    return np.frombuffer(blob, dtype="<f2").astype(np.float32).reshape(-1, SIZE)
