"""Words to numbers, for leads that are near in meaning: the words are read here, and only numbers leave.

Each wording has its own numbers, so that what a viewer may not read steers nothing that this viewer is shown. They are as telling as
words, and kept only beside a find unit (db/vectors.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from archive.db import units
from archive.db.session import Connection
from archive.db.vectors import BOTH, Made, Wanted
from archive.domain.marks import spoken
from archive.domain.masking import MASK, mask_words
from archive.domain.values import MIN_WORD_MS, Stretch
from archive.gate.indexing import runs_in, translations_at_home
from archive.gate.reading import Context, Reading, Readings
from archive.gate.translated import texts_to_find

Encode = Callable[[Sequence[str]], list[npt.NDArray[np.float32]]]


def vectors_of(connection: Connection, wanted: Sequence[Wanted], encode: Encode, context: Context) -> dict[int, list[Made]]:
    """The vectors of units that lie in one recording: for each one row where both wordings are the same, else two.

    `encode`: texts to [windows, n]. What stands under a mask is left out, and so are a mask's own words, as in the index; a translation is
    a window of its own, under the unit where it is found.
    """
    if not wanted:
        return {}
    reading = Readings(connection, context).of(wanted[0].recording_id)
    pieces = {(row.start_ms, row.end_ms) for row in units.units_of(connection, reading.recording_id)}
    at_home = translations_at_home(reading, pieces)
    texts = {}
    for unit in wanted:
        full, everybody = texts_to_find(reading, at_home.get((unit.start_ms, unit.end_ms), ()))
        own_full, own_shown = _texts(reading, Stretch(unit.recording_id, unit.start_ms, unit.end_ms))
        texts[unit.unit_id] = {"full": _plain([own_full, *full]), "shown": _plain([own_shown, *everybody])}
    every = list(dict.fromkeys(t for both in texts.values() for side in both.values() for t in side))
    made = dict(zip(every, encode(every), strict=True))
    return {unit_id: _made(both, made) for unit_id, both in texts.items()}


def _texts(reading: Reading, piece: Stretch) -> tuple[str, str]:
    """(full, shown) of a piece, as it is indexed."""
    full, shown = [], []
    for run in runs_in(reading, piece):
        masks = reading.masks_in(min(w.start_ms for w in run), max(w.end_ms for w in run) + MIN_WORD_MS)
        full += [spoken(w.text) for w in run]
        shown += [spoken(t.text) for t in mask_words(run, masks) if not t.masked]
    return " ".join(full), " ".join(shown)


def _plain(texts: Sequence[str]) -> list[str]:
    return [" ".join(t.replace(MASK, " ").split()) for t in texts]


def _made(both: dict[str, list[str]], made: dict[str, npt.NDArray[np.float32]]) -> list[Made]:
    if both["full"] == both["shown"]:
        return [Made(BOTH, _bytes(both["full"], made))]
    return [Made(wording, _bytes(texts, made)) for wording, texts in both.items()]


def _bytes(texts: Sequence[str], made: dict[str, npt.NDArray[np.float32]]) -> bytes:
    return b"".join(made[text].astype("<f2").tobytes() for text in texts)
