"""The second copy of every master: written, read back, read again from time to time, and one mended from the other.

What reading back proves: that the bytes came from behind this computer's own memory, which is asked to let go of them first.
A disk has memory of its own; a reading after it was unplugged proves more.
"""

from __future__ import annotations

import time
from dataclasses import asdict, dataclass, field
from typing import Any

from archive.db import audit, copies, jobs
from archive.db.copies import HERE, THERE
from archive.db.session import Connection, Row
from archive.domain.phrases import begin, many
from archive.domain.values import Viewer
from archive.errors import BadMedia, NoSpace, NotThere
from archive.files.masters import Fixity, Masters
from archive.services.at_once import Told, done_at_once
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import Checked, CopiesPage, CopyRow
from archive.services.secondplace import CONNECT, NOT_THERE, Place, SecondPlace
from archive.services.work import Lease

EVERY_S = 1.0  # how often a long reading looks whether it is still to go on
READ_BACK = (
    "Read back: the bytes came from the disk, as far as a computer can ask for that; it lets go of what it holds in its own memory "
    "first, and the disk may still answer from its own. A check after the disk was unplugged and connected again proves more."
)
NO_PLACE = "There is no second place yet."
CHOOSE = "Choose one on another disk: toldhere copies to FOLDER."
NAMES = {HERE: "The master", THERE: "The second copy"}


class _Pulse:
    """Counts bytes, and asks once a second whether the work may go on."""

    def __init__(self, lease: Lease, total: int) -> None:
        self._lease, self._total, self._done, self._next = lease, total, 0, 0.0

    def __call__(self, bytes_: int) -> None:
        self._done += bytes_
        if time.monotonic() >= self._next:
            self._lease.keep(lambda connection: self._lease.got(connection, min(self._done, self._total), self._total))
            self._next = time.monotonic() + EVERY_S


@dataclass
class _Outcome:
    """What a check found so far."""

    faults: list[str] = field(default_factory=list)
    mended: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    read: int = 0
    left: int = 0


class Copies:
    """Second copies of one archive."""

    def __init__(self, rooms: Rooms, place: SecondPlace) -> None:
        self._rooms, self.place = rooms, place

    def page(self, viewer: Viewer) -> CopiesPage:
        """Every master with its copy, and where both lie."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            place = self.place.known(connection)
            rows = copies.masters(connection, place.mark if place else "")
        there = self.place.is_there(place)
        away = "" if place is None or there else f"{NOT_THERE} {CONNECT}"
        return CopiesPage(
            folder=str(place.path) if place else "", away=away, other_disk=self.place.other_disk(place).value,
            said=place.said if place else "", warnings=self.place.warnings(),
            rows=tuple(
                CopyRow(r.code, r.bytes, r.copied_at, r.read_back_at, r.copy_checked_at, r.checked_at, r.trouble, r.copy_trouble or "")
                for r in rows
            ),
            proves=READ_BACK,
        )  # fmt: skip

    # -- writing --------------------------------------------------------------------------------------------------
    def make(self, viewer: Viewer, told: Told = lambda _: None) -> str:
        """Write whatever waits to the second place and read it back, now. Raises NotThere, NoSpace; LeaseLost where somebody paused it."""
        need(viewer, *EDITORS)
        ended = done_at_once(self._rooms, lambda connection: self._add_copy(connection, viewer), self.run, told)
        return str(ended.words)

    def queue(self, viewer: Viewer) -> None:
        """Let the worker write whatever waits. Raises NotThere where there is no second place, or its disk is away."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            self._add_copy(connection, viewer)

    def _add_copy(self, connection: Connection, viewer: Viewer) -> int:
        place = self._need_place(connection)
        self.place.masters(place)
        waits = set(copies.waiting(connection, place.mark))
        total = sum(2 * r.bytes for r in copies.masters(connection, place.mark) if r.id in waits)
        return jobs.add_job(connection, "copy", "to the second place", {}, viewer.name, self._rooms.now(), total=total)

    def run(self, lease: Lease) -> str:
        """The same as a job: goes on from the last master that was committed. Returns what came of it."""
        with self._rooms.db.read() as connection:
            place = self._need_place(connection)
            waits = set(copies.waiting(connection, place.mark))
            rows = [r for r in copies.masters(connection, place.mark) if r.id in waits]
        there = self.place.masters(place)
        there.sweep()
        pulse = _Pulse(lease, sum(r.bytes * (1 if r.copied_at else 2) for r in rows))
        read_back, troubles = 0, []
        for row in rows:
            trouble = self._copy(lease, place, there, row, pulse)
            troubles += [trouble] if trouble else []
            read_back += not trouble
        done = f"{begin(many(read_back, 'recording'))} written to the second place and read back." if rows else "Every recording is in the second place."
        return " ".join([done, *troubles])

    def _copy(self, lease: Lease, place: Place, there: Masters, row: Row[Any], pulse: _Pulse) -> str:
        """Write one master and read it back; returns what is wrong with it, or ""."""
        try:
            if there.find(row.sha256) is None:
                there.bring(self._rooms.masters.find(row.sha256) or self._rooms.masters.path(row.sha256, row.extension), row.sha256, row.extension, pulse)
        except BadMedia as bad:
            trouble = bad.message
            if bad.code == "damaged":
                lease.keep(lambda connection: copies.keep_reading(connection, row.id, HERE, place.mark, self._rooms.now(), trouble))
            if not self.place.is_there(place):
                raise NotThere(NOT_THERE, CONNECT) from bad
            return f"{_called(HERE, row)}: {trouble}"
        except NoSpace as full:
            raise NoSpace("There is not enough room in the second place.", "Make room on its disk, or choose another; what was copied is kept.") from full
        lease.keep(lambda connection: copies.keep_copy(connection, row.id, place.mark, self._rooms.now()))
        return self._read(lease, place, there, THERE, row, pulse)

    def _need_place(self, connection: Connection) -> Place:
        place = self.place.known(connection)
        if place is None:
            raise NotThere(NO_PLACE, CHOOSE)
        return place

    # -- reading again --------------------------------------------------------------------------------------------
    def check(self, viewer: Viewer, minutes: int = 0, mend: bool = False, told: Told = lambda _: None) -> Checked:
        """Read both copies again, the one checked longest ago first, for so many minutes (0: to the end), and tell differences.

        `mend`: replace a damaged one by the other where that one's sum is right; the damaged file is kept aside.
        """
        need(viewer, *EDITORS)
        ended = done_at_once(self._rooms, lambda connection: self._add_check(connection, viewer, minutes, mend), self.check_job, told)
        found = ended.outcome
        return Checked(tuple(found["faults"]), tuple(found["mended"]), tuple(found["notes"]), found["read"], found["left"])

    def queue_check(self, viewer: Viewer, minutes: int, mend: bool) -> None:
        """Let the worker do the same."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            self._add_check(connection, viewer, minutes, mend)

    def _add_check(self, connection: Connection, viewer: Viewer, minutes: int, mend: bool) -> int:
        args = {"minutes": minutes, "mend": mend, "by": viewer.name}
        return jobs.add_once(connection, "check", "of both copies", args, viewer.name, self._rooms.now())

    def check_job(self, lease: Lease) -> str:
        """The same as a job, with args `minutes`, `mend` and `by`; what it found is its outcome."""
        args = lease.args
        done = self._check(lease, str(args.get("by", "")), int(args.get("minutes", 0)), bool(args.get("mend")))
        lease.keep(lambda connection: lease.note(connection, **asdict(done)))
        return " ".join([*done.faults, *done.mended, *done.notes]) or f"{begin(many(done.read, 'file'))} read again, all whole."

    def _check(self, lease: Lease, by: str, minutes: int, mend: bool) -> Checked:
        until = time.monotonic() + minutes * 60 if minutes else None
        with self._rooms.db.read() as connection:
            place = self.place.known(connection)
            rows = copies.masters(connection, place.mark if place else "")
        found = _Outcome()
        sides = {HERE: self._rooms.masters}
        if place is not None and self.place.is_there(place):
            sides[THERE] = self.place.masters(place)
            sides[THERE].sweep()
        elif place is not None:
            found.notes.append(f"{NOT_THERE} Its copies were not read.")
        items = [(row.checked_at or "", row.id, HERE, row) for row in rows]
        items += [(row.copy_checked_at or "", row.id, THERE, row) for row in rows if THERE in sides and row.copied_at]
        items.sort(key=lambda item: item[:3])
        pulse = _Pulse(lease, sum(item[3].bytes for item in items))
        for _, _, side, row in items:
            if until is not None and time.monotonic() >= until:
                found.left += 1
                continue
            trouble = self._read(lease, place, sides[side], side, row, pulse)
            found.read += 1
            if trouble:
                self._told(lease, place, sides, side, row, trouble, by, mend, found)
        if found.left:
            found.notes.append(f"The time is over: {many(found.read, 'file')} read, {found.left} still to read. The next check begins with those.")
        return Checked(tuple(found.faults), tuple(found.mended), tuple(found.notes), found.read, found.left)

    def _read(self, lease: Lease, place: Place | None, masters: Masters, side: str, row: Row[Any], pulse: _Pulse) -> str:
        """Read one copy again and keep what came of it; returns what is wrong with it, or ""."""
        read = masters.verify(row.sha256, row.extension, pulse)
        if not read.whole and side == THERE and not self.place.is_there(place):
            raise NotThere(NOT_THERE, CONNECT)  # unplugged meanwhile: nothing is wrong with the copy
        trouble = "" if read.whole else read.words
        mark = place.mark if place else ""
        lease.keep(lambda connection: copies.keep_reading(connection, row.id, side, mark, self._rooms.now(), trouble))
        return f"{_called(side, row)}: {trouble}" if trouble else ""

    def _told(
        self, lease: Lease, place: Place | None, sides: dict[str, Masters], side: str, row: Row[Any], trouble: str, by: str,
        mend: bool, found: _Outcome,
    ) -> None:  # fmt: skip
        other = THERE if side == HERE else HERE
        if other not in sides or (other == THERE and not row.copied_at):
            found.faults.append(f"{trouble} There is no other copy within reach: restore it from a backup.")
            return
        source = sides[other].verify(row.sha256, row.extension)
        if not source.whole:
            found.faults.append(f"{trouble} The other copy is not whole either, and neither was touched: restore it from a backup.")
        elif not mend:
            found.faults.append(f"{trouble} The other copy is whole: check --fixity --mend mends it from that one.")
        else:
            self._mend(lease, place, sides, side, row, source, by)
            found.mended.append(f"{trouble} It was mended from the other copy, and the damaged file is kept aside.")

    def _mend(
        self, lease: Lease, place: Place | None, sides: dict[str, Masters], side: str, row: Row[Any], source: Fixity, by: str
    ) -> None:  # fmt: skip
        """On record before the file is touched, so that a kill between the two says too much and never too little."""
        def note(action: str) -> None:
            lease.keep(lambda connection: audit.record(connection, by, action, f"master {row.id}", self._rooms.now(), side=side, sha256=row.sha256))

        note("mending begun")
        sides[side].bring(source.path, row.sha256, row.extension, _Pulse(lease, row.bytes))
        self._read(lease, place, sides[side], side, row, _Pulse(lease, row.bytes))
        note("copy mended")


def _called(side: str, row: Row[Any]) -> str:
    return f"{NAMES[side]} of {row.code} ({row.sha256[:12]}…)"
