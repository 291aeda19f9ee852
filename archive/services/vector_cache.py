"""The vectors of an archive in memory, as they were at a revision of the database. It holds nothing of consent: who may find what is
asked of the database each time."""

from __future__ import annotations

import threading
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from archive.db import facts, vectors
from archive.db.session import Connection

SIZE = 384
_WORDINGS = {"both": 0, "full": 1, "shown": 2}
_GONE = 3  # a wording that nobody asks for: this row is not in the database any more
Scores = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Matrix:
    """One row a window: the id of its row in the database, its unit, its wording, 384 numbers (float32: numpy makes them of float16 so slowly
    that keeping half the memory made a question of 100,000 passages ten times as long)."""

    model: str
    revision: int
    read: npt.NDArray[np.int64]  # ids of every row that was read, also of those without a window
    ids: npt.NDArray[np.int64]
    units: npt.NDArray[np.int64]
    wordings: npt.NDArray[np.int8]
    values: npt.NDArray[np.float32]

    def scores(self, question: npt.NDArray[np.float32], wording: str, may_be: npt.NDArray[np.bool_]) -> Scores:
        """Nearness of every row to a question [384]; −1 where a row is of the other wording, or of a unit that `may_be` (by id) leaves out."""
        found = np.asarray(self.values @ question, dtype=np.float32)
        found[(self.wordings != _WORDINGS["both"]) & (self.wordings != _WORDINGS[wording])] = -1.0
        known = self.units < len(may_be)
        found[~(known & may_be[np.where(known, self.units, 0)])] = -1.0
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
        self._room = self._matrix.values  # what lies in `values`, with room behind it

    def of(self, connection: Connection, model: str) -> Matrix:
        """The vectors of a model as this transaction sees them."""
        revision = facts.find_revision(connection)
        with self._lock:
            if (self._matrix.model, self._matrix.revision) != (model, revision):
                self._bring_up(connection, self._matrix if self._matrix.model == model else _none(model), revision)
            return self._matrix

    def _bring_up(self, connection: Connection, before: Matrix, revision: int) -> None:
        """What is gone is overwritten where it lies; what came since stands behind the rest. Where this transaction sees an older state than
        the one that is kept (two requests at once), or much is gone, all is read again."""
        now = np.array(vectors.ids(connection, before.model), dtype=np.int64)
        newest = int(before.read.max(initial=0))
        gone = ~np.isin(before.ids, now)
        if int(np.isin(before.read, now).sum()) != int((now <= newest).sum()) or gone.sum() > len(gone) // 4:
            before, newest, gone = _none(before.model), 0, np.zeros(0, dtype=bool)
        before.values[gone] = 0.0
        wordings = np.where(gone, np.int8(_GONE), before.wordings).astype(np.int8)
        have = len(before.ids)
        room = self._with_room(before.values, have + vectors.windows(connection, before.model, newest))
        ids, units, coded, at = [], [], [], have
        for row in vectors.rows(connection, before.model, newest):
            own = np.frombuffer(row.vectors, dtype="<f2").reshape(-1, SIZE)
            room[at : at + len(own)] = own
            at += len(own)
            ids += [row.id] * len(own)
            units += [row.unit_id] * len(own)
            coded += [_WORDINGS[row.wording]] * len(own)
        self._room = room
        self._matrix = Matrix(
            before.model, revision, now, np.concatenate([before.ids, np.array(ids, dtype=np.int64)]),
            np.concatenate([before.units, np.array(units, dtype=np.int64)]), np.concatenate([wordings, np.array(coded, dtype=np.int8)]), room[:at],
        )  # fmt: skip

    def _with_room(self, values: npt.NDArray[np.float32], rows: int) -> npt.NDArray[np.float32]:
        """The same values with room for so many rows: where they lie if there is enough."""
        if len(values) and values.base is self._room and rows <= len(self._room):
            return self._room
        room = np.zeros((rows + rows // 8, SIZE), dtype=np.float32)
        room[: len(values)] = values
        return room


def _none(model: str) -> Matrix:
    empty = np.zeros(0, dtype=np.int64)
    return Matrix(model, -1, empty, empty, empty, np.zeros(0, dtype=np.int8), np.zeros((0, SIZE), dtype=np.float32))
