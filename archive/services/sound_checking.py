"""The sound check as people ask for it: one recording's, all of them, and measuring anew what was taken in before."""

from __future__ import annotations

from archive.db import audit, jobs, recordings
from archive.db.session import Connection
from archive.domain.cleared import ShownSoundCheck
from archive.domain.values import Viewer
from archive.errors import NotFound
from archive.gate.indexing import index_facts
from archive.gate.reading import Readings
from archive.gate.show_check import show_sound_check
from archive.services.asking import asked_by, asking
from archive.services.at_once import Told, done_at_once
from archive.services.measuring import measure_in_child
from archive.services.rooms import EDITORS, EVERYBODY, Rooms, need
from archive.services.work import Lease

KIND = "sound"


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

    def again(self, viewer: Viewer, code: str, told: Told = lambda _: None) -> None:
        """Measure a recording's master anew, now, and keep what the sound check needs; what mutes, chunks and pictures go by stays
        as it was. Raises NotFound, BadMedia; then nothing has changed."""
        need(viewer, *EDITORS)
        done_at_once(self._rooms, lambda connection: self._add(connection, viewer, code), self.run, told)

    def queue(self, viewer: Viewer, code: str) -> int:
        """Let the worker do the same; returns the number of the job. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            return self._add(connection, viewer, code)

    def _add(self, connection: Connection, viewer: Viewer, code: str) -> int:
        row = recordings.named(connection, code)
        args = {"recording": row.id, **asking(connection, viewer)}
        return jobs.add_once(connection, KIND, row.code, args, viewer.name, self._rooms.now(), total=row.duration_ms)

    def run(self, lease: Lease) -> str:
        """Measure one recording; killed, it is measured from its start once more."""
        with self._rooms.db.read() as connection:
            viewer = asked_by(connection, lease)
            row = recordings.by_id(connection, int(lease.args["recording"]))
            master = recordings.master_of(connection, row.id)
        path = self._rooms.masters.path(master.sha256, master.extension)
        found = measure_in_child(path, self._rooms.caps(), track=master.track, alive=lease.alive)

        def keep(connection: Connection) -> str:
            recordings.measured_again(connection, row.id, flags=found.flags, damage=found.damage, ears=b"".join(found.ears))
            index_facts(connection, row.id, self._rooms.context())
            audit.record(connection, viewer.name, "sound checked", f"recording {row.id}", self._rooms.now(), findings=len(found.flags))
            lease.got(connection, row.duration_ms, row.duration_ms)
            return lease.end(connection, "Measured anew.")

        return lease.keep(keep)
