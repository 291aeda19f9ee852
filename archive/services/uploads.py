"""Files sent through a browser in pieces, and folders of this machine: kept until whole, then taken in as by the command.

The pieces that are here are on record with their checksums, so that a closed lid or a killed server goes on where it was. A
file is told from another of the same name by the sums of its pieces, and is taken in only when the sum of the whole is right.
"""

from __future__ import annotations

import contextlib
import hashlib
import re
import secrets
from pathlib import Path
from typing import Any

from archive.db import audit, jobs, uploads
from archive.db.session import Connection, Row
from archive.domain.pieces import count, extent
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound, Refused
from archive.files import browse
from archive.files.companions import MOST_BYTES
from archive.files.guard import NOT_SOUND, NOT_SOUND_NAMES, shown_name
from archive.files.uploads import NOT_THERE, Bytes, Running
from archive.files.uploads import Uploads as Folder
from archive.services.asking import asking
from archive.services.card import interview_alone
from archive.services.ingest import KIND, Ingest
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import UploadRow
from archive.services.sent import WHICH_TRACK, SentFiles, tracks_of
from archive.services.work import Lease

FOLDER = "uploads"
_BATCH = re.compile(r"[0-9a-f]{32}")
_SUM = re.compile(r"[0-9a-f]{64}")
_MOST_NAME = 200
_MOST_OPEN = 200


def subject_of(batch: str) -> str:
    """What the job that takes a batch in is about: a mark, no name."""
    return f"upload {batch[:8]}"


class Uploads:
    """Uploads of one archive, and the job that takes them in."""

    def __init__(self, rooms: Rooms, ingest: Ingest) -> None:
        self._rooms, self._ingest = rooms, ingest
        self._folder, self._running = Folder(rooms.folder / FOLDER), Running()
        self._sent = SentFiles(rooms, ingest, self._folder)

    # -- on the way --------------------------------------------------------------------------------------------
    def begin(
        self, viewer: Viewer, name: str, size: int, first_sha256: str, modified_ms: int = 0, interview: str = "", anew: bool = False, batch: str = ""
    ) -> tuple[str, dict[int, str]]:  # fmt: skip
        """(key, pieces that are here with their sums): a new one, or the one that was begun with this name, size and first piece.

        `anew`: another file, whatever was begun. `batch`: a mark of the files that were chosen together; they wait for `together`,
        and what was begun before with one of them waits with them. Raises BadInput, NoSpace.
        """
        need(viewer, *EDITORS)
        plain = shown_name(Path(name.replace("\\", "/").rsplit("/", 1)[-1]))[:_MOST_NAME]
        if batch and not _BATCH.fullmatch(batch):
            raise BadInput("The browser did not say which files belong together.", "Load the page again and choose the files once more.")
        self._admit(plain, size, first_sha256)
        with self._rooms.db.write() as connection:
            if interview:
                interview_alone(connection, interview)
            known = uploads.begun(connection, plain, size, first_sha256)
            if known is not None and anew:
                if batch and known.batch == batch:  # it turned out to be another file: what was chosen now does not wait for it
                    uploads.change(connection, known.id, batch=known.key)
            elif known is not None:
                if batch and not self._in_hand(connection, known):
                    uploads.join(connection, known.batch, batch)
                return known.key, uploads.pieces(connection, known.id)
            coming = [u for u in uploads.everything(connection) if u.state == uploads.OPEN]
            if len(coming) >= _MOST_OPEN:
                raise Refused("Too many files are on their way.", (), "Remove those that will not be finished, below.")
            self._folder.make_room(size + sum(u.bytes - self._came(connection, u) for u in coming))
            key, now = secrets.token_hex(16), self._rooms.now()
            uploads.add_upload(
                connection, key=key, name=plain, bytes=size, first_sha256=first_sha256, modified_ms=max(0, modified_ms),
                interview=interview[:40], batch=batch or key, by=viewer.name, at=now, touched_at=now,
            )  # fmt: skip
            self._running.begin(key)
            return key, {}

    def _admit(self, name: str, size: int, first_sha256: str) -> None:
        most = MOST_BYTES if Path(name).suffix.lower() in NOT_SOUND else self._rooms.options.max_bytes
        if name.startswith(".") or name.lower() in NOT_SOUND_NAMES:
            raise BadInput("This is not a recording.", "Send sound files, videos with sound, and what lies beside them on the card.")
        if size < 1:
            raise BadInput("The file is empty: it holds no bytes at all.", "Copy it again from the card.")
        if size > most:
            raise BadInput(f"The file has {size / 1e9:.1f} GB; the limit is {most / 1e9:.1f} GB.", "Cut it into parts, or raise the limit in archive.toml." if most > MOST_BYTES else "Keep it beside the archive.")
        if not _SUM.fullmatch(first_sha256):
            raise BadInput("The browser did not say which file this is.", "Load the page again and choose the file once more.")

    def _came(self, connection: Connection, row: Row[Any]) -> int:
        return sum(extent(row.bytes, n)[1] for n in uploads.pieces(connection, row.id))

    def put(self, viewer: Viewer, key: str, n: int, sha256: str, data: Bytes) -> None:
        """Keep one piece. Sent again, it is no other; another one at its place is another file. Raises BadInput, Clash, NoSpace."""
        need(viewer, *EDITORS)
        if hashlib.sha256(data).hexdigest() != sha256:
            raise BadInput("This piece did not arrive as it was sent.", "It is sent again.")
        with self._rooms.db.write() as connection:  # held while the piece is written: two that meet never mix
            row = self._find(connection, key)
            start, length = extent(row.bytes, n)
            if not length or len(data) != length:
                raise BadInput("This is no piece of that file.", "Load the page again and choose the file once more.")
            known = uploads.sum_of_piece(connection, row.id, n)
            if n == 0 and sha256 != row.first_sha256 or known not in ("", sha256):
                raise Clash("This is another file of the same name.", "It is sent from its beginning, beside the other one.")
            new = not known and row.state == uploads.OPEN
            if new:
                self._folder.put(key, start, data)
                uploads.keep_piece(connection, row.id, n, sha256, self._rooms.now())
        if new:
            self._running.came(key, n, data, lambda early: self._folder.read(key, *extent(row.bytes, early)))

    def finish(self, viewer: Viewer, key: str, sha256: str) -> list[int]:
        """All was sent, and this is the sum of the whole: it waits to be taken in, with those sent together. Returns the pieces that are missing yet."""
        need(viewer, *EDITORS)
        if not _SUM.fullmatch(sha256):
            raise BadInput("The sum of the whole file is missing.", "Load the page again and choose the file once more.")
        with self._rooms.db.read() as connection:
            row = self._find(connection, key)
            missing = self._missing(connection, row)
        if missing or row.state != uploads.OPEN:
            return missing
        summed = self._running.whole(key, count(row.bytes)) == sha256
        as_of = self._folder.settle(key) if summed else 0  # on the disk before the job may believe it
        with self._rooms.db.write() as connection:
            row = self._find(connection, key)
            missing = self._missing(connection, row)
            if not missing and row.state == uploads.OPEN:
                uploads.change(connection, row.id, state=uploads.WHOLE, sha256=sha256, as_of=as_of, words="", touched_at=self._rooms.now())
                if row.batch == row.key:
                    self._queue(connection, viewer, row.batch)
        return missing

    def together(self, viewer: Viewer, batch: str) -> int:
        """All files of a batch were sent: they wait to be taken in as one card. Returns how many are not whole; then nothing begins."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            missing = uploads.together(connection, batch, uploads.OPEN)
            if not missing and uploads.together(connection, batch, uploads.WHOLE):
                self._queue(connection, viewer, batch)
        return len(missing)

    def _missing(self, connection: Connection, row: Row[Any]) -> list[int]:
        here = uploads.pieces(connection, row.id)
        return [n for n in range(count(row.bytes)) if n not in here]

    def _queue(self, connection: Connection, viewer: Viewer, batch: str) -> None:
        jobs.add_job(connection, KIND, subject_of(batch), {"batch": batch, **asking(connection, viewer)}, viewer.name, self._rooms.now())

    def _in_hand(self, connection: Connection, row: Row[Any]) -> bool:
        """Whether a job takes this file in, or waits to."""
        job = jobs.newest_of(connection, KIND, subject_of(row.batch))
        return row.state == uploads.WHOLE and job is not None and job.state in jobs.OPEN

    def again(self, viewer: Viewer, key: str, track: int | None = None) -> None:
        """Try once more to take in a file that is here whole; `track`: which sound track (from 1), where it has several."""
        need(viewer, *EDITORS)
        if track is not None and not 1 <= track <= 64:
            raise BadInput("There is no such sound track.", "Write 1, 2, …")
        with self._rooms.db.write() as connection:
            row = self._find(connection, key)
            if row.state not in (uploads.REFUSED, uploads.WHOLE) or not self._folder.path(key).is_file():
                raise Clash("This file does not wait to be taken in.", "Load the page again.")
            chosen = row.track if track is None else track - 1
            uploads.change(connection, row.id, state=uploads.WHOLE, track=chosen, words="", touched_at=self._rooms.now())
            self._queue(connection, viewer, row.batch)

    def list(self, viewer: Viewer) -> tuple[UploadRow, ...]:
        """Every file that was sent or begun, the newest first, until it is removed from the list."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = uploads.everything(connection)
        return tuple(
            UploadRow(
                r.key, r.name, r.bytes, count(r.bytes), r.have, r.state, WHICH_TRACK if tracks else r.words, r.code or "", r.by, r.touched_at, r.interview,
                tracks,
            )
            for r in rows
            for tracks in [tracks_of(r)]
        )  # fmt: skip

    def remove(self, viewer: Viewer, key: str) -> None:
        """Forget a file that was sent or begun; a recording that was taken from it stays. Not while it is being taken in."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = self._find(connection, key)
            job = jobs.newest_of(connection, KIND, subject_of(row.batch))
            if row.state == uploads.WHOLE and job is not None and job.state == "working":
                raise Clash("This file is being taken in just now.", "Wait a moment, or stop it under Upkeep.")
            uploads.remove(connection, row.id)
            if job is not None and job.state in jobs.OPEN and not uploads.together(connection, row.batch, uploads.WHOLE):
                jobs.end(connection, job.id, "stopped", "The file was removed.", self._rooms.now())
            self._folder.remove(key)
            audit.record(connection, viewer.name, "upload removed", f"upload {row.id}", self._rooms.now(), state=row.state)

    def _find(self, connection: Connection, key: str) -> Row[Any]:
        row = uploads.by_key(connection, key)
        if row is None:
            raise NotFound(NOT_THERE, "Load the page again and choose the file once more.")
        return row

    # -- folders of this machine -------------------------------------------------------------------------------
    def tops(self, viewer: Viewer) -> tuple[browse.Shelf, ...]:
        """Folders from which a keeper at this machine may look."""
        need(viewer, *KEEPER)
        roots = browse.tops()
        found = []
        for root in roots:
            with contextlib.suppress(BadInput):  # unplugged meanwhile
                found.append(browse.look(str(root), roots))
        return tuple(found)

    def look(self, viewer: Viewer, path: str) -> browse.Shelf:
        """What lies in one folder. Raises BadInput for a folder that is not below home or a plugged-in disk."""
        need(viewer, *KEEPER)
        return browse.look(path, browse.tops())

    def take_folder(self, viewer: Viewer, path: str, interview: str = "") -> int:
        """Queue a folder of this machine to be taken in; returns the number of the job."""
        need(viewer, *KEEPER)
        return self._ingest.queue(viewer, [browse.allowed(path, browse.tops())], interview)

    # -- the job -----------------------------------------------------------------------------------------------
    def run(self, lease: Lease) -> str:
        """Take in what was queued: what was sent together, or a folder. Called again, it goes on: what is here is not taken twice."""
        return self._sent.take(lease) if "batch" in lease.args else self._ingest.run(lease)
