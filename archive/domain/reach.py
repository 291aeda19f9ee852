"""How far an account reaches: people who are not to be opened by it, and recordings that were assigned to it. Pure."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reach:
    """`people`: whose speech, names and papers the account may not open (ids). `recordings`: it has these alone; None: no such limit."""

    people: frozenset[int] = frozenset()
    recordings: frozenset[int] | None = None

    def has(self, recording_id: int) -> bool:
        """True where a recording is there at all for the account."""
        return self.recordings is None or recording_id in self.recordings

    def opens(self, recording_id: int, people_heard: Set[int]) -> bool:
        """True where speech of these people in this recording may be opened, as far as it hangs on the account."""
        return self.has(recording_id) and not people_heard & self.people


EVERYTHING = Reach()
