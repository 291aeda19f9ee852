"""What consent came to for the questions of before, kept until consent or the index moves; and who is heard in what, with it.

Both revisions are read in the transaction that asks, so that a withdrawal is seen by the next question (DESIGN §6: caches compare
`consent_revision`). The day, the use, the exhibition and the policy are part of every key. For read transactions alone: what a writer sees
may be rolled back, and the next writer raises the same numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar, cast

from sqlalchemy import Connection

from archive.db import facts, units

_MOST = 64  # answers that are kept: a megabyte each at a million units
T = TypeVar("T")


class Known:
    """Answers by what was asked, of one revision."""

    def __init__(self) -> None:
        self._answers: dict[Hashable, Any] = {}

    def once(self, key: Hashable, find: Callable[[], T]) -> T:
        """What was found under this key, or what is found now. What is kept must not be changed."""
        if key not in self._answers:
            while len(self._answers) >= _MOST:
                self._answers.pop(next(iter(self._answers)), None)
            self._answers[key] = find()
        return cast(T, self._answers[key])


class Kept:
    """The answers of the newest revision that was asked about. Each question holds those of its own, whatever is asked beside it."""

    def __init__(self) -> None:
        self._at: tuple[tuple[int, int], Known] = ((-1, -1), Known())

    def at(self, connection: Connection) -> Known:
        """What is known of consent and the index as this transaction sees them; nothing where either has moved since."""
        now = (facts.consent_revision(connection), units.index_revision(connection))
        revision, known = self._at
        if revision != now:
            known = Known()
            self._at = (now, known)
        return known
