"""Access copies: of every recording one that is quick to listen to, made as a job after it came in, and taken away on withdrawal.

It holds what its master holds, and lies in the archive's folder like it: who hears which stretch of it is the gate's to say.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from archive.audio.accesscopy import READINGS, make_access_copy
from archive.db import audit, jobs, recordings
from archive.db.session import Connection, Row
from archive.domain.consent import told
from archive.domain.reasons import PRIVATE
from archive.domain.values import Role, Viewer
from archive.errors import Refused
from archive.gate import custody
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.work import Lease

KIND = "access"
EVERY_S = 2.0  # progress is written down, and the lease is asked for, so often
NOT_MADE = "No access copy is made of this recording."


def queue_copy(connection: Connection, row: Row[Any], by: str, at: str) -> None:
    """Queue the copy of one recording, for when the machine is idle."""
    jobs.add_job(connection, KIND, row.code, {"recording": row.id}, by, at, total=READINGS * row.duration_ms, idle=True)


class Access:
    """Access copies of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def queue(self, viewer: Viewer, recording: str = "") -> int:
        """Queue copies of recordings that have none, or of one; returns how many. Raises NotFound."""
        need(viewer, *EDITORS)
        now, queued = self._rooms.now(), 0
        with self._rooms.db.write() as connection:
            rows = recordings.all_or_named(connection, recording)
            for row in rows:
                if self._rooms.derived.find(recordings.master_of(connection, row.id).sha256) is None:
                    queue_copy(connection, row, viewer.name, now)
                    queued += 1
            audit.record(connection, viewer.name, "access copies queued", "jobs", now, queued=queued)
        return queued

    def run(self, lease: Lease) -> str:
        """Make one copy. Killed, it begins again from its start; a half file is never found. Raises Refused, BadMedia."""
        with self._rooms.db.read() as connection:
            row = recordings.by_id(connection, int(lease.args["recording"]))
            master = recordings.master_of(connection, row.id)
            use, stereo = self._channels(connection, row)
        self._ask(row)
        half = self._rooms.derived.begin(master.sha256)
        whole_ms = READINGS * row.duration_ms
        told = [time.monotonic()]

        def tell(ms: int) -> None:
            if time.monotonic() - told[0] >= EVERY_S:
                lease.keep(lambda connection: lease.got(connection, min(ms, whole_ms), whole_ms, kept=False))
                self._ask(row)
                told[0] = time.monotonic()

        source = self._rooms.masters.path(master.sha256, master.extension)
        try:
            made = make_access_copy(source, half, use, stereo, self._rooms.options.clip_loudness_lufs, self._rooms.caps(), tell, master.track)
            self._ask(row)
            loud = f", loudness {made.loudness_lufs:.1f} LUFS" if made.loudness_lufs is not None else ""
            words = f"{'Stereo' if stereo else 'Mono'}{loud}."
            return lease.keep(lambda connection: self._settle(connection, lease, half, master.sha256, words))
        finally:
            half.unlink(missing_ok=True)

    def _settle(self, connection: Connection, lease: Lease, half: Path, sha256: str, words: str) -> str:
        """Under the lease, so that a withdrawal either ends this before or finds the copy and takes it away."""
        recording_id = int(lease.args["recording"])
        whole_ms = READINGS * recordings.by_id(connection, recording_id).duration_ms
        self._rooms.derived.settle(half, sha256)
        lease.got(connection, whole_ms, whole_ms)
        audit.record(connection, "machine", "access copy made", f"recording {recording_id}", self._rooms.now(), job=lease.job_id)
        return lease.end(connection, words)

    def _ask(self, row: Row[Any]) -> None:
        """Safe-keeping needs no permission; but nothing is made anew of what somebody withdrew, paused or objected to."""
        with self._rooms.db.read() as connection:
            decision = custody.machine_may(connection, row.id, 0, row.duration_ms, self._rooms.context())
        reasons = told([r for r in decision.reasons if r.code in PRIVATE], Role.EDITOR)
        if reasons:
            raise Refused(NOT_MADE, reasons, "What may be heard is cut from the recording itself.")

    def _channels(self, connection: Connection, row: Row[Any]) -> tuple[tuple[int, ...], bool]:
        """(channels of the master, side by side?): two microphones stay two; else the mean, or the first where two cancel out."""
        measured = recordings.measurement_of(connection, row.id)
        if measured is None or measured.channels < 2:
            return (0,), False
        if row.microphones == "two":
            return (0, 1), True
        inverted = any(flag[0] == "inverted" for flag in measured.flags)
        return ((0,), False) if inverted else ((0, 1), False)
