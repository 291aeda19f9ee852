"""Cards as they were taken in, and whether one may be cleared; who listened to the start, middle and end of its recordings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from archive.audio.access import piece
from archive.db import audit, copies, recordings
from archive.db.session import Connection, Row
from archive.domain.clearing import CAUTIONS, Card, CardFile, Part, may_be_cleared, missing, piece_of, told
from archive.domain.phrases import day
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, NotFound, Refused
from archive.gate.reading import Readings
from archive.gate.show import show_sound
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import CardRow, PartRow
from archive.services.secondplace import SecondPlace

OPENED = "closed speech opened"
OPEN_FOR = timedelta(minutes=10)  # a player asks for its sound again and again
EVER = datetime(1, 1, 1, tzinfo=UTC)
Rows = Sequence[Row[Any]]


class Clearing:
    """Cards of one archive."""

    def __init__(self, rooms: Rooms, place: SecondPlace) -> None:
        self._rooms, self._place = rooms, place

    def cards(self, viewer: Viewer) -> tuple[CardRow, ...]:
        """The newest cards first, each with what stands between it and its clearing."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            place = self._place.known(connection)
            known = {r.id: r for r in copies.masters(connection, place.mark if place else "")}
            heard = copies.listeners(connection)
            there, other = self._place.is_there(place), self._place.other_disk(place)
            readings = Readings(connection, self._rooms.context())
            made = []
            for batch in copies.cards(connection):
                rows = copies.files_of(connection, batch)
                files = tuple(_file(r, known.get(r.master_id), heard.get(r.recording_id, {})) for r in rows)
                card = Card(files, place is not None, there, other, bool(place and place.said))
                parts = {r.code: self._parts(readings, viewer, r, heard.get(r.recording_id, {})) for r in rows if r.code}
                made.append(CardRow(
                    batch[:8], rows[0].at, rows[0].by, tuple(f.name for f in files), may_be_cleared(card), told(card), missing(card),
                    tuple(parts.items()), CAUTIONS,
                ))  # fmt: skip
        return tuple(made)

    def _parts(self, readings: Readings, viewer: Viewer, row: Row[Any], heard: dict[str, Row[Any]]) -> tuple[PartRow, ...]:
        made = []
        for part in Part:
            start_ms, end_ms = piece_of(part, row.duration_ms)
            may = _may_hear(readings, viewer, row.recording_id, start_ms, end_ms)
            said = heard.get(part.value)
            opens = not may and viewer.role == Role.KEEPER
            opened = opens and _opened(readings.connection, viewer, row.recording_id, part, self._rooms.clock() - OPEN_FOR)
            told_by = f"{said.by} listened on {day(said.at)}" if said else ""
            made.append(PartRow(part.value, start_ms, end_ms, told_by, may, opens, opened))
        return tuple(made)

    def listened(self, viewer: Viewer, code: str, said: Sequence[str]) -> None:
        """Put on record that this viewer listened to these parts. Raises Refused where they may not hear one of them.

        Closed speech can be listened to by a keeper alone, who opened that part before with a reason.
        """
        need(viewer, *EDITORS)
        parts, now = [_part(text) for text in said], self._rooms.now()
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            readings = Readings(connection, self._rooms.context())
            for part in parts:
                opened = viewer.role == Role.KEEPER and _opened(connection, viewer, row.id, part)
                if not opened and not _may_hear(readings, viewer, row.id, *piece_of(part, row.duration_ms)):
                    raise Refused(f"The {part} of {code} is closed to you: who may not hear it cannot say that they listened.", (), "A keeper opens it with a reason, or it waits for its agreement.")
                copies.say_listened(connection, row.id, part.value, viewer.name, now)
            audit.record(connection, viewer.name, "listened before clearing", f"recording {row.id}", now, parts=[p.value for p in parts])

    def open_part(self, viewer: Viewer, code: str, named: str, reason: str) -> None:
        """A keeper opens a part that is closed, to hear it within the next minutes; the reason is on record before anything is heard."""
        need(viewer, *KEEPER)
        part = _part(named)
        if not reason.strip():
            raise BadInput("Opening closed speech needs a reason.", "Say in a sentence why you must hear it.")
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            audit.record(connection, viewer.name, OPENED, f"recording {row.id}", self._rooms.now(), reason=reason, part=part.value)

    def opened_sound(self, viewer: Viewer, code: str, named: str) -> bytes:
        """The sound of a part that this keeper opened just now, as a WAV. Raises Refused where that was too long ago, or never."""
        need(viewer, *KEEPER)
        part = _part(named)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            if not _opened(connection, viewer, row.id, part, self._rooms.clock() - OPEN_FOR):
                raise Refused("This part is closed to you now.", (), "Open it with a reason; then it can be heard for ten minutes.")
            asked = piece_of(part, row.duration_ms)
            opened = Viewer(viewer.name, viewer.role, True)
            stretch, mutes = show_sound(Readings(connection, self._rooms.context()), opened, row.id, asked)
            master = recordings.master_of(connection, row.id)
        path = self._rooms.masters.path(master.sha256, master.extension)
        return piece(path, stretch.start_ms, stretch.end_ms, [(m.start_ms, m.end_ms) for m in mutes])


def _file(row: Row[Any], master: Row[Any] | None, heard: dict[str, Row[Any]]) -> CardFile:
    if master is None:
        return CardFile(row.source_name, row.outcome)
    return CardFile(
        row.source_name, row.outcome, row.code or "", master.copied_at is not None, master.read_back_at is not None,
        master.trouble or master.copy_trouble or "", frozenset(Part(part) for part in heard),
    )  # fmt: skip


def _may_hear(readings: Readings, viewer: Viewer, recording_id: int, start_ms: int, end_ms: int) -> bool:
    try:
        show_sound(readings, viewer, recording_id, (start_ms, end_ms))
    except (Refused, NotFound):
        return False
    return True


def _opened(connection: Connection, viewer: Viewer, recording_id: int, part: Part, since: datetime = EVER) -> bool:
    """Whether this keeper opened this part, on record, since then."""
    mine = (r for r in audit.of_action(connection, OPENED) if r.actor == viewer.name and r.subject == f"recording {recording_id}")
    return any((r.detail or {}).get("part") == part.value and datetime.fromisoformat(r.at) >= since for r in mine)


def _part(text: str) -> Part:
    try:
        return Part(text)
    except ValueError:
        raise BadInput("One listens to the start, the middle or the end of a recording.", "Write start, middle or end.") from None
