"""The second place: the folder on another disk where every master lies again, known by a mark that lies in it."""

from __future__ import annotations

import json
import os
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from archive.db import audit, facts
from archive.db.session import Connection
from archive.domain.disks import Answer, Lies, System, lies, on_different_disks, uploaded_at
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotThere
from archive.files.masters import Masters
from archive.files.system import device_of, look, marks_above
from archive.services.rooms import KEEPER, Rooms, need

FACT = "second_place"  # JSON: path, mark, said (who looked that it is another disk, and when)
ARCHIVE_MARK = "archive_mark"
MARK_FILE = "second-copy.txt"
WORDS = (
    "This folder is the second copy of an archive of Told Here: its recordings, under their checksums.\n"
    "Keep it whole, on a disk of its own that is encrypted, and connect it only while it is written or read.\n"
)
NOT_THERE = "The second place is not there: its folder is missing, or another disk is connected."
CONNECT = "Connect its disk and try again; nothing is lost, and what waits goes on then."


@dataclass(frozen=True, slots=True)
class Place:
    """The second place as it is on record."""

    path: Path
    mark: str
    said: str = ""


class SecondPlace:
    """Choosing and finding the second place of one archive, and where it and the archive lie."""

    def __init__(self, rooms: Rooms, look: Callable[[], System] = look, device_of: Callable[[Path], int | None] = device_of) -> None:
        self._rooms, self._look, self._device_of = rooms, look, device_of

    def known(self, connection: Connection) -> Place | None:
        """What is on record, or None."""
        text = facts.get_fact(connection, FACT)
        if not text:
            return None
        kept = json.loads(text)
        return Place(Path(kept["path"]), kept["mark"], kept.get("said", ""))

    def chosen(self) -> bool:
        """Whether there is one on record."""
        with self._rooms.db.read() as connection:
            return self.known(connection) is not None

    def choose(self, viewer: Viewer, folder: Path, said_other_disk: bool = False) -> Place:
        """Make `folder` the second place, or go on with it. Raises BadInput, Clash, NotThere. Files that are there stay."""
        folder = Path(os.path.abspath(folder))
        with self._rooms.db.read() as connection:
            before = self.known(connection)
        if before is not None and before.path == folder and not said_other_disk and _mark_in(folder)[1] == before.mark:
            return before  # named again, as with every card
        need(viewer, *KEEPER)
        own = self._rooms.folder.resolve()
        there = folder.resolve()
        if there.is_relative_to(own) or own.is_relative_to(there):
            raise BadInput("The second place can't lie in the archive's folder, nor around it.", "Name a folder on another disk.")
        with self._rooms.db.write() as connection:
            mark = facts.get_fact(connection, ARCHIVE_MARK) or secrets.token_hex(16)
            facts.set_fact(connection, ARCHIVE_MARK, mark)
        place = Place(folder, self._settled(folder, mark), f"{viewer.name}, {self._rooms.now()}" if said_other_disk else "")
        if before is not None and not place.said and before.mark == place.mark:
            place = Place(folder, place.mark, before.said)
        with self._rooms.db.write() as connection:
            facts.set_fact(connection, FACT, json.dumps({"path": str(folder), "mark": place.mark, "said": place.said}))
            audit.record(
                connection, viewer.name, "second place chosen", "second place", self._rooms.now(),
                mark=place.mark[:12], said_other_disk=said_other_disk,
            )  # fmt: skip
        return place

    def _settled(self, folder: Path, archive_mark: str) -> str:
        """The mark of this place, written where there is none."""
        if not folder.parent.is_dir():
            raise NotThere("The folder above the one you named is not there.", "Connect the disk, or look how its name is written.")
        whose, mark = _mark_in(folder)
        if whose:
            if whose != archive_mark:
                raise Clash("This folder is the second copy of another archive.", "Name a new folder on that disk.")
            return mark
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise Clash("This folder is not empty.", "Name a new folder on that disk, for this alone.")
        try:
            folder.mkdir(mode=0o700, exist_ok=True)
            mark = secrets.token_hex(16)
            half = folder / f".{MARK_FILE}"
            with open(half, "w", encoding="utf-8") as stream:
                stream.write(f"{WORDS}archive {archive_mark}\nplace {mark}\n")
                stream.flush()
                os.fsync(stream.fileno())
            os.replace(half, folder / MARK_FILE)
        except OSError as trouble:
            raise NotThere("Nothing can be written to the folder you named.", "Look whether its disk is locked, full, or yours to write to.") from trouble
        return mark

    def masters(self, place: Place) -> Masters:
        """The copies in it. Raises NotThere where the folder is not the one that was chosen: an empty mount point is none."""
        if _mark_in(place.path)[1] != place.mark:
            raise NotThere(NOT_THERE, CONNECT)
        return Masters(place.path / "masters")

    def is_there(self, place: Place | None) -> bool:
        """Whether it can be read now."""
        return place is not None and _mark_in(place.path)[1] == place.mark

    # -- where both lie -------------------------------------------------------------------------------------------
    def other_disk(self, place: Place | None) -> Answer:
        """Whether the archive and its second place lie on different physical disks, as far as this computer tells."""
        if place is None or not self.is_there(place):
            return Answer.UNKNOWN
        own, there = self._rooms.folder, place.path
        same = self._device_of(own) is not None and self._device_of(own) == self._device_of(there)
        system = self._look()
        return on_different_disks(_lies(own, system), _lies(there, system), same)

    def warnings(self) -> tuple[str, ...]:
        """What must be said plainly of where the archive and its second copy lie."""
        with self._rooms.db.read() as connection:
            place = self.known(connection)
        there = place if self.is_there(place) else None
        system = self._look()
        found = _of_one("The archive", self._rooms.folder, system)
        if there is not None:
            found += _of_one("The second copy", there.path, system)
            if self.other_disk(there) == Answer.NO:
                found.append("The archive and its second copy lie on one physical disk, or one of them in memory: what breaks it takes both, and no card may be cleared.")
            elif self.other_disk(there) == Answer.UNKNOWN and not there.said:
                found.append("Whether the archive and its second copy lie on different disks, this computer could not find out.")
        return tuple(found)


def _of_one(what: str, folder: Path, system: System) -> list[str]:
    found = []
    real = folder.resolve()
    uploaded = [Path(*p.parts[:n]) for p in (folder, real) if (n := uploaded_at(p.parts, marks_above(p)))]
    if uploaded:
        found.append(f"{what} lies in a folder that looks like one which a service uploads ({uploaded[0]}). Testimony then lies with strangers: move it out.")
    where = _lies(folder, system)
    if where.encrypted == Answer.NO:
        found.append(f"{what} lies on a disk on which no encryption was found: whoever takes the disk can read everything.")
    elif where.encrypted == Answer.UNKNOWN and not where.in_memory:
        found.append(f"Whether the disk of {what[0].lower()}{what[1:]} is encrypted: could not find out. Look in your system's settings.")
    if where.in_memory:
        found.append(f"{what} lies in memory: it is gone when this computer is switched off.")
    return found


def _lies(folder: Path, system: System) -> Lies:
    return lies(str(folder.resolve()), system)


def _mark_in(folder: Path) -> tuple[str, str]:
    """(mark of the archive, mark of the place) that lie in a folder; ("", "") where none do."""
    try:
        text = (folder / MARK_FILE).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return "", ""
    found = dict(re.findall(r"^(archive|place) ([0-9a-f]{32})$", text, re.M))
    return found.get("archive", ""), found.get("place", "")
