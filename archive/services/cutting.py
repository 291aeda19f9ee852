"""Passages cut by hand: one split where an utterance begins, two joined. They stay so when the recording is cut anew.

Tags, excerpts and approvals point at stretches and words, so nothing of them changes with a cut.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from archive.db import audit, by_hand, recordings, units
from archive.db.session import Connection, Row
from archive.domain.cleared import ShownUtterance
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound
from archive.gate.reading import Readings
from archive.gate.show import show_recording
from archive.services.describing import describe_recording
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import PassageRow, Passages

SPLIT, JOINED = "split", "joined"


class Cutting:
    """Passages of one archive, as a person cuts them."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def passages(self, viewer: Viewer, code: str) -> Passages:
        """The passages of a recording in order, with who made them where a person did."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            return self._passages(connection, row.id, self._lines(connection, viewer, row.id))

    def split(self, viewer: Viewer, code: str, utterance: int) -> None:
        """Let a passage end before this utterance (`ShownUtterance.utterance_id`) and another begin with it."""
        self._change(viewer, code, utterance, SPLIT)

    def join(self, viewer: Viewer, code: str, utterance: int) -> None:
        """Make one passage of the one that begins with this utterance and the one before it."""
        self._change(viewer, code, utterance, JOINED)

    def undo(self, viewer: Viewer, code: str) -> str:
        """Take the newest cut by hand back, whoever made it; returns what it was: split or joined."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            newest = by_hand.newest(connection, row.id)
            if newest is None:
                raise NotFound("No passage of this recording was cut by hand.")
            by_hand.undo(connection, row.id, newest.act)
            self._after(connection, viewer, row.id, "passage cut undone", newest.start_ms)
            return str(newest.how)

    def _change(self, viewer: Viewer, code: str, utterance: int, how: str) -> None:
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            lines = self._lines(connection, viewer, row.id)
            held = self._passages(connection, row.id, lines).rows
            at = next((n for n, line in enumerate(lines) if line.utterance_id == utterance), None)
            if at is None or lines[at].closed:
                raise Clash("This utterance is not in the newest transcript, or closed to you; nothing was changed.", "Load the page again.")
            begins = lines[at].start_ms
            here = bisect_right([p.start_ms for p in held], begins) - 1
            first = here >= 0 and held[here].utterance_id == utterance
            if how == SPLIT:
                if here < 0 or first:
                    raise BadInput("A passage begins here already; nothing was changed.")
                made = [(held[here].start_ms, begins), (begins, _end(held, here))]
            else:
                if here < 1 or not first:
                    raise BadInput("No passage begins here that could be joined with the one before; nothing was changed.", "Load the page again.")
                made = [(held[here - 1].start_ms, _end(held, here))]
            by_hand.make(connection, row.id, made, how, viewer.name, self._rooms.now())
            self._after(connection, viewer, row.id, f"passage {how}", begins)

    def _after(self, connection: Connection, viewer: Viewer, recording_id: int, action: str, at_ms: int) -> None:
        """Cut and index anew in this very transaction."""
        now = self._rooms.now()
        describe_recording(connection, recording_id, self._rooms.context(), viewer.name, now)
        audit.record(connection, viewer.name, action, f"recording {recording_id}", now, at_ms=at_ms)

    def _lines(self, connection: Connection, viewer: Viewer, recording_id: int) -> Sequence[ShownUtterance]:
        readings = Readings(connection, self._rooms.context())
        return show_recording(readings, viewer, recording_id, self._rooms.options.doubtful_below, 0).utterances

    def _passages(self, connection: Connection, recording_id: int, lines: Sequence[ShownUtterance]) -> Passages:
        made = by_hand.passages(connection, recording_id)
        newest = by_hand.newest(connection, recording_id)
        begins = {line.start_ms: line.utterance_id for line in reversed(lines)}
        rows = tuple(
            _row(n, p, next((r for r in made if r.start_ms <= p.start_ms < r.end_ms), None), begins.get(p.start_ms, 0))
            for n, p in enumerate(units.passages(connection, recording_id), 1)
        )
        return Passages(rows, str(newest.how) if newest is not None else "", newest.start_ms if newest is not None else 0)


def _end(held: Sequence[PassageRow], here: int) -> int:
    """Where a passage ends (ms), or the next one begins while somebody still speaks."""
    return min([held[here].end_ms, *(p.start_ms for p in held[here + 1 : here + 2])])


def _row(number: int, passage: Row[tuple[int, ...]], made: Row[tuple[int, ...]] | None, utterance_id: int) -> PassageRow:
    by, at = (str(made.by), str(made.at)) if made is not None else ("", "")
    return PassageRow(number, passage.start_ms, passage.end_ms, utterance_id, by, at)
