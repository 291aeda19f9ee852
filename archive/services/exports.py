"""What leaves: decide, make in staging, scan, decide again and register, give (DESIGN §6). The writer lock is held only briefly.

A crash over-reports and never under-reports: the register says `approved` before the files are moved where they can be seen.
"""

from __future__ import annotations

import errno
import functools
import glob
import hashlib
import os
import secrets
import shutil
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from archive.audio import disguise
from archive.audio.cut import make_clip, piece_of_clip
from archive.db import audit, consent_rows, excerpts
from archive.db.session import Connection, Row
from archive.domain.cleared import ClearedCaption, ClearedClip, ClearedExport
from archive.domain.values import Viewer
from archive.errors import BadInput, Broken, Clash, ConsentMoved, NoSpace, NotFound, Refused, ScanRefused
from archive.gate.clear import EXCERPT, Clearing, Refusal, clear
from archive.gate.pinned import Pinned
from archive.gate.played import play_leaving
from archive.gate.reading import Readings
from archive.gate.scan import Finding, matcher_for, scan_with
from archive.render import captions, docx, jsonout
from archive.services.listening import HEARD_NOTHING, Listening
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import ExportReport, LeftRow

STAGING = ".staging"
GIVEN = "given"
TEAM_ONLY = "for-the-team"
LEFT_OVER_S = 3600


class Exports:
    """Exports of one archive, and their register."""

    def __init__(self, rooms: Rooms, listening: Listening) -> None:
        self._rooms = rooms
        self.listening = listening
        self._key = secrets.token_bytes(16)  # of the disguises that are listened to; each export draws its own

    def make(self, viewer: Viewer, codes: Sequence[str], use: str, to: Path | None = None) -> ExportReport:
        """Give what may leave of these excerpts for this use; refused ones come back with all their reasons.

        Raises ScanRefused, ConsentMoved, NoSpace: then nothing was given.
        """
        need(viewer, *EDITORS)
        if not codes:
            raise BadInput("Nothing was chosen to leave.", "Name one or more excerpts (EX-1), or choose some on a recording.")
        with self._rooms.db.read() as connection:
            consent_rows.load_use(connection, use)
            code = excerpts.next_export_code(connection)
            first = self._clear(connection, codes, use, code)
        if not first.export.quotes:
            return self._nothing(viewer, use, first)
        target = self._target(to, code)
        if to is not None and matcher_for(first.export.forbidden).first_hit(target.name, any_case=True) is not None:
            raise BadInput("The name of the folder holds a name that must not leave; nothing was given.", "Name the folder otherwise.")
        _sweep(self._rooms.folder / STAGING)
        staging = self._rooms.folder / STAGING / secrets.token_hex(12)
        try:
            sums, listened = self._made(first, staging)
            export_id, code = self._registered(viewer, codes, use, first, sums, target, listened)
            _give(staging, target)
        except ScanRefused as refused:
            with self._rooms.db.write() as connection:
                held = refused.excerpts or [i.excerpt_code for i in first.export.insides]
                audit.record(
                    connection, viewer.name, "export held back", "export", self._rooms.now(), use=use, excerpts=list(held),
                    findings=len(refused.reasons),
                )  # fmt: skip
            raise
        except OSError as error:
            if error.errno in (errno.ENOSPC, errno.EDQUOT):
                raise NoSpace("The disk is full; nothing was given.") from None
            raise BadInput("The files could not be written where they were asked for.", "Name a folder that may be written to.") from None
        finally:
            shutil.rmtree(staging, ignore_errors=True)
        with self._rooms.db.write() as connection:
            excerpts.mark_given(connection, export_id, self._rooms.now())
            audit.record(connection, viewer.name, "export given", f"export {export_id}", self._rooms.now())
        return ExportReport(
            code, str(target), tuple(str(target / name) for name in sorted(sums)),
            tuple(i.excerpt_code for i in first.export.insides), first.refused, first.withheld, first.export.draft,
            tuple(f"{i.excerpt_code}: {q.draft_reason}" for q, i in zip(first.export.quotes, first.export.insides, strict=True) if q.draft),
            listened, first.voices,
        )  # fmt: skip

    def listen(self, viewer: Viewer, excerpt: str, start_ms: int, end_ms: int) -> bytes:
        """A stretch of an excerpt as its clip would have it for its own use, as a WAV (mono, 48 kHz, 16 bit). Raises NotFound, Refused."""
        need(viewer, *EDITORS)
        options = self._rooms.options
        with self._rooms.db.read() as connection:
            row = excerpts.by_code(connection, excerpt)
            if row is None:
                raise NotFound("There is no such excerpt.")
            clip = play_leaving(Readings(connection, self._rooms.context()), viewer, row, start_ms, end_ms, options.mute_margin_ms)
        source = self._rooms.masters.path(clip.master_sha256, clip.extension)
        return piece_of_clip(clip, source, start_ms, end_ms, disguise.seed_for(self._key, clip.voice))

    def _clear(self, connection: Connection, codes: Sequence[str], use: str, code: str) -> Clearing:
        options = self._rooms.options
        return clear(connection, codes, use, self._rooms.context(), options.name, options.mute_margin_ms, code)

    def _nothing(self, viewer: Viewer, use: str, first: Clearing) -> ExportReport:
        with self._rooms.db.write() as connection:
            audit.record(
                connection, viewer.name, "export refused", "export", self._rooms.now(), use=use,
                excerpts=_on_record(first.refused),
            )  # fmt: skip
        return ExportReport("", "", (), (), first.refused, first.withheld, False)

    def _target(self, to: Path | None, code: str) -> Path:
        target = Path(os.path.abspath(to)) if to is not None else self._rooms.folder / GIVEN / code
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise Clash("The folder for the export is there already and is not empty.", "Name a new folder.")
        return target

    # -- made and scanned ----------------------------------------------------------------------------------------
    def _made(self, clearing: Clearing, staging: Path) -> tuple[dict[str, str], str]:
        """Write every file into staging, listen to the clips and read all back. Returns name → SHA-256, and what listening
        back gave. Raises ScanRefused."""
        export = clearing.export
        matcher = matcher_for(export.forbidden, export.allowed)
        ours = self._team_files(export)
        for name, write in self._files(export).items():
            if name not in ours:
                _write(write, staging / name)
        clips = [(clip, staging / f"{_stem(clip)}.wav") for clip in export.clips]
        listened = self.listening.back(export, clips, matcher)
        for name, write in self._team_files(export, listened).items():  # they say whether the machine listened
            _write(write, staging / name)
        findings: list[Finding] = []
        sums: dict[str, str] = {}
        for path in sorted(p for p in staging.rglob("*") if p.is_file()):
            findings += scan_with(matcher, path)
            with open(path, "rb+") as stream:
                os.fsync(stream.fileno())  # a power cut after the register must not leave empty files
                sums[path.relative_to(staging).as_posix()] = hashlib.file_digest(stream, "sha256").hexdigest()
        if findings:
            raise ScanRefused(
                "The last look at the finished files found something that must not leave.",
                tuple(f.sentence() for f in findings),
            )
        return sums, listened

    def _files(self, export: ClearedExport) -> dict[str, Callable[[Path], object]]:
        """Everything an export gives: name → how it is written. The list of outputs that the tests walk."""
        mark = "DRAFT-" if export.draft else ""
        files: dict[str, Callable[[Path], object]] = {
            f"{mark}wall-text.docx": lambda path: path.write_bytes(docx.wall_text_sheet(export)),
            f"{mark}quotes.json": lambda path: path.write_bytes(jsonout.quotes_json(export)),
        }
        key = secrets.token_bytes(16)  # of this export's disguises: kept nowhere, so that nobody can undo them by it
        for clip in export.clips:
            files |= self._clip_files(clip, key)
        return files | self._team_files(export)

    def _team_files(self, export: ClearedExport, listened: str = "") -> dict[str, Callable[[Path], object]]:
        mark = "DRAFT-" if export.draft else ""
        return {
            f"{TEAM_ONLY}/{mark}internal-sheet.docx": lambda path: path.write_bytes(docx.inside_sheet(export, listened)),
        }

    def _clip_files(self, clip: ClearedClip, key: bytes) -> dict[str, Callable[[Path], object]]:
        stem = _stem(clip)
        seed = disguise.seed_for(key, clip.voice)
        length_ms = sum(p.end_ms - p.start_ms for p in clip.pieces)
        source = self._rooms.masters.path(clip.master_sha256, clip.extension)
        options = self._rooms.options
        loudness, bed, beep = options.clip_loudness_lufs, options.mute_bed == "noise", options.draft_mark == "beep"
        return {
            f"{stem}.wav": lambda path: make_clip(clip, source, path, loudness, bed=bed, beep=beep, disguise_seed=seed),
            **{
                f"{stem}{_in(caption)}.{kind}": functools.partial(_write_captions, write, caption, length_ms)
                for caption in clip.shown for kind, write in (("vtt", captions.webvtt), ("srt", captions.srt))
            },
        }  # fmt: skip

    # -- decided again and registered ------------------------------------------------------------------------------
    def _registered(
        self, viewer: Viewer, codes: Sequence[str], use: str, first: Clearing, sums: dict[str, str], target: Path,
        listened: str,
    ) -> tuple[int, str]:
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            # Always, not only where the revision moved: a day may have ended, an excerpt been set aside, a name been added.
            again = self._clear(connection, codes, use, first.export.code)
            if again.digest != first.digest:
                raise ConsentMoved("Consent changed while the export was being made.")
            export_id, code = excerpts.add_export(
                connection, use, self._rooms.options.exhibition, again.revision, str(target), viewer.name, now
            )
            if code != first.export.code:  # the papers say another number
                raise Clash("Another export was made meanwhile.", "Start this one again.")
            for item in first.items:
                excerpts.add_item(
                    connection, export_id=export_id, item=item.item, excerpt_id=item.excerpt_id, person_id=item.person_id,
                    wording_sha256=item.wording_sha256, mask_digest=item.mask_digest, attribution=item.attribution, voice=item.voice,
                    how_heard=item.how_heard,
                )  # fmt: skip
            for name, sha256 in sorted(sums.items()):
                excerpts.add_file(connection, export_id, name, sha256)
            audit.record(
                connection, viewer.name, "export approved", f"export {export_id}", now, use=use,
                items=len(first.export.quotes), files=len(sums), refused=_on_record(first.refused), draft=first.export.draft,
                listened=len(first.export.clips) if listened.startswith(HEARD_NOTHING) else 0,
            )  # fmt: skip
        return export_id, code

    # -- the register ------------------------------------------------------------------------------------------------
    def register(self, viewer: Viewer) -> tuple[LeftRow, ...]:
        """What went out, newest first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return left_rows(Readings(connection, self._rooms.context()), excerpts.register(connection))

    def file(self, viewer: Viewer, export: str, name: str) -> Path:
        """A file of the register, still the bytes that were scanned. Raises NotFound, Broken; Refused where any of it may
        not leave any more: a file in the house is no way round a withdrawal."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = excerpts.export_by_code(connection, export)
            files = {f.name: f.sha256 for f in excerpts.files(connection, row.id)} if row is not None else {}
            gone = _no_longer(Readings(connection, self._rooms.context()), row) if row is not None else ()
        if row is None or name not in files:
            raise NotFound("There is no such file in the register.")
        if gone:
            raise Refused(
                "Something in this export may not leave any more, so its files are not handed out again.",
                tuple(f"{code}: {why}" for code, why in gone), "Take down what hangs already, and export the other excerpts anew.",
            )  # fmt: skip
        path = Path(row.folder) / name
        if not path.is_file():
            raise NotFound("This file is no longer where it was given.", f"It was given to {row.folder}. Export it again.")
        if hashlib.sha256(path.read_bytes()).hexdigest() != files[name]:
            raise Broken("This file is not the one that was given: it was changed.", "Export it again.")
        return path


def _stem(clip: ClearedClip) -> str:
    """The name of a clip's files, without their kind."""
    return f"{'DRAFT-' if clip.draft else ''}clip-{clip.item:02d}"


def _in(caption: ClearedCaption) -> str:
    """What the name of a file of captions says of their language: nothing where they are what is said."""
    return f".{caption.language}" if caption.language else ""


def _write_captions(write: Callable[[ClearedCaption, int], bytes], caption: ClearedCaption, length_ms: int, path: Path) -> None:
    path.write_bytes(write(caption, length_ms))


def _write(write: Callable[[Path], object], path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    write(path)


def _no_longer(readings: Readings, row: Row[Any]) -> tuple[tuple[str, str], ...]:
    """(excerpt code, why) of what went out with this export and may not leave for its use today."""
    found: dict[str, str] = {}
    gone: dict[str, list[Row[Any]]] = {}
    for item in excerpts.items(readings.connection, row.id):
        gone.setdefault(item.excerpt_code, []).append(item)
    for code, items in gone.items():
        quoted = excerpts.by_code(readings.connection, code)
        pinned = Pinned(readings, quoted) if quoted is not None else None
        why = pinned.no_longer(row.use, items) if pinned is not None else ""
        if why:
            found[code] = why
    return tuple(found.items())


def left_rows(readings: Readings, rows: Sequence[Row[Any]]) -> tuple[LeftRow, ...]:
    """Lines of the register from export rows."""
    connection = readings.connection
    lines = []
    for row in rows:
        items = excerpts.items(connection, row.id)
        files = excerpts.files(connection, row.id)
        lines.append(
            LeftRow(
                row.code, row.at[:10], row.use, row.exhibition, row.state,
                tuple(dict.fromkeys(i.excerpt_code for i in items)), tuple(dict.fromkeys(i.person_code for i in items)),
                tuple(str(Path(row.folder) / f.name) for f in files), _no_longer(readings, row),
            )
        )  # fmt: skip
    return tuple(lines)


def _on_record(refusals: Sequence[Refusal]) -> list[str]:
    """Codes of excerpts alone: what somebody typed instead of one may be a name, and goes on no record."""
    return [r.excerpt for r in refusals if EXCERPT.fullmatch(r.excerpt)]


def _sweep(folder: Path, pattern: str = "*") -> None:
    """Remove what an export that was killed left behind: nothing was touched there for an hour."""
    for left in sorted(folder.glob(pattern)) if folder.is_dir() else []:
        try:
            old = time.time() - left.stat().st_mtime > LEFT_OVER_S
        except OSError:
            continue  # just given
        if old:
            shutil.rmtree(left, ignore_errors=True)


def _give(staging: Path, target: Path) -> None:
    """Move the finished folder into place in one step, also to another disk: copied beside it first, then renamed."""
    target.parent.mkdir(parents=True, exist_ok=True)
    if target.is_dir():
        target.rmdir()  # empty: `_target` saw to it
    try:
        os.replace(staging, target)
        return
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
    _sweep(target.parent, f".{glob.escape(target.name)}.{'[0-9a-f]' * 12}")
    beside = target.with_name(f".{target.name}.{secrets.token_hex(6)}")
    try:
        shutil.copytree(staging, beside)
        os.replace(beside, target)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
