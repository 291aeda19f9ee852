"""What leaves: decide, make in staging, scan, decide again and register, give (DESIGN §6). The writer lock is held only briefly.

A crash over-reports and never under-reports: the register says `approved` before the files are moved where they can be seen.
Each export is a job: killed or paused before it was approved it begins again at its start, afterwards only the giving is left.
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
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from archive.audio import disguise
from archive.audio.cut import make_clip, piece_of_clip
from archive.db import audit, consent_rows, excerpts, jobs, tasks
from archive.db.session import Connection, Row
from archive.domain.cleared import ClearedCaption, ClearedClip, ClearedExport
from archive.domain.phrases import many
from archive.domain.values import Viewer
from archive.errors import BadInput, Broken, Clash, ConsentMoved, NoSpace, NotFound, Refused, ScanRefused
from archive.gate.beyond import excerpt_named, must_reach
from archive.gate.clear import EXCERPT, Clearing, Refusal, clear
from archive.gate.pinned import Pinned
from archive.gate.played import play_leaving
from archive.gate.reading import Readings
from archive.gate.scan import Finding, matcher_for, scan_with
from archive.render import captions, docx, jsonout
from archive.services.asking import asked_by, asking
from archive.services.at_once import Told, at_once, ended_early
from archive.services.listening import HEARD_NOTHING, Listening
from archive.services.reaching import codes_beyond
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import ExportReport, LeftRow, PlaceRow
from archive.services.work import STAGING, Lease, sweep_staging

KIND = "export"
GIVEN = "given"
TEAM_ONLY = "for-the-team"
LEFT_OVER_S = 3600
SHEET_MS = 1000  # where no sound leaves, a sheet counts as so much; beside clips it takes no time
NOT_GIVEN = "Something in this export may not leave any more, so it was not given; the register says that it was approved."
MOVED = "Something in this export was decided otherwise since it was approved, so it was not given; the register says that it was approved."
NOTHING_MAY = "Nothing went out: none of it may leave for this use today. Its own page has every reason."


class _Steps:
    """How far an export is, in milliseconds of sound that is cut and listened to; each step asks whether the work may go on."""

    def __init__(self, lease: Lease, export: ClearedExport, sheets: int) -> None:
        self._lease, self._done = lease, 0
        self.sound_ms = sum(_length_ms(clip) for clip in export.clips)
        self.sheet_ms = 0 if self.sound_ms else SHEET_MS
        self.total = 2 * self.sound_ms + self.sheet_ms * sheets

    def __call__(self, words: str, done_ms: int = 0) -> None:
        self._done += done_ms
        self._lease.keep(lambda connection: self._lease.got(connection, self._done, self.total, kept=False, words=words))


class Exports:
    """Exports of one archive, and their register."""

    def __init__(self, rooms: Rooms, listening: Listening) -> None:
        self._rooms = rooms
        self.listening = listening
        self._key = secrets.token_bytes(16)  # of the disguises that are listened to; each export draws its own

    # -- the job -----------------------------------------------------------------------------------------------
    def make(self, viewer: Viewer, codes: Sequence[str], use: str, to: Path | None = None, told: Told = lambda _: None) -> ExportReport:
        """Give what may leave of these excerpts for this use, now; refused ones come back with all their reasons.

        Raises ScanRefused, ConsentMoved, NoSpace: then nothing was given. LeaseLost: the job was paused or ended elsewhere.
        """
        need(viewer, *EDITORS)
        ended = at_once(self._rooms, lambda connection: self._add(connection, viewer, codes, use, to), self.run, told)
        report = _report(ended)
        if report is None:
            raise ended_early(ended)
        return report

    def queue(self, viewer: Viewer, codes: Sequence[str], use: str) -> int:
        """Let the worker do the same, into the archive's own folder; returns the number of the job. Raises BadInput."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            return self._add(connection, viewer, codes, use, None)

    def _add(self, connection: Connection, viewer: Viewer, codes: Sequence[str], use: str, to: Path | None) -> int:
        if not codes:
            raise BadInput("Nothing was chosen to leave.", "Name one or more excerpts (EX-1), or choose some on a recording.")
        consent_rows.load_use(connection, use)
        must_reach(Readings(connection, self._rooms.context()), viewer, codes)
        # Anything may have been typed instead of a code, a name too: it goes on no record.
        asked = [code if EXCERPT.fullmatch(code) else f"no code {n}" for n, code in enumerate(dict.fromkeys(codes))]
        args = {"excerpts": asked, "use": use, "to": os.path.abspath(to) if to is not None else "", **asking(connection, viewer)}
        return jobs.add_once(connection, KIND, f"{many(len(asked), 'excerpt')} for {use}", args, viewer.name, self._rooms.now())

    def report(self, viewer: Viewer, job_id: int) -> ExportReport | None:
        """What an export gave and refused, None while it is not over or where it ended otherwise. Raises NotFound."""
        row = self._job(viewer, job_id)
        return _report(row) if row.state in jobs.OVER else None

    def held_back(self, viewer: Viewer, job_id: int) -> tuple[str, tuple[str, ...], str] | None:
        """What the last look at the finished files found: in a sentence, one by one, and what to do; None where it found nothing."""
        row = self._job(viewer, job_id)
        kept = row.outcome.get("held_back") if row.state == "stopped" else None
        return (kept[0], tuple(kept[1]), kept[2]) if kept else None

    def _job(self, viewer: Viewer, job_id: int) -> Row[Any]:
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = jobs.by_id(connection, job_id)
        if row is None or row.kind != KIND:
            raise NotFound("There is no such export on the list of work.", "See the register of what went out.")
        return row

    def run(self, lease: Lease) -> str:
        """Make and give one export. Killed after it was approved, what was put together then is given, under the same entry."""
        sweep_staging(self._rooms)
        with self._rooms.db.read() as connection:
            viewer = asked_by(connection, lease)
        if lease.outcome.get("export"):
            words = self._go_on(lease, viewer)
            if words:
                return words
        return self._whole(lease, viewer)

    def _whole(self, lease: Lease, viewer: Viewer) -> str:
        codes, use, to = lease.args["excerpts"], lease.args["use"], lease.args["to"]
        lease.keep(lambda connection: lease.note(connection, export=None, staging=None, report=None, held_back=None, digest=None))
        with self._rooms.db.read() as connection:
            consent_rows.load_use(connection, use)
            code = excerpts.next_export_code(connection)
            must_reach(Readings(connection, self._rooms.context()), viewer, codes)
            first = self._clear(connection, codes, use, code)
        if not first.export.quotes:
            return self._nothing(lease, viewer, first)
        target = self._target(Path(to) if to else None, code)
        if to and matcher_for(first.export.forbidden).first_hit(target.name, any_case=True) is not None:
            raise BadInput("The name of the folder holds a name that must not leave; nothing was given.", "Name the folder otherwise.")
        staging = self._rooms.folder / STAGING / lease.staging
        shutil.rmtree(staging, ignore_errors=True)
        try:
            sums, listened = self._made(first, staging, lease)
            report = _told(first, target, sums, listened)
            self._registered(lease, viewer, first, sums, report)
            give(staging, target)
        except ScanRefused as refused:
            self._held_back(lease, viewer, refused, refused.excerpts or tuple(i.excerpt_code for i in first.export.insides))
            raise
        except OSError as error:
            raise could_not(error) from None
        return self._given(lease, viewer)

    def _go_on(self, lease: Lease, viewer: Viewer) -> str:
        """Give what was approved before whoever worked at it died; "" where it lies nowhere any more: then it is made anew."""
        with self._rooms.db.read() as connection:
            row = excerpts.export_by_code(connection, lease.outcome["report"]["code"])
            sums = {f.name: f.sha256 for f in excerpts.files(connection, lease.outcome["export"])}
            gone = _no_longer(Readings(connection, self._rooms.context()), row) if row is not None else ()
            # A name, a panel, a tick, an excerpt set aside: whatever was decided on then is decided on once more.
            moved = row is not None and lease.outcome.get("digest") != self._clear(connection, lease.args["excerpts"], lease.args["use"], row.code).digest
        staging, target = self._rooms.folder / STAGING / str(lease.outcome["staging"]), Path(row.folder if row is not None else "")
        if not _holds(target, sums):
            if not _holds(staging, sums):
                return ""
            if gone:
                raise Refused(NOT_GIVEN, tuple(f"{code}: {why}" for code, why in gone), "Export the other excerpts anew.")
            if moved:
                raise Refused(MOVED, (), "Export it anew.")
            try:
                give(staging, target)
            except OSError as error:
                raise could_not(error) from None
        return self._given(lease, viewer)

    def _given(self, lease: Lease, viewer: Viewer) -> str:
        export_id, report = int(lease.outcome["export"]), lease.outcome["report"]
        went = f"{report['code']}: {many(len(report['taken']), 'quote')} went out"
        words = f"{went}, {len(report['refused'])} refused." if report["refused"] else f"{went}."

        def given(connection: Connection) -> str:
            excerpts.mark_given(connection, export_id, self._rooms.now())
            audit.record(connection, viewer.name, "export given", f"export {export_id}", self._rooms.now())
            return lease.end(connection, words)

        return lease.keep(given)

    def _held_back(self, lease: Lease, viewer: Viewer, refused: ScanRefused, codes: Sequence[str]) -> None:
        def held(connection: Connection) -> None:
            audit.record(
                connection, viewer.name, "export held back", "export", self._rooms.now(), use=lease.args["use"], excerpts=list(codes),
                findings=len(refused.reasons),
            )  # fmt: skip
            lease.note(connection, held_back=[refused.message, list(refused.reasons), refused.remedy])

        lease.keep(held)

    def listen(self, viewer: Viewer, excerpt: str, start_ms: int, end_ms: int) -> bytes:
        """A stretch of an excerpt as its clip would have it for its own use, as a WAV (mono, 48 kHz, 16 bit). Raises NotFound, Refused."""
        need(viewer, *EDITORS)
        options = self._rooms.options
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            row = excerpt_named(readings, viewer, excerpt)
            clip = play_leaving(readings, viewer, row, start_ms, end_ms, options.mute_margin_ms)
        source = self._rooms.masters.path(clip.master_sha256, clip.extension)
        return piece_of_clip(clip, source, start_ms, end_ms, disguise.seed_for(self._key, clip.voice))

    def _clear(self, connection: Connection, codes: Sequence[str], use: str, code: str) -> Clearing:
        options = self._rooms.options
        return clear(connection, codes, use, self._rooms.context(), options.name, options.mute_margin_ms, code)

    def _nothing(self, lease: Lease, viewer: Viewer, first: Clearing) -> str:
        refused = [r.excerpt for r in first.refused if EXCERPT.fullmatch(r.excerpt)]

        def end(connection: Connection) -> str:
            audit.record(
                connection, viewer.name, "export refused", "export", self._rooms.now(), use=lease.args["use"], excerpts=refused
            )
            lease.note(connection, report=asdict(_told(first, None, {}, "")))
            return lease.end(connection, NOTHING_MAY, "stopped")

        return lease.keep(end)

    def _target(self, to: Path | None, code: str) -> Path:
        target = Path(os.path.abspath(to)) if to is not None else self._rooms.folder / GIVEN / code
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise Clash("The folder for the export is there already and is not empty.", "Name a new folder.")
        return target

    # -- made and scanned ----------------------------------------------------------------------------------------
    def _made(self, clearing: Clearing, staging: Path, lease: Lease) -> tuple[dict[str, str], str]:
        """Write every file into staging, listen to the clips and read all back. Returns name → SHA-256, and what listening
        back gave. Raises ScanRefused."""
        export = clearing.export
        matcher = matcher_for(export.forbidden, export.allowed)
        files, ours = self._files(export), self._team_files(export)
        made = {name: write for name, write in files.items() if name not in ours}
        lengths = {f"{_stem(clip)}.wav": _length_ms(clip) for clip in export.clips}
        step = _Steps(lease, export, len(files) - len(lengths))
        for n, (name, write) in enumerate(made.items(), 1):
            step(f"Writing and cutting: file {n} of {len(made)}.")
            _write(write, staging / name)
            step("", lengths.get(name, step.sheet_ms))
        clips = [(clip, staging / f"{_stem(clip)}.wav") for clip in export.clips]
        step(f"Listening to {many(len(clips), 'clip')} again." if clips else "")
        listened = self.listening.back(export, clips, matcher, lease.alive)
        step("", step.sound_ms)
        for name, write in self._team_files(export, listened).items():  # they say whether the machine listened
            _write(write, staging / name)
            step("", step.sheet_ms)
        findings: list[Finding] = []
        sums: dict[str, str] = {}
        for path in sorted(p for p in staging.rglob("*") if p.is_file()):
            step(f"Reading the finished files back: {len(sums) + 1} of {len(files)}.")
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
        source = self._rooms.masters.path(clip.master_sha256, clip.extension)
        options = self._rooms.options
        loudness, bed, beep = options.clip_loudness_lufs, options.mute_bed == "noise", options.draft_mark == "beep"
        return {
            f"{stem}.wav": lambda path: make_clip(clip, source, path, loudness, bed=bed, beep=beep, disguise_seed=seed),
            **{
                f"{stem}{_in(caption)}.{kind}": functools.partial(_write_captions, write, caption, _length_ms(clip))
                for caption in clip.shown for kind, write in (("vtt", captions.webvtt), ("srt", captions.srt))
            },
        }  # fmt: skip

    # -- decided again and registered ------------------------------------------------------------------------------
    def _registered(self, lease: Lease, viewer: Viewer, first: Clearing, sums: Mapping[str, str], report: ExportReport) -> None:
        """Decide again, and put it on record as approved, in one transaction with where it lies: nobody registers it twice."""
        use, now = lease.args["use"], self._rooms.now()

        def approve(connection: Connection) -> None:
            # Always, not only where the revision moved: a day may have ended, an excerpt been set aside, a name been added.
            again = self._clear(connection, lease.args["excerpts"], use, first.export.code)
            if again.digest != first.digest:
                raise ConsentMoved("Consent changed while the export was being made.")
            export_id, code = excerpts.add_export(
                connection, use, self._rooms.options.exhibition, again.revision, report.folder, viewer.name, now
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
                items=len(first.export.quotes), files=len(sums), refused=[r.excerpt for r in first.refused if EXCERPT.fullmatch(r.excerpt)],
                draft=first.export.draft, listened=len(first.export.clips) if report.listened.startswith(HEARD_NOTHING) else 0,
            )  # fmt: skip
            lease.note(connection, export=export_id, staging=lease.staging, report=asdict(report), digest=again.digest)

        lease.keep(approve)

    # -- the register ------------------------------------------------------------------------------------------------
    def register(self, viewer: Viewer) -> tuple[LeftRow, ...]:
        """What went out, newest first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            beyond = codes_beyond(connection, viewer)
            rows = left_rows(Readings(connection, self._rooms.context()), excerpts.register(connection))
            return tuple(row for row in rows if not beyond.intersection(row.people))

    def file(self, viewer: Viewer, export: str, name: str) -> Path:
        """A file of the register, still the bytes that were scanned. Raises NotFound, Broken; Refused where any of it may
        not leave any more: a file in the house is no way round a withdrawal."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = excerpts.export_by_code(connection, export)
            beyond = codes_beyond(connection, viewer)
            if row is not None and beyond.intersection(i.person_code for i in excerpts.items(connection, row.id)):
                row = None
            files = {f.name: f.sha256 for f in excerpts.files(connection, row.id)} if row is not None else {}
            gone = _no_longer(Readings(connection, self._rooms.context()), row) if row is not None else ()
            whose = excerpts.own_copy_of(connection, row.id) if row is not None else ""
        if row is None or name not in files:
            raise NotFound("There is no such file in the register.")
        if whose:
            raise Refused("This is somebody's own copy. It is handed to them alone, and made anew each time.", (), f"Make it on the page of {whose}.")
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


def _length_ms(clip: ClearedClip) -> int:
    """How long a clip is."""
    return sum(p.end_ms - p.start_ms for p in clip.pieces)


def _told(first: Clearing, target: Path | None, sums: Mapping[str, str], listened: str) -> ExportReport:
    """What is told of an export; `target` None: nothing went out."""
    if target is None:
        return ExportReport("", "", (), (), first.refused, first.withheld, False)
    export = first.export
    return ExportReport(
        export.code, str(target), tuple(str(target / name) for name in sorted(sums)), tuple(i.excerpt_code for i in export.insides),
        first.refused, first.withheld, export.draft,
        tuple(f"{i.excerpt_code}: {q.draft_reason}" for q, i in zip(export.quotes, export.insides, strict=True) if q.draft),
        listened, first.voices,
    )  # fmt: skip


def _report(row: Row[Any]) -> ExportReport | None:
    """What a job kept of an export, None where it ended without."""
    kept = row.outcome.get("report")
    if not kept or bool(kept["code"]) != (row.state == "done"):
        return None
    lists = {key: tuple(value) for key, value in kept.items() if isinstance(value, list | tuple)}
    refused = tuple(Refusal(r["excerpt"], tuple(r["reasons"])) for r in kept["refused"])
    return ExportReport(**{**kept, **lists, "refused": refused})


def _holds(folder: Path, sums: Mapping[str, str]) -> bool:
    """Whether exactly these files lie in a folder, whole."""
    here = {p.relative_to(folder).as_posix(): p for p in folder.rglob("*") if p.is_file()} if folder.is_dir() else {}
    return bool(sums) and here.keys() == sums.keys() and all(
        hashlib.sha256(path.read_bytes()).hexdigest() == sums[name] for name, path in here.items()
    )  # fmt: skip


def could_not(error: OSError) -> NoSpace | BadInput:
    """What to raise where files could not be written."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return NoSpace("The disk is full; nothing was given.")
    return BadInput("The files could not be written where they were asked for.", "Name a folder that may be written to.")


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


def _no_longer(readings: Readings, row: Row[Any], known: dict[str, Pinned | None] | None = None) -> tuple[tuple[str, str], ...]:
    """(excerpt code, why) of what went out with this export and may not leave for its use today. `known`: excerpts that were looked at."""
    known = known if known is not None else {}
    found: dict[str, str] = {}
    gone: dict[str, list[Row[Any]]] = {}
    for item in excerpts.items(readings.connection, row.id):
        gone.setdefault(item.excerpt_code, []).append(item)
    for code, items in gone.items():
        if code not in known:
            quoted = excerpts.by_code(readings.connection, code)
            known[code] = Pinned(readings, quoted) if quoted is not None else None
        pinned = known[code]
        why = pinned.no_longer(row.use, items) if pinned is not None else "It was erased."
        if why:
            found[code] = why
    return tuple(found.items())


def left_rows(readings: Readings, rows: Sequence[Row[Any]]) -> tuple[LeftRow, ...]:
    """Lines of the register from export rows."""
    connection = readings.connection
    lines = []
    known: dict[str, Pinned | None] = {}
    standing: dict[int, list[PlaceRow]] = {}
    for place in tasks.places(connection, [row.id for row in rows]):
        standing.setdefault(place.export_id, []).append(PlaceRow(place.id, place.name, place.where, place.up_on, place.down_on))
    for row in rows:
        items = excerpts.items(connection, row.id)
        files = excerpts.files(connection, row.id)
        lines.append(
            LeftRow(
                row.code, row.at[:10], row.use, row.exhibition, row.state,
                tuple(dict.fromkeys(i.excerpt_code for i in items)), tuple(dict.fromkeys([*(i.person_code for i in items), *filter(None, (excerpts.own_copy_of(connection, row.id),))])),
                tuple(str(Path(row.folder) / f.name) for f in files), _no_longer(readings, row, known), tuple(standing.get(row.id, ())),
            )
        )  # fmt: skip
    return tuple(lines)


def _sweep(folder: Path, pattern: str) -> None:
    """Remove what an export that was killed left behind on another disk: nothing was touched there for an hour."""
    for left in sorted(folder.glob(pattern)):
        try:
            old = time.time() - left.stat().st_mtime > LEFT_OVER_S
        except OSError:
            continue  # just given
        if old:
            shutil.rmtree(left, ignore_errors=True)


def give(staging: Path, target: Path) -> None:
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
