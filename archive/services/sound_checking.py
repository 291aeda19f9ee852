"""The sound check as people ask for it: one recording's, all of them, and measuring anew what was taken in before."""

from __future__ import annotations

from archive.db import audit, recordings
from archive.domain.cleared import ShownSoundCheck
from archive.domain.values import Viewer
from archive.errors import NotFound
from archive.gate.reading import Readings
from archive.gate.show_check import show_sound_check
from archive.services.measuring import measure_in_child
from archive.services.rooms import EDITORS, EVERYBODY, Rooms, need


class SoundChecking:
    """Sound checks of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer) -> tuple[ShownSoundCheck, ...]:
        """Every recording of which this viewer may hear something, in the order of interviews and parts."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            found = [show_sound_check(readings, viewer, r.id) for r in recordings.everything(connection)]
        return tuple(check for check in found if check is not None)

    def one(self, viewer: Viewer, code: str) -> ShownSoundCheck:
        """One recording's. Raises NotFound, also where this viewer may hear nothing of it."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            row = recordings.by_code(connection, code)
            shown = show_sound_check(Readings(connection, self._rooms.context()), viewer, row.id) if row is not None else None
        if shown is None:
            raise NotFound("There is no such recording, or none of it is yours to hear.", "See the list of recordings.")
        return shown

    def not_checked(self, viewer: Viewer) -> tuple[str, ...]:
        """Recordings that were taken in before there was a whole sound check."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return tuple(r.code for r in recordings.everything(connection) if not recordings.ears_of(connection, r.id))

    def again(self, viewer: Viewer, code: str) -> None:
        """Measure a recording's master anew and keep what the sound check needs; what mutes, chunks and pictures go by stays as
        it was. Raises NotFound, BadMedia; then nothing has changed."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.by_code(connection, code)
            if row is None:
                raise NotFound("There is no such recording.", "See the list of recordings.")
            master = recordings.master_of(connection, row.id)
        found = measure_in_child(self._rooms.masters.path(master.sha256, master.extension), self._rooms.caps(), track=master.track)
        with self._rooms.db.write() as connection:
            recordings.measured_again(connection, row.id, flags=found.flags, damage=found.damage, ears=b"".join(found.ears))
            audit.record(connection, viewer.name, "sound checked", f"recording {row.id}", self._rooms.now(), findings=len(found.flags))
