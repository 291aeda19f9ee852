"""The vectors of an archive in memory, as they were at a revision of the database. It holds nothing of consent: who may find what is
asked of the database each time."""

from __future__ import annotations

import threading
from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from archive.db import facts, vectors
from archive.db.session import Connection

SIZE = 384
_WORDINGS = {"both": 0, "full": 1, "shown": 2}
_AT_ONCE = 8192  # rows that are made float32 in one go: 12 MB
Scores = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Matrix:
    """One row a window: the id of its row in the database, its unit, its wording, 384 numbers in float16 (768 bytes)."""

    model: str
    revision: int
    read: npt.NDArray[np.int64]  # ids of every row that was read, also of those without a window
    ids: npt.NDArray[np.int64]
    units: npt.NDArray[np.int64]
    wordings: npt.NDArray[np.int8]
    values: npt.NDArray[np.float16]

    def scores(self, question: npt.NDArray[np.float32], wording: str, may_be: npt.NDArray[np.bool_]) -> Scores:
        """Nearness of every row to a question [384]; −1 where a row is of the other wording, or of a unit that `may_be` (by id) leaves out."""
        found = np.empty(len(self.values), dtype=np.float32)
        for at in range(0, len(found), _AT_ONCE):
            np.dot(self.values[at : at + _AT_ONCE].astype(np.float32), question, out=found[at : at + _AT_ONCE])
        other = _WORDINGS["shown" if wording == "full" else "full"]
        found[self.wordings == other] = -1.0
        here = self.units < len(may_be)
        found[~here] = -1.0
        found[here] = np.where(may_be[self.units[here]], found[here], -1.0)
        return found

    def best(self, scores: Scores, rows: int) -> dict[int, float]:
        """Units of the best rows, each with its best window."""
        top = np.argpartition(scores, -rows)[-rows:] if rows < len(scores) else np.arange(len(scores))
        return self._by_unit(scores, top)

    def among(self, scores: Scores, units: Collection[int]) -> dict[int, float]:
        """These units, each with its best window."""
        wanted = np.fromiter(units, dtype=np.int64, count=len(units))
        return self._by_unit(scores, np.flatnonzero(np.isin(self.units, wanted)))

    def _by_unit(self, scores: Scores, rows: npt.NDArray[np.int64]) -> dict[int, float]:
        found: dict[int, float] = {}
        for unit, score in zip(self.units[rows].tolist(), scores[rows].tolist(), strict=True):
            if score > found.get(unit, -1.0):
                found[unit] = score
        return found


class VectorCache:
    """Reads the vectors once, and afterwards what came and went. Safe to share between threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._matrix = _none("")

    def of(self, connection: Connection, model: str) -> Matrix:
        """The vectors of a model as this transaction sees them."""
        revision = facts.find_revision(connection)
        with self._lock:
            if (self._matrix.model, self._matrix.revision) != (model, revision):
                before = self._matrix if self._matrix.model == model else _none(model)
                self._matrix = _brought_up(connection, before, revision)
            return self._matrix


def _none(model: str) -> Matrix:
    empty = np.zeros(0, dtype=np.int64)
    return Matrix(model, -1, empty, empty, empty, np.zeros(0, dtype=np.int8), np.zeros((0, SIZE), dtype=np.float16))


def _brought_up(connection: Connection, before: Matrix, revision: int) -> Matrix:
    """Without the rows that are gone, with those that came since: ids are never given twice. Where this transaction sees an older state
    than the one that is kept (two requests at once), all is read again."""
    now = np.array(vectors.ids(connection, before.model), dtype=np.int64)
    newest = int(before.read.max(initial=0))
    if int(np.isin(before.read, now).sum()) != int((now <= newest).sum()):
        before, newest = _none(before.model), 0
    ids, units, wordings, blobs = [], [], [], []
    for row in vectors.rows(connection, before.model, newest):
        windows = len(row.vectors) // (2 * SIZE)
        ids += [row.id] * windows
        units += [row.unit_id] * windows
        wordings += [_WORDINGS[row.wording]] * windows
        blobs.append(row.vectors)
    new = np.frombuffer(b"".join(blobs), dtype="<f2").reshape(-1, SIZE)
    stay = np.isin(before.ids, now)
    if not len(new) and stay.all():
        return replace(before, revision=revision, read=now)
    return Matrix(
        before.model, revision, now, np.concatenate([before.ids[stay], np.array(ids, dtype=np.int64)]),
        np.concatenate([before.units[stay], np.array(units, dtype=np.int64)]),
        np.concatenate([before.wordings[stay], np.array(wordings, dtype=np.int8)]),
        np.concatenate([before.values[stay], new]),
    )  # fmt: skip
