"""Taking in what was sent through a browser: the files that were chosen together are one card, with its companions and its sheet."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from archive.db import recordings, uploads
from archive.db.session import Connection, Row
from archive.domain.phrases import many
from archive.domain.pieces import extent
from archive.domain.values import Viewer
from archive.errors import Refused, SheetError
from archive.files.companions import companions_of
from archive.files.guard import NOT_SOUND, Source
from archive.files.uploads import Uploads as Folder
from archive.services.asking import asked_by
from archive.services.card import SHEET
from archive.services.ingest import Ingest, Sent
from archive.services.rooms import Rooms
from archive.services.rows import Finding
from archive.services.work import Lease

_TRACKS = re.compile(r" sound tracks \(1: (.+?)\), and nobody")  # of probe.sound_stream's words
WHICH_TRACK = "It has several sound tracks, and one of them is the recording: choose it below. The whole file is kept, whichever it is."
ALONE = "None of the recordings that it was sent with has its name, so it was not kept. Send it together with its recording."
Batch = Sequence[Row[Any]]


def tracks_of(row: Row[Any]) -> tuple[str, ...]:
    """Its sound tracks ("2 channels, eng"), where it was refused because nobody said which one."""
    told = _TRACKS.search(row.words) if row.state == uploads.REFUSED and row.track is None else None
    return tuple(f"{n}: {track}" for n, track in enumerate(re.split(r"; \d+: ", told[1]), 1)) if told else ()


class SentFiles:
    """The job's side of uploads."""

    def __init__(self, rooms: Rooms, ingest: Ingest, folder: Folder) -> None:
        self._rooms, self._ingest, self._folder = rooms, ingest, folder

    def take(self, lease: Lease) -> str:
        """Take in what is whole of a batch. Called again, it goes on: what was closed is not taken twice."""
        batch = str(lease.args["batch"])
        with self._rooms.db.read() as connection:
            viewer, rows = asked_by(connection, lease), uploads.together(connection, batch, uploads.WHOLE)
        for row in rows:
            self._must_be_whole(lease, row)
        sounds = [r for r in rows if Path(r.name).suffix.lower() not in NOT_SOUND]
        sheets = [r for r in rows if r.name.lower() == SHEET]
        beside = [r for r in rows if r not in sounds and r not in sheets]
        sent = [self._sent(row, beside) for row in sounds]
        by_path = {self._folder.path(row.key): row for row in sounds}
        done = [0]

        def came(one: Sent, found: Finding) -> None:
            row = by_path[one.source.path]
            done[0] += row.bytes
            self._close(lease, row, "refused" if found.outcome == "refused" else "taken", found.words, found.recording, (done[0], sum(r.bytes for r in rows)))

        told = self._with_sheet(lease, viewer, sheets, sent, came)
        self._close_rest(lease, batch, beside, sheets, told)
        with self._rooms.db.read() as connection:
            return _said(uploads.together(connection, batch, uploads.TAKEN, uploads.REFUSED))

    def _sent(self, row: Row[Any], beside: Batch) -> Sent:
        path = self._folder.path(row.key)
        with contextlib.suppress(OSError):
            os.utime(path, ns=(row.modified_ms * 1_000_000, row.modified_ms * 1_000_000))  # as the card had it: takes are told by it
        others = tuple((self._folder.path(b.key), b.name) for b in beside)
        return Sent(Source(path, row.name, below=row.name, ours=row.sha256, beside=others), row.interview, row.track)

    def _with_sheet(
        self, lease: Lease, viewer: Viewer, sheets: Batch, sent: Sequence[Sent], came: Callable[[Sent, Finding], None]
    ) -> dict[str, tuple[str, str]]:  # fmt: skip
        """key → (state, words) of the sheets. A sheet with faults is not read at all; the recordings are kept all the same."""
        told = {row.key: (uploads.REFUSED, f"Two files called {SHEET} came; neither was read. Send the right one alone.") for row in sheets}
        root = self._folder.root
        with tempfile.TemporaryDirectory(dir=root) as here:
            sheet = None
            if len(sheets) == 1:
                sheet = Path(shutil.copyfile(self._folder.path(sheets[0].key), Path(here) / SHEET))
            try:
                others = self._ingest.take_sent(lease, viewer, sent, root, sheet, came)
            except SheetError as faulty:
                self._ingest.take_sent(lease, viewer, sent, root, None, came)
                words = " ".join([faulty.message, *faulty.findings, "Nothing of it was taken; the recordings are kept. Mend it and send it again, alone if you like."])
                return {sheets[0].key: (uploads.REFUSED, words)}
        if sheet:
            lines = [f"{f.source_name}: {f.words}" for f in others]
            told = {sheets[0].key: (uploads.TAKEN, " ".join(["It was read.", *lines]))}
        return told

    def _close_rest(self, lease: Lease, batch: str, beside: Batch, sheets: Batch, told: dict[str, tuple[str, str]]) -> None:
        """The companions and the sheet, after the recordings; they wait where a sound track must be chosen yet."""
        with self._rooms.db.read() as connection:
            waits = [r.name for r in uploads.together(connection, batch, uploads.REFUSED) if tracks_of(r)]
            taken = [self._sent(r, beside).source for r in uploads.together(connection, batch, uploads.TAKEN)]
        for row in [*beside, *sheets]:
            if waits:
                words = f"It waits until somebody says which sound track of {waits[0]} is the interview."
                lease.keep(lambda connection, row=row, words=words: uploads.change(connection, row.id, words=words))  # type: ignore[misc]
                continue
            own = [source.name for source in taken if row.name in {c.name for c in companions_of(source)}]
            kept = (uploads.TAKEN, f"Kept beside {', '.join(own)}.") if own else (uploads.REFUSED, ALONE)
            state, words = told.get(row.key, kept)
            self._close(lease, row, state, words, "", None)

    def _close(self, lease: Lease, row: Row[Any], state: str, words: str, code: str, done: tuple[int, int] | None) -> None:
        def close(connection: Connection) -> None:
            recording = recordings.by_code(connection, code) if code else None
            values = {"state": state, "words": words, "recording_id": recording.id if recording is not None else None}
            uploads.change(connection, row.id, touched_at=self._rooms.now(), **values)
            if done:
                lease.got(connection, *done)

        lease.keep(close)
        if state == uploads.TAKEN:
            self._folder.remove(row.key)

    # -- is it what was sent -----------------------------------------------------------------------------------
    def _must_be_whole(self, lease: Lease, row: Row[Any]) -> None:
        """Raises Refused where the file is not what was sent; then the pieces that are not are asked for again."""
        if row.as_of and self._folder.changed_ns(row.key) == row.as_of:  # summed while it came, and not touched since
            return
        lost = self._lost(row, lease.alive)
        if lost is None:
            return
        words = _lost_words(lost)
        lease.keep(lambda connection: self._reopen(connection, row, lost, words))
        raise Refused(words, (), "")

    def _lost(self, row: Row[Any], alive: Callable[[], None]) -> Sequence[int] | None:
        """None where the file is exactly what was sent; else its pieces that are not (empty: all are, and the browser's sum is another)."""
        alive()
        if self._folder.sum_of(row.key, 0, row.bytes, alive) == row.sha256:
            return None
        with self._rooms.db.read() as connection:
            here = uploads.pieces(connection, row.id)
        return [n for n, said in sorted(here.items()) if self._folder.sum_of(row.key, *extent(row.bytes, n), alive) != said]

    def _reopen(self, connection: Connection, row: Row[Any], lost: Sequence[int], words: str) -> None:
        uploads.drop_pieces(connection, row.id, lost)
        state = uploads.OPEN if lost else uploads.REFUSED
        uploads.change(connection, row.id, state=state, as_of=0, words=words, touched_at=self._rooms.now())


def _lost_words(lost: Sequence[int]) -> str:
    if lost:
        return f"{many(len(lost), 'piece')} did not reach the disk. Choose the same file again: only {'it is' if len(lost) == 1 else 'they are'} sent once more."
    return "The file changed while it was sent: its pieces are not those of the whole. Nothing was taken; remove it below and send it again."


def _said(rows: Batch) -> str:
    if len(rows) == 1:
        return str(rows[0].words)
    refused = [r.name for r in rows if r.state == uploads.REFUSED]
    return f"{many(len(rows) - len(refused), 'file')} taken, {len(refused)} refused: see “Sent before” on the page “Take recordings in”."
