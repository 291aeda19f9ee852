"""Taking recordings in: copy, checksum, measure, row. One bad file never stops the rest; sources are never written to."""

from __future__ import annotations

import hashlib
import os
import secrets
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from archive.audio.measure import Measured
from archive.db import audit, erasures, jobs, people, recordings
from archive.db.origins import came
from archive.db.session import Connection, Row
from archive.domain.phrases import many
from archive.domain.values import Viewer
from archive.errors import BadInput, BadMedia, Refused
from archive.files.guard import Source, walk_sources
from archive.files.masters import Taken, clean_extension
from archive.gate.indexing import index_recording
from archive.services.access import queue_copy
from archive.services.asking import asked_by, asking
from archive.services.at_once import Told, done_at_once
from archive.services.card import AGAIN, SHEET, Described, Match, Rows, interview_alone, match, read_sheet
from archive.services.measuring import ALIVE_S, measure_in_child
from archive.services.origins import Bond, described, keep, keep_companions, told_of, words
from archive.services.origins import Told as Origin
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import Finding
from archive.services.transcribing import KIND as TRANSCRIBE
from archive.services.work import Lease

Progress = Callable[[Finding], None]
KIND = "take in"
NOTHING = "Nothing was added."
NO_INTERVIEW = f"It is in no interview yet: write it into {SHEET} {AGAIN}"
NOBODY = f"Nobody is said to have taken part in it yet: write its participants into {SHEET} {AGAIN}"
ERASED = "This very file was erased from the archive; it was not taken in again."
ERASED_TOO = "Delete it here as well: the erasure's tasks ask for it (Upkeep, Erasure)."
GONE = "What was to be taken in is not there any more."
PUT_BACK = "Put the card back in, or connect the disk, and try again; what was taken is kept."


@dataclass(frozen=True, slots=True)
class Run:
    """One run of ingest: who asked, the number its findings are kept under, and the job that it is: what that raises ends the
    run after the file before."""

    viewer: Viewer
    batch: str
    lease: Lease
    track: int | None = None  # which sound track, from 0, where a file has several


@dataclass(frozen=True, slots=True)
class Sent:
    """A file that came through a browser (`source.ours`); `interview` as the form said, `track` from 0 where somebody chose one."""

    source: Source
    interview: str = ""
    track: int | None = None


class Ingest:
    """Taking in, for one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def take(
        self, viewer: Viewer, paths: Sequence[Path], interview: str = "", sheet: Path | None = None,
        progress: Progress | None = None, track: int | None = None, told: Told = lambda _: None,
    ) -> tuple[Finding, ...]:  # fmt: skip
        """Take files and folders in, now; returns what became of each.

        Where no sheet is named, the recordings.csv in each folder named is read, and the one beside each file named. `track`:
        which sound track, from 1, where a file has several. Raises LeaseLost where the job was paused or ended elsewhere.
        """
        need(viewer, *EDITORS)

        def add(connection: Connection) -> int:
            return self._add(connection, viewer, paths, interview, sheet, track)

        ended = done_at_once(self._rooms, add, lambda lease: self._run(lease, progress), told)
        with self._rooms.db.read() as connection:
            return _findings_of(connection, ended.outcome)

    def queue(self, viewer: Viewer, paths: Sequence[Path], interview: str = "") -> int:
        """Let the worker do the same; returns the number of the job."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            return self._add(connection, viewer, paths, interview, None, None)

    def _add(
        self, connection: Connection, viewer: Viewer, paths: Sequence[Path], interview: str, sheet: Path | None, track: int | None
    ) -> int:  # fmt: skip
        whole = [os.path.abspath(p) for p in paths]
        args = {
            "paths": whole, "there": [p for p in whole if os.path.exists(p)], "interview": interview[:40],
            "sheet": os.path.abspath(sheet) if sheet else "", "track": track, **asking(connection, viewer),
        }  # fmt: skip
        self._said(connection, args)  # a faulty sheet is told now
        called = "folder" if len(whole) == 1 and os.path.isdir(whole[0]) else many(len(whole), "path")
        subject = f"{called} {hashlib.sha256(os.fsencode(os.pathsep.join(whole))).hexdigest()[:8]}"  # its name may be somebody's
        return jobs.add_once(connection, KIND, subject, args, viewer.name, self._rooms.now())

    def _said(self, connection: Connection, args: dict[str, Any]) -> tuple[list[tuple[Path, Rows]], Match]:
        """(what each sheet says, with its folder; what counts where none says anything)."""
        folders = dict.fromkeys(_folder(Path(p)) for p in args["paths"])
        given = [Path(args["sheet"])] if args["sheet"] else [f / SHEET for f in folders if (f / SHEET).is_file()]
        otherwise = Match(interview_alone(connection, args["interview"])) if args["interview"] else Match()
        return [(path.parent, read_sheet(connection, path)) for path in given], otherwise

    def run(self, lease: Lease) -> str:
        """Take in what was queued. Called again, it goes on with the file that it was at; returns how many were taken."""
        return self._run(lease, None)

    def _run(self, lease: Lease, progress: Progress | None) -> str:
        args = lease.args
        if args["there"] and not any(os.path.exists(p) for p in args["there"]):
            raise Refused(GONE, (), PUT_BACK)
        with self._rooms.db.read() as connection:
            viewer = asked_by(connection, lease)
            sheets, otherwise = self._said(connection, args)
            before = list(_findings_of(connection, lease.outcome))
        self._rooms.masters.sweep()
        batch = lease.outcome.get("batch") or secrets.token_hex(8)
        run = Run(viewer, batch, lease, None if args["track"] is None else max(0, args["track"] - 1))
        paths = [Path(p) for p in args["paths"]]
        sources = list(walk_sources(paths))
        matches = match(sheets, sources, anywhere=bool(args["sheet"]))
        missing = self._missing(paths, sheets, matches) if not args["sheet"] else []
        if not sources and not missing:
            raise BadInput("There is nothing to take in.", "Name a folder with recordings, or the files themselves.")
        done, total = 0, sum(_size(s) for s in sources)
        for n, (source, own) in enumerate([*zip(sources, matches, strict=True), *((s, None) for s in missing)], 1):
            words = f"File {n} of {len(sources) + len(missing)}."
            lease.keep(lambda connection, done=done, words=words: self._begun(connection, run, done, total, words))  # type: ignore[misc]
            known = _pop(before, source)
            if known is not None and not before:  # killed after it was taken, perhaps before what lies beside it was
                known = self._with_companions(run, source, known)
            found = known or (self._one(run, source, own if own.row else otherwise) if own is not None else self._miss(run, source))
            if progress:
                progress(found)
            done += _size(source)
        lease.keep(lambda connection: lease.got(connection, total, total))
        with self._rooms.db.read() as connection:
            return _in_words(_findings_of(connection, lease.outcome))

    def _begun(self, connection: Connection, run: Run, done: int, total: int, words: str) -> None:
        run.lease.note(connection, batch=run.batch)
        run.lease.got(connection, done, total, words=words)

    def take_sent(
        self, lease: Lease, viewer: Viewer, sent: Sequence[Sent], folder: Path, sheet: Path | None, came: Callable[[Sent, Finding], None]
    ) -> tuple[Finding, ...]:  # fmt: skip
        """Take in files that were sent together and lie whole in `folder`, the archive's own, as a card with its sheet.

        `came` is told of each as it is done. Returns what became of the sheet's other rows: recordings that are here already
        are described by them, so that a sheet may be sent alone. Raises SheetError before anything is taken.
        """
        batch = secrets.token_hex(8)
        with self._rooms.db.read() as connection:
            rows = read_sheet(connection, sheet) if sheet else {}
            alone = [Match(interview_alone(connection, s.interview)) if s.interview else Match() for s in sent]
        matches = match([(folder, rows)], [s.source for s in sent])
        for one, own, otherwise in zip(sent, matches, alone, strict=True):
            came(one, self._one(Run(viewer, batch, lease, one.track), one.source, own if own.row else otherwise))
        own_rows, run = {m.row for m in matches}, Run(viewer, batch, lease)
        return tuple(self._row_alone(run, folder, row, said) for row, said in rows.items() if (folder, row) not in own_rows)

    def _row_alone(self, run: Run, folder: Path, row: str, said: Described) -> Finding:
        """What a sheet says about a file that did not come with it."""
        source = Source(folder, row.rsplit("/", 1)[-1], below=row)

        def note(connection: Connection) -> Finding:
            known = _meant(connection, source.name, said)
            if len(known) == 1:
                told = self._describe(connection, run, Match(said, "", (folder, row)), known[0])
                return self._note(connection, run, source, "duplicate", "duplicate", f"Here already, as {known[0].code}. {told}", known[0].id)
            several = f"More than one recording came from a file of this name: {', '.join(r.code for r in known)}. {NOTHING}"
            words = several if known else f"{SHEET} names this file, and it was not sent."
            return self._note(connection, run, source, "missing", "missing", words)

        return run.lease.keep(note)

    def _missing(self, paths: Sequence[Path], sheets: Sequence[tuple[Path, Rows]], matches: Sequence[Match]) -> list[Source]:
        """Files that a folder's own sheet names, and that neither lie in it nor were ever taken in."""
        words = f"{SHEET} names this file, and it is not here. Look whether the card was copied whole."
        whole = {_folder(p) for p in paths if p.is_dir()}
        seen = {m.row for m in matches}
        found = []
        with self._rooms.db.read() as connection:
            for folder, row, said in [(f, row, said) for f, rows in sheets if f in whole for row, said in rows.items()]:
                name = row.rsplit("/", 1)[-1]
                if (folder, row) not in seen and not _meant(connection, name, said):
                    found.append(Source(folder / row, name, words, below=row))
        return found

    def _miss(self, run: Run, source: Source) -> Finding:
        return run.lease.keep(lambda connection: self._note(connection, run, source, "missing", "missing", source.refusal or ""))

    def _one(self, run: Run, source: Source, own: Match) -> Finding:
        keep = run.lease.keep
        try:
            if source.refusal:
                raise BadMedia("not taken", source.refusal, source.remedy)
            taken = self._taken(run, source)
            with self._rooms.db.read() as connection:
                known = recordings.recording_of_sum(connection, taken.sha256)
                was_erased = taken.sha256 in erasures.erased_sums(connection)
            if was_erased:
                self._rooms.masters.remove(taken.sha256)
                raise BadMedia("erased", ERASED, ERASED_TOO)
            if known is not None:
                return self._with_companions(run, source, keep(lambda connection: self._again(connection, run, source, own, known)))
            try:
                measured = measure_in_child(taken.path, self._rooms.caps(), track=run.track, alive=run.lease.alive)
            except BadMedia:
                # Whatever another file of the same bytes left as a half-finished intake is as bad as this one.
                self._rooms.masters.remove(taken.sha256)
                raise
            with self._rooms.db.read() as connection:
                known_ones = came(connection)
            told = told_of(known_ones, self._rooms.masters, source, taken.path, measured, self._rooms.today())

            def new(connection: Connection) -> Finding:
                twin = recordings.recording_of_sum(connection, taken.sha256)
                if twin is not None:  # taken meanwhile
                    return self._again(connection, run, source, own, twin)
                return self._keep(connection, run, source, own, taken, measured, told)

            return self._with_companions(run, source, keep(new))
        except BadMedia as bad:
            words = f"{bad.message} {bad.remedy}".strip()
            code = bad.code
            return keep(lambda connection: self._note(connection, run, source, "refused", code, words))

    def _taken(self, run: Run, source: Source) -> Taken:
        extension = clean_extension(Path(source.name).suffix)
        if source.ours:
            return self._rooms.masters.adopt(source.path, source.ours, extension)
        asked = [time.monotonic()]

        def tick(_bytes: int) -> None:
            if time.monotonic() - asked[0] >= ALIVE_S:
                run.lease.alive()
                asked[0] = time.monotonic()

        return self._rooms.masters.take(source.path, extension, self._rooms.options.max_bytes, tick)

    def _with_companions(self, run: Run, source: Source, found: Finding) -> Finding:
        """The same finding, after what lies beside the file was kept; what that says is on record with it."""
        with self._rooms.db.read() as connection:
            row = recordings.by_code(connection, found.recording)
            master = recordings.master_of(connection, row.id) if row is not None else None
        if row is None or master is None:
            return found
        path = self._rooms.masters.path(master.sha256, master.extension)
        lines, differs = keep_companions(run.lease.keep, self._rooms.folder, source, path, row.id, run.viewer.name, self._rooms.now())
        lines = [line for line in lines if line not in found.words]
        if not lines:
            return found
        told = " ".join([found.words, *lines])

        def reword(connection: Connection) -> None:
            recordings.reword_finding(connection, run.batch, source.below, row.id, told)
            if differs:
                run.lease.note(connection, differs=[*run.lease.outcome.get("differs", ()), source.below])

        run.lease.keep(reword)
        return replace(found, words=told, differs=differs)

    def _note(
        self, connection: Connection, run: Run, source: Source, outcome: str, reason: str, words: str, recording_id: int | None = None
    ) -> Finding:  # fmt: skip
        recordings.add_finding(
            connection, batch=run.batch, source_name=source.below, outcome=outcome, reason_code=reason, words=words,
            recording_id=recording_id, by=run.viewer.name, at=self._rooms.now(),
        )  # fmt: skip
        code = recordings.by_id(connection, recording_id).code if recording_id is not None else ""
        return Finding(source.below, outcome, words, code)

    # -- new ---------------------------------------------------------------------------------------------------
    def _keep(
        self, connection: Connection, run: Run, source: Source, own: Match, taken: Taken, measured: Measured, told: Origin
    ) -> Finding:  # fmt: skip
        now, by = self._rooms.now(), run.viewer.name
        if own.said is None and not own.doubt and told.follows is not None:
            own = Match(_following(connection, told.follows))
        place = _place(connection, own.said, None) if own.said is not None else own.doubt or NO_INTERVIEW
        values, joined = ({}, False) if isinstance(place, str) else _join(connection, own.said or Described(""), self._rooms.options.language, *place)
        wanted = None if isinstance(place, str) else f"{place[0]}.{place[1]}"
        code = recordings.free_code(connection, wanted)
        recording_id = recordings.add_recording(
            connection,
            {"sha256": taken.sha256, "bytes": taken.bytes, "extension": clean_extension(Path(source.name).suffix), "track": run.track or 0, "by": by, "at": now},
            {"code": code, "original_name": source.name, "duration_ms": measured.duration_ms, "language": self._rooms.options.language, **values},
        )
        recordings.add_measurement(
            connection, recording_id=recording_id, container=measured.container, codec=measured.codec,
            rate_hz=measured.rate_hz, bit_depth=measured.bit_depth, channels=measured.channels,
            duration_ms=measured.duration_ms, loudness_lufs=measured.loudness_lufs, true_peak_dbtp=measured.true_peak_dbtp,
            speech_ms=measured.speech_ms, damage=measured.damage, flags=measured.flags,
            peak_ms=measured.peak_ms, peaks=measured.peaks, levels=measured.levels, ears=b"".join(measured.ears), by=by, at=now,
        )  # fmt: skip
        keep(connection, recording_id, told)
        queue_copy(connection, recordings.by_id(connection, recording_id), by, now)
        if joined:
            self._index(connection, values["interview_id"])
        audit.record(
            connection, by, "recording taken", f"recording {recording_id}", now,
            sha256=taken.sha256, bytes=taken.bytes, duration_ms=measured.duration_ms,
        )  # fmt: skip
        lines = [_taken_words(code, measured), place if isinstance(place, str) else _if_nobody(connection, values)]
        lines += words(told, "" if isinstance(place, str) else place[0], values.get("recorded_on"))
        return self._note(connection, run, source, "taken", "", " ".join(filter(None, lines)), recording_id)

    def _index(self, connection: Connection, interview_id: int) -> None:
        """An unassigned utterance counts as everybody who took part: all parts of an interview are indexed anew."""
        for row in recordings.of_interview(connection, interview_id):
            index_recording(connection, row.id, self._rooms.context())

    # -- here already ------------------------------------------------------------------------------------------
    def _again(self, connection: Connection, run: Run, source: Source, own: Match, row: Row[Any]) -> Finding:
        """The finding where these bytes are here; what the sheet says goes to a recording that nobody described yet."""
        here = f"These very bytes are here already, as {row.code}."
        told = self._describe(connection, run, own, row)
        return self._note(connection, run, source, "duplicate", "duplicate", f"{here} {told}", row.id)

    def _describe(self, connection: Connection, run: Run, own: Match, row: Row[Any]) -> str:
        interview = recordings.interview_code(connection, row.interview_id)
        took_part = people.participants(connection, row.interview_id)
        said = own.said
        if said is None or (interview and own.row is None):  # what --interview says is for recordings without one
            return f"{NOTHING} {own.doubt or ('' if took_part else NOBODY if interview else NO_INTERVIEW)}".strip()
        bare = not (row.title or row.recorded_on or row.left_person_id or row.right_person_id)
        if took_part and not (bare and said.interview == interview):
            if said.part and (said.interview, said.part) != (interview, row.position):
                return f"{NOTHING} It is part {row.position} of {interview}; that {SHEET} puts it elsewhere was not followed."
            return NOTHING
        place = _place(connection, said, row)
        if isinstance(place, str):
            return f"{NOTHING} {place}"
        values, joined = _join(connection, said, row.language, *place)
        new = {k: v for k, v in values.items() if getattr(row, k) != v}
        if not new and not joined:
            return f"{NOTHING} {_if_nobody(connection, values)}".strip()
        wanted = f"{place[0]}.{place[1]}"
        # Whoever worked with it names it by its code: only one that nobody transcribed is renamed.
        untouched = jobs.newest_of(connection, TRANSCRIBE, row.code) is None
        if row.code != wanted and untouched and recordings.by_code(connection, wanted) is None:
            new["code"] = wanted
            jobs.rename(connection, row.code, wanted)
        if new:
            recordings.describe_recording(connection, row.id, **new)
        self._index(connection, values["interview_id"])
        audit.record(
            connection, run.viewer.name, "recording described", f"recording {row.id}", self._rooms.now(),
            interview=values["interview_id"], part=place[1], took_part=len(said.participants),
        )  # fmt: skip
        now_called = f"It is {new['code']} from now on" if "code" in new else "It was described"
        return f"{now_called}, part {place[1]} of {place[0]}. {_if_nobody(connection, values)}".strip()

    def findings(self, viewer: Viewer) -> tuple[Finding, ...]:
        """The newest findings first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = recordings.findings(connection)
        return tuple(Finding(r.source_name, r.outcome, r.words, r.code or "") for r in rows)


def _findings_of(connection: Connection, outcome: dict[str, Any]) -> tuple[Finding, ...]:
    """What a job found so far, in order."""
    differs = outcome.get("differs", ())
    rows = recordings.findings_of(connection, outcome.get("batch", ""))
    return tuple(Finding(r.source_name, r.outcome, r.words, r.code or "", r.source_name in differs) for r in rows)


def _meant(connection: Connection, name: str, said: Described) -> list[Row[Any]]:
    """Recordings here that a sheet's row may be about: of a file of this name, and in no interview yet or at that very place."""
    known = recordings.files_named(connection, name)
    return [r for r in known if r.interview_id is None or (r.interview_code, r.position) == (said.interview, said.part)]


def _pop(before: list[Finding], source: Source) -> Finding | None:
    """What is known of a file from before the worker was killed; cards repeat names, and come in the same order."""
    known = next((f for f in before if f.source_name == source.below), None)
    if known is not None:
        before.remove(known)
    return known


def _in_words(found: Sequence[Finding]) -> str:
    many_of = Counter(f.outcome for f in found)
    missing = f", {many_of['missing']} missing" if many_of["missing"] else ""
    return f"{many(many_of['taken'], 'file')} taken, {many_of['duplicate']} here already, {many_of['refused']} refused{missing}: see “What came in”."


def _size(source: Source) -> int:
    try:
        return source.path.stat().st_size if source.refusal is None else 0
    except OSError:
        return 0


def _following(connection: Connection, bond: Bond) -> Described:
    """The next part of the interview that a file surely belongs to, described as the one before."""
    row = recordings.by_id(connection, bond.row.id)
    return described(bond, row, recordings.at_place(connection, row.interview_id, row.position + 1) is not None)


def _folder(path: Path) -> Path:
    """A folder itself, or the one that a file lies in."""
    whole = Path(os.path.abspath(path))
    return whole if whole.is_dir() else whole.parent


def _place(connection: Connection, said: Described, row: Row[Any] | None) -> tuple[str, int] | str:
    """(interview, part) for a new recording (None) or one that is here; or why it can't be there, and what to do."""
    interview = recordings.find_interview(connection, said.interview)
    target = int(interview.id) if interview is not None else None
    at = row.interview_id if row is not None else None
    if row is not None and at is not None and at != target and recordings.is_spoken_for(connection, at):
        old = recordings.interview_code(connection, at)
        return f"It is in {old}, where agreements or holds are on record, and is not moved. Write {old} into “interview” {AGAIN}"
    kept = row.position if row is not None and at is not None and at == target else 0
    part = said.part or kept or (recordings.next_position(connection, target) if target is not None else 1)
    other = recordings.at_place(connection, target, part) if target is not None else None
    if other is not None and (row is None or other.id != row.id):
        state = "" if at is not None else "It is in no interview yet: "
        return f"{state}part {part} of {said.interview} is {other.code} already, another recording. Correct “interview” or “part” in {SHEET} {AGAIN}"
    return said.interview, part


def _join(connection: Connection, said: Described, language: str, interview: str, part: int) -> tuple[dict[str, Any], bool]:
    """Columns of the recording, and whether somebody joined its interview, which is made where it is new. `language`: where the
    sheet says none."""
    language = said.language or language
    codes = people.ids_by_code(connection)
    interview_id = recordings.interview_id(connection, interview, said.title, said.recorded_on, language)
    joined = [people.take_part(connection, interview_id, codes[code], role.value) for code, role in said.participants]
    columns = {
        "interview_id": interview_id, "position": part, "title": said.title, "recorded_on": said.recorded_on,
        "language": language, "microphones": said.microphones, "left_person_id": codes.get(said.left),
        "right_person_id": codes.get(said.right),
    }  # fmt: skip
    return columns, any(joined)


def _if_nobody(connection: Connection, values: dict[str, Any]) -> str:
    return "" if people.participants(connection, values["interview_id"]) else NOBODY


def _taken_words(code: str, measured: Measured) -> str:
    minutes, seconds = divmod(round(measured.duration_ms / 1000), 60)
    line = f"Taken as {code}: {minutes} min {seconds:02d} s, {measured.codec}."
    notes = [words for *_, words in measured.damage] + [flag[3] for flag in measured.flags]
    return " ".join([line, *dict.fromkeys(notes)])
