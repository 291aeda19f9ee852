"""Files sent through a browser in pieces, and folders of this machine: kept until whole, then taken in as by the command.

The pieces that are here are on record with their checksums, so that a closed lid or a killed server goes on where it was. A
file is told from another of the same name by the sums of its pieces, and is taken in only when the sum of the whole is right.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from archive.db import audit, jobs, recordings, uploads
from archive.db.session import Connection, Row
from archive.domain.phrases import many
from archive.domain.pieces import count, extent
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound, Refused
from archive.files import browse
from archive.files.guard import NOT_SOUND, Source, shown_name
from archive.files.uploads import Uploads as Folder
from archive.services.asking import asked_by
from archive.services.card import interview_alone
from archive.services.ingest import KIND, Ingest
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import UploadRow
from archive.services.work import Lease

FOLDER = "uploads"
_SUM = re.compile(r"[0-9a-f]{64}")
_MOST_NAME = 200
_MOST_OPEN = 200
NOT_THERE = "There is no such file on its way."


class Uploads:
    """Uploads of one archive, and the job that takes them in."""

    def __init__(self, rooms: Rooms, ingest: Ingest) -> None:
        self._rooms, self._ingest = rooms, ingest
        self._folder = Folder(rooms.folder / FOLDER)

    # -- on the way --------------------------------------------------------------------------------------------
    def begin(
        self, viewer: Viewer, name: str, size: int, first_sha256: str, modified_ms: int = 0, interview: str = "", anew: bool = False
    ) -> tuple[str, dict[int, str]]:  # fmt: skip
        """(key, pieces that are here with their sums): a new one, or the one that was begun with this name, size and first piece.

        `anew`: another file, whatever was begun. Raises BadInput, NoSpace.
        """
        need(viewer, *EDITORS)
        plain = shown_name(Path(name.replace("\\", "/").rsplit("/", 1)[-1]))[:_MOST_NAME]
        self._admit(plain, size, first_sha256)
        with self._rooms.db.write() as connection:
            if interview:
                interview_alone(connection, interview)
            known = None if anew else uploads.begun(connection, plain, size, first_sha256)
            if known is not None:
                return known.key, uploads.pieces(connection, known.id)
            coming = [u for u in uploads.everything(connection) if u.state == uploads.OPEN]
            if len(coming) >= _MOST_OPEN:
                raise Refused("Too many files are on their way.", (), "Remove those that will not be finished, below.")
            self._folder.make_room(size + sum(u.bytes - self._came(connection, u) for u in coming))
            key, now = secrets.token_hex(16), self._rooms.now()
            uploads.add_upload(
                connection, key=key, name=plain, bytes=size, first_sha256=first_sha256, modified_ms=max(0, modified_ms),
                interview=interview[:40], by=viewer.name, at=now, touched_at=now,
            )  # fmt: skip
            return key, {}

    def _admit(self, name: str, size: int, first_sha256: str) -> None:
        most = self._rooms.options.max_bytes
        if Path(name).suffix.lower() in NOT_SOUND:
            raise BadInput("This is not a recording.", "Send sound files, or videos with sound.")
        if size < 1:
            raise BadInput("The file is empty: it holds no bytes at all.", "Copy it again from the card.")
        if size > most:
            raise BadInput(f"The file has {size / 1e9:.1f} GB; the limit is {most / 1e9:.1f} GB.", "Cut it into parts, or raise the limit in archive.toml.")
        if not _SUM.fullmatch(first_sha256):
            raise BadInput("The browser did not say which file this is.", "Load the page again and choose the file once more.")

    def _came(self, connection: Connection, row: Row[Any]) -> int:
        return sum(extent(row.bytes, n)[1] for n in uploads.pieces(connection, row.id))

    def put(self, viewer: Viewer, key: str, n: int, sha256: str, data: bytes) -> None:
        """Keep one piece. Sent again, it is no other; another one at its place is another file. Raises BadInput, Clash, NoSpace."""
        need(viewer, *EDITORS)
        if hashlib.sha256(data).hexdigest() != sha256:
            raise BadInput("This piece did not arrive as it was sent.", "It is sent again.")
        with self._rooms.db.write() as connection:  # held while the piece is written: two that meet never mix
            row = self._find(connection, key)
            start, length = extent(row.bytes, n)
            if not length or len(data) != length:
                raise BadInput("This is no piece of that file.", "Load the page again and choose the file once more.")
            known = uploads.pieces(connection, row.id).get(n)
            if n == 0 and sha256 != row.first_sha256 or known not in (None, sha256):
                raise Clash("This is another file of the same name.", "It is sent from its beginning, beside the other one.")
            if known is None and row.state == uploads.OPEN:
                self._folder.put(key, start, data)
                uploads.keep_piece(connection, row.id, n, sha256, self._rooms.now())

    def finish(self, viewer: Viewer, key: str, sha256: str) -> list[int]:
        """All was sent, and this is the sum of the whole: it waits to be taken in. Returns the pieces that are missing yet, if any."""
        need(viewer, *EDITORS)
        if not _SUM.fullmatch(sha256):
            raise BadInput("The sum of the whole file is missing.", "Load the page again and choose the file once more.")
        with self._rooms.db.write() as connection:
            row = self._find(connection, key)
            here = uploads.pieces(connection, row.id)
            missing = [n for n in range(count(row.bytes)) if n not in here]
            if not missing and row.state == uploads.OPEN:
                uploads.change(connection, row.id, state=uploads.WHOLE, sha256=sha256, words="", touched_at=self._rooms.now())
                self._queue(connection, viewer, row)
        return missing

    def _queue(self, connection: Connection, viewer: Viewer, row: Row[Any]) -> None:
        args = {"upload": row.key, "role": viewer.role.value}
        jobs.add_job(connection, KIND, f"upload {row.id}", args, viewer.name, self._rooms.now())

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
            self._queue(connection, viewer, row)

    def list(self, viewer: Viewer) -> tuple[UploadRow, ...]:
        """Every file that was sent or begun, the newest first, until it is removed from the list."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = uploads.everything(connection)
        return tuple(
            UploadRow(
                r.key, r.name, r.bytes, count(r.bytes), r.have, r.state, r.words, r.code or "", r.by, r.touched_at, r.interview,
                r.state == uploads.REFUSED and r.track is None and "sound tracks (" in r.words,
            )
            for r in rows
        )  # fmt: skip

    def remove(self, viewer: Viewer, key: str) -> None:
        """Forget a file that was sent or begun; a recording that was taken from it stays. Not while it is being taken in."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = self._find(connection, key)
            job = jobs.newest_of(connection, KIND, f"upload {row.id}")
            if row.state == uploads.WHOLE and job is not None and job.state == "working":
                raise Clash("This file is being taken in just now.", "Wait a moment, or stop it under Upkeep.")
            if job is not None and job.state in jobs.OPEN:
                jobs.end(connection, job.id, "stopped", "The file was removed.", self._rooms.now())
            uploads.remove(connection, row.id)
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
        """Take in what was queued: a whole upload, or a folder. Called again, it goes on: what is here is not taken twice."""
        return self._run_upload(lease) if "upload" in lease.args else self._ingest.run(lease)

    def _run_upload(self, lease: Lease) -> str:
        key = str(lease.args["upload"])
        with self._rooms.db.read() as connection:
            viewer, row = asked_by(connection, lease), self._find(connection, key)
        if row.state != uploads.WHOLE:  # done by whoever died after it
            return str(row.words)
        lost = self._lost(row, lease.alive)
        if lost is not None:
            words = self._lost_words(lost)
            lease.keep(lambda connection: self._reopen(connection, row, lost, words))
            raise Refused(words, (), "")
        path = self._folder.path(key)
        with contextlib.suppress(OSError):
            os.utime(path, ns=(row.modified_ms * 1_000_000, row.modified_ms * 1_000_000))  # as the card had it: takes are told by it
        found = self._ingest.take_ours(viewer, Source(path, row.name, below=row.name, ours=row.sha256), row.interview, row.track, lease)
        state = uploads.REFUSED if found.outcome == "refused" else uploads.TAKEN

        def close(connection: Connection) -> None:
            recording = recordings.by_code(connection, found.recording) if found.recording else None
            values = {"state": state, "words": found.words, "recording_id": recording.id if recording is not None else None}
            uploads.change(connection, row.id, touched_at=self._rooms.now(), **values)
            lease.got(connection, row.bytes, row.bytes)

        lease.keep(close)
        if state == uploads.TAKEN:
            self._folder.remove(key)
        return found.words

    def _lost(self, row: Row[Any], alive: Callable[[], None]) -> Sequence[int] | None:
        """None where the file is exactly what was sent; else its pieces that are not (empty: all are, and the browser's sum is another)."""
        digest = hashlib.sha256()
        with contextlib.suppress(OSError), open(self._folder.path(row.key), "rb") as stream:
            while piece := stream.read(extent(row.bytes, 0)[1]):
                digest.update(piece)
                alive()
        if digest.hexdigest() == row.sha256:
            return None
        with self._rooms.db.read() as connection:
            here = uploads.pieces(connection, row.id)
        lost = []
        for n, said in sorted(here.items()):
            alive()
            if self._folder.sum_of(row.key, *extent(row.bytes, n)) != said:
                lost.append(n)
        return lost

    def _lost_words(self, lost: Sequence[int]) -> str:
        if lost:
            return f"{many(len(lost), 'piece')} did not reach the disk. Choose the same file again: only {'it is' if len(lost) == 1 else 'they are'} sent once more."
        return "The file changed while it was sent: its pieces are not those of the whole. Nothing was taken; remove it below and send it again."

    def _reopen(self, connection: Connection, row: Row[Any], lost: Sequence[int], words: str) -> None:
        uploads.drop_pieces(connection, row.id, lost)
        state = uploads.OPEN if lost else uploads.REFUSED
        uploads.change(connection, row.id, state=state, words=words, touched_at=self._rooms.now())
