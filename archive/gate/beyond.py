"""Excerpts and exports beyond what an account reaches: they are not there for it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from archive.db import excerpts
from archive.db.session import Row
from archive.domain.values import Viewer
from archive.errors import NotFound
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings


def reaches(readings: Readings, viewer: Viewer, row: Row[Any]) -> bool:
    """True where everybody heard in an excerpt, as its version and today's have it, may be opened by this account."""
    reach = readings.reach(viewer)
    if not reach.people and reach.recordings is None:
        return True
    pinned = Pinned(readings, row)
    return reach.opens(row.recording_id, {person for _, heard in pinned.parts() for person in heard})


def excerpt_named(readings: Readings, viewer: Viewer, code: str) -> Row[Any]:
    """The excerpt that somebody named. Raises NotFound, in the same words for one that is beyond their reach."""
    row = excerpts.named(readings.connection, code)
    if not reaches(readings, viewer, row):
        raise NotFound("There is no such excerpt.", "See the list of excerpts.")
    return row


def must_reach(readings: Readings, viewer: Viewer, codes: Iterable[str]) -> None:
    """Raises NotFound where one of these excerpts is beyond what this account reaches: what it makes leave, it reads. Other codes pass."""
    for row in filter(None, (excerpts.by_code(readings.connection, code) for code in codes)):
        if not reaches(readings, viewer, row):
            raise NotFound("There is no such excerpt; nothing was given.", "See the list of excerpts.")
