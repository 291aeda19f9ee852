"""Stretches that are closed: by a sheet, by somebody of the team, or by our own computer until a person decides its limits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from archive.db import audit, consent_rows, recordings
from archive.db.session import Connection, Row
from archive.domain.agreements import ReleaseKind
from archive.domain.reasons import PRIVATE, Why
from archive.domain.values import RestraintKind, Role, Stretch, Viewer
from archive.errors import BadInput, Clash, NotFound
from archive.gate import custody
from archive.gate.closed import NOT_AVAILABLE
from archive.gate.indexing import index_recording
from archive.services.card import recording_of
from archive.services.deciding import stretch_within
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import ClosedRow
from archive.services.sheets import Sheet

MOST_EVENT = 200


def kind_told(kind: str, viewer: Viewer) -> str:
    """What a viewer is told of the kind of a hold."""
    return kind if viewer.role == Role.KEEPER or Why(kind) not in PRIVATE else NOT_AVAILABLE


class Sealing:
    """Closed stretches of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def read_closed(self, viewer: Viewer, path: Path) -> int:
        """Read closed.csv: stretches to be sealed or put under embargo; returns how many were new."""
        need(viewer, *KEEPER)
        sheet = Sheet(path, ("file", "start_s", "end_s", "kind"), key=("file", "start_s", "end_s"))
        with self._rooms.db.write() as connection:
            found = []
            for row in sheet:
                recording = recording_of(connection, row)
                kind = row.choice("kind", RestraintKind, RestraintKind.SEALED)
                start_ms, end_ms, last = row.ms("start_s"), row.ms("end_s"), row.day("until_on")
                if end_ms <= start_ms:
                    row.fault("The stretch must end after it starts.")
                elif recording is not None:
                    found.append((Stretch(recording.id, start_ms, end_ms), kind, last, row["reason"]))
            sheet.done()
            new = 0
            for stretch, kind, last, reason in found:
                new += self._close(connection, viewer, stretch, kind, last + timedelta(days=1) if last else None, reason)
        return new

    def _close(
        self, connection: Connection, viewer: Viewer, stretch: Stretch, kind: RestraintKind, until_on: date | None,
        how: str, event: str = "", *, once: bool = True,
    ) -> int:  # fmt: skip
        """`once`: a sheet that is read again does not close anew what a keeper opened since. Until another day it is another hold."""
        whole = custody.snap_outwards(connection, stretch)
        same = consent_rows.same_restraints(connection, kind, whole, until_on, event)
        today = self._rooms.today()
        if same and (once or any(r.id in same and r.holds_on(today) for r, _, _ in consent_rows.stretch_holds(connection))):
            return 0
        self._add_seal(connection, viewer, whole, kind, until_on, how, event)
        return 1

    def _add_seal(
        self, connection: Connection, viewer: Viewer, whole: Stretch, kind: RestraintKind, until_on: date | None,
        how: str, event: str = "", raised_by_id: int | None = None,
    ) -> int:  # fmt: skip
        restraint_id = consent_rows.add_restraint(
            connection, kind=kind, stretch=whole, from_on=self._rooms.today(), until_on=until_on, how=how, event=event,
            raised_by_id=raised_by_id, by=viewer.name, at=self._rooms.now(),
        )  # fmt: skip
        index_recording(connection, whole.recording_id, self._rooms.context())
        audit.record(
            connection, viewer.name, "stretch closed", f"restraint {restraint_id}", self._rooms.now(),
            recording=whole.recording_id, start_ms=whole.start_ms, end_ms=whole.end_ms, kind=kind.value,
        )  # fmt: skip
        return restraint_id

    def seal(
        self, viewer: Viewer, recording: str, start_ms: int, end_ms: int, how: str, until: date | None = None, event: str = "",
    ) -> None:  # fmt: skip
        """Close a stretch. Anybody of the team may close; only a keeper opens.

        `until`: the last closed day; its end means a review, nothing opens by itself. `event`: what ends it ("the life of N-05 and five
        years"); with `until` at the latest then, without it stays closed, to be looked at every five years. Raises BadInput, NotFound.
        """
        need(viewer, *EDITORS)
        event = event.strip()
        if len(event) > MOST_EVENT:
            raise BadInput(f"What ends a seal is said in at most {MOST_EVENT} letters. Nothing was changed.", "Say it shorter.")
        if until is not None and until < self._rooms.today():
            raise BadInput("That day is over already. Nothing was changed.", "Name the last day on which it stays closed.")
        with self._rooms.db.write() as connection:
            there = stretch_within(connection, recording, start_ms, end_ms)
            self._close(connection, viewer, there, RestraintKind.SEALED, until + timedelta(days=1) if until else None, how, event, once=False)

    # -- said off the record? ----------------------------------------------------------------------------------
    def closed(self, viewer: Viewer, waiting: bool = False) -> tuple[ClosedRow, ...]:
        """Every closed stretch, in order; `waiting`: only what our own computer closed and nobody has decided."""
        need(viewer, *EDITORS)
        today = self._rooms.today()
        with self._rooms.db.read() as connection:
            codes = {r.id: r.code for r in recordings.everything(connection)}
            rows = [
                ClosedRow(
                    r.id, codes[r.recording_id or 0], r.start_ms or 0, r.end_ms or 0, kind_told(r.kind, viewer), rule,
                    how if kind_told(r.kind, viewer) != NOT_AVAILABLE else "",
                    r.until_on - timedelta(days=1) if r.until_on else None, r.holds_on(today), r.event,
                )
                for r, rule, how in consent_rows.stretch_holds(connection)
            ]  # fmt: skip
        return tuple(r for r in rows if not waiting or (r.rule and r.holds))

    def open_again(self, viewer: Viewer, hold: int, reason: str) -> None:
        """What our own computer closed was not said off the record: open it, with the reason on record."""
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            self._machine_closed(connection, hold)
            self._open(connection, viewer, hold, reason)

    def close_exactly(
        self, viewer: Viewer, hold: int, limits: Sequence[tuple[int, int]], reason: str, until: date | None = None,
        recording: str = "",
    ) -> None:  # fmt: skip
        """Close exactly these limits (ms) instead of what our own computer closed around them; `until`: the last closed day.

        The new seals are on record before the old one ends, in one transaction: nothing is open in between.
        """
        need(viewer, *KEEPER)
        if not limits or not reason.strip():
            raise BadInput("Say from where to where it stays closed, and why.", "Write the times as 1:16 (minutes and seconds).")
        with self._rooms.db.write() as connection:
            row, there = self._machine_closed(connection, hold)
            if recording not in ("", there):
                raise BadInput("That hold lies in another recording. Nothing was changed.", "See the list of closed stretches.")
            for start_ms, end_ms in limits:
                if end_ms <= start_ms:
                    raise BadInput("A stretch must end after it starts.", "Write the times as 1:16 (minutes and seconds).")
                stretch = custody.snap_outwards(connection, stretch_within(connection, there, start_ms, end_ms))
                if not stretch.overlaps(Stretch(row.recording_id, row.start_ms, row.end_ms)):
                    raise BadInput("These limits lie outside what was closed.", "To close something else: `toldhere agreements seal`.")
                self._add_seal(connection, viewer, stretch, RestraintKind.SEALED, until + timedelta(days=1) if until else None, reason)
            self._open(connection, viewer, hold, reason)

    def _machine_closed(self, connection: Connection, hold: int) -> tuple[Row[Any], str]:
        row = consent_rows.restraint_by_id(connection, hold)
        if row is None or not row.rule or row.kind != RestraintKind.SEALED.value:
            raise NotFound("There is no such stretch that our own computer closed.", "See the list of what may have been said off the record.")
        if not any(r.id == hold and r.holds_on(self._rooms.today()) for r, _, _ in consent_rows.stretch_holds(connection)):
            raise Clash("Somebody has decided about this stretch already.", "Load the page again.")
        return row, recordings.by_id(connection, row.recording_id).code

    def _open(self, connection: Connection, viewer: Viewer, hold: int, reason: str) -> None:
        consent_rows.add_release(
            connection, restraint_id=hold, kind=ReleaseKind.LIFTED, from_on=self._rooms.today(), reason=reason, by=viewer.name, at=self._rooms.now()
        )
        audit.record(connection, viewer.name, "hold lifted", f"restraint {hold}", self._rooms.now())
