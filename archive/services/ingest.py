"""Taking recordings in: copy, checksum, measure, row. One bad file never stops the rest; sources are never written to."""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from archive.audio.measure import Measured
from archive.db import audit, jobs, people, recordings
from archive.db.origins import came
from archive.db.session import Connection, Row
from archive.domain.values import Viewer
from archive.errors import BadInput, BadMedia
from archive.files.guard import Source, walk_sources
from archive.files.masters import Taken, clean_extension
from archive.gate.indexing import index_recording
from archive.services.access import queue_copy
from archive.services.card import AGAIN, SHEET, Described, Match, Rows, interview_alone, match, read_sheet
from archive.services.measuring import measure_in_child
from archive.services.origins import Bond, Told, described, keep, keep_companions, told_of, words
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import Finding
from archive.services.transcribing import KIND as TRANSCRIBE

Progress = Callable[[Finding], None]
Alive = Callable[[], None]
NOTHING = "Nothing was added."
NO_INTERVIEW = f"It is in no interview yet: write it into {SHEET} {AGAIN}"
NOBODY = f"Nobody is said to have taken part in it yet: write its participants into {SHEET} {AGAIN}"


@dataclass(frozen=True, slots=True)
class Run:
    """One run of ingest: who asked, and the number its findings are kept under."""

    viewer: Viewer
    batch: str
    track: int | None = None  # which sound track, from 0, where a file has several
    alive: Alive | None = None  # called now and then; what it raises ends the run after the file before


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
        progress: Progress | None = None, track: int | None = None, alive: Alive | None = None,
    ) -> tuple[Finding, ...]:  # fmt: skip
        """Take files and folders in; returns what became of each.

        Where no sheet is named, the recordings.csv in each folder named is read, and the one beside each file named. `track`:
        which sound track, from 1, where a file has several. `alive` is called every second or so: what it raises ends the run.
        """
        need(viewer, *EDITORS)
        given = [sheet] if sheet else [f / SHEET for f in dict.fromkeys(map(_folder, paths)) if (f / SHEET).is_file()]
        with self._rooms.db.read() as connection:
            sheets = [(Path(os.path.abspath(path)).parent, read_sheet(connection, path)) for path in given]
            otherwise = Match(interview_alone(connection, interview)) if interview else Match()
        self._rooms.masters.sweep()
        run = Run(viewer, secrets.token_hex(8), None if track is None else max(0, track - 1), alive)
        sources = list(walk_sources(paths))
        matches = match(sheets, sources, anywhere=sheet is not None)
        found = []
        for source, own in zip(sources, matches, strict=True):
            if alive:
                alive()
            found.append(self._one(run, source, own if own.row else otherwise))
            if progress:
                progress(found[-1])
        for source in self._missing(paths, sheets, matches) if sheet is None else []:
            with self._rooms.db.write() as connection:
                found.append(self._note(connection, run, source, "missing", "missing", source.refusal or ""))
            if progress:
                progress(found[-1])
        if not found:
            raise BadInput("There is nothing to take in.", "Name a folder with recordings, or the files themselves.")
        return tuple(found)

    def take_sent(
        self, viewer: Viewer, sent: Sequence[Sent], folder: Path, sheet: Path | None, came: Callable[[Sent, Finding], None], alive: Alive | None
    ) -> tuple[Finding, ...]:  # fmt: skip
        """Take in files that were sent together and lie whole in `folder`, the archive's own, as a card with its sheet.

        `came` is told of each as it is done. Returns what became of the sheet's other rows: recordings that are here already
        are described by them, so that a sheet may be sent alone. Raises SheetError before anything is taken.
        """
        need(viewer, *EDITORS)
        batch = secrets.token_hex(8)
        with self._rooms.db.read() as connection:
            rows = read_sheet(connection, sheet) if sheet else {}
            alone = [Match(interview_alone(connection, s.interview)) if s.interview else Match() for s in sent]
        matches = match([(folder, rows)], [s.source for s in sent])
        for one, own, otherwise in zip(sent, matches, alone, strict=True):
            came(one, self._one(Run(viewer, batch, one.track, alive), one.source, own if own.row else otherwise))
        own_rows = {m.row for m in matches}
        return tuple(self._row_alone(Run(viewer, batch), folder, row, said) for row, said in rows.items() if (folder, row) not in own_rows)

    def _row_alone(self, run: Run, folder: Path, row: str, said: Described) -> Finding:
        """What a sheet says about a file that did not come with it."""
        name = row.rsplit("/", 1)[-1]
        with self._rooms.db.write() as connection:
            known = [r for r in recordings.files_named(connection, name) if r.interview_id is None or (r.interview_code, r.position) == (said.interview, said.part)]
            if len(known) == 1:
                told = self._describe(connection, run, Match(said, "", (folder, row)), known[0])
                return self._note(connection, run, Source(folder, name, below=row), "duplicate", "duplicate", f"Here already, as {known[0].code}. {told}", known[0].id)
            several = f"More than one recording came from a file of this name: {', '.join(r.code for r in known)}. {NOTHING}"
            words = several if known else f"{SHEET} names this file, and it was not sent."
            return self._note(connection, run, Source(folder, name, below=row), "missing", "missing", words)

    def _missing(self, paths: Sequence[Path], sheets: Sequence[tuple[Path, Rows]], matches: Sequence[Match]) -> list[Source]:
        """Files that a folder's own sheet names, and that neither lie in it nor were ever taken in."""
        words = f"{SHEET} names this file, and it is not here. Look whether the card was copied whole."
        whole = {_folder(p) for p in paths if p.is_dir()}
        seen = {m.row for m in matches}
        found = []
        with self._rooms.db.read() as connection:
            for folder, row, said in [(f, row, said) for f, rows in sheets if f in whole for row, said in rows.items()]:
                name = row.rsplit("/", 1)[-1]
                place = (said.interview, said.part)
                known = recordings.files_named(connection, name)
                mine = [r for r in known if r.interview_id is None or (r.interview_code, r.position) == place]
                if (folder, row) not in seen and not mine:
                    found.append(Source(folder / row, name, words, below=row))
        return found

    def _one(self, run: Run, source: Source, own: Match) -> Finding:
        try:
            if source.refusal:
                raise BadMedia("not taken", source.refusal, source.remedy)
            taken = self._taken(source)
            with self._rooms.db.read() as connection:
                known = recordings.recording_of_sum(connection, taken.sha256)
            if known is not None:
                with self._rooms.db.write() as connection:
                    found = self._again(connection, run, source, own, known)
                return self._with_companions(run, source, taken.path, found)
            try:
                measured = measure_in_child(taken.path, self._rooms.caps(), track=run.track, alive=run.alive)
            except BadMedia:
                # Whatever another file of the same bytes left as a half-finished intake is as bad as this one.
                self._rooms.masters.remove(taken.sha256)
                raise
            with self._rooms.db.read() as connection:
                known_ones = came(connection)
            told = told_of(known_ones, self._rooms.masters, source, taken.path, measured, self._rooms.today())
            with self._rooms.db.write() as connection:
                twin = recordings.recording_of_sum(connection, taken.sha256)
                if twin is not None:  # taken meanwhile
                    return self._again(connection, run, source, own, twin)
                found = self._keep(connection, run, source, own, taken, measured, told)
            return self._with_companions(run, source, taken.path, found)
        except BadMedia as bad:
            with self._rooms.db.write() as connection:
                return self._note(connection, run, source, "refused", bad.code, f"{bad.message} {bad.remedy}".strip())

    def _taken(self, source: Source) -> Taken:
        extension = clean_extension(Path(source.name).suffix)
        if source.ours:
            return self._rooms.masters.adopt(source.path, source.ours, extension)
        return self._rooms.masters.take(source.path, extension, self._rooms.options.max_bytes)

    def _with_companions(self, run: Run, source: Source, master: Path, found: Finding) -> Finding:
        """The same finding, after what lies beside the file was kept; what that says is on record with it."""
        with self._rooms.db.read() as connection:
            row = recordings.by_code(connection, found.recording)
        if row is None:
            return found

        def write(act: Callable[[Connection], bool]) -> bool:
            with self._rooms.db.write() as connection:
                return act(connection)

        lines, differs = keep_companions(write, self._rooms.folder, source, master, row.id, run.viewer.name, self._rooms.now())
        if not lines:
            return found
        told = " ".join([found.words, *lines])
        with self._rooms.db.write() as connection:
            recordings.reword_finding(connection, run.batch, source.below, row.id, told)
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
        self, connection: Connection, run: Run, source: Source, own: Match, taken: Taken, measured: Measured, told: Told
    ) -> Finding:  # fmt: skip
        now, by = self._rooms.now(), run.viewer.name
        if own.said is None and not own.doubt and told.follows is not None:
            own = Match(_following(connection, told.follows))
        place = _place(connection, own.said, None) if own.said is not None else own.doubt or NO_INTERVIEW
        values, joined = ({}, False) if isinstance(place, str) else _join(connection, own.said or Described(""), *place)
        wanted = None if isinstance(place, str) else f"{place[0]}.{place[1]}"
        code = recordings.free_code(connection, wanted)
        recording_id = recordings.add_recording(
            connection,
            {"sha256": taken.sha256, "bytes": taken.bytes, "extension": clean_extension(Path(source.name).suffix), "track": run.track or 0, "by": by, "at": now},
            {"code": code, "original_name": source.name, "duration_ms": measured.duration_ms, **values},
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
        values, joined = _join(connection, said, *place)
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


def _join(connection: Connection, said: Described, interview: str, part: int) -> tuple[dict[str, Any], bool]:
    """Columns of the recording, and whether somebody joined its interview, which is made where it is new."""
    codes = people.ids_by_code(connection)
    interview_id = recordings.interview_id(connection, interview, said.title, said.recorded_on, said.language)
    joined = [people.take_part(connection, interview_id, codes[code], role.value) for code, role in said.participants]
    columns = {
        "interview_id": interview_id, "position": part, "title": said.title, "recorded_on": said.recorded_on,
        "language": said.language, "microphones": said.microphones, "left_person_id": codes.get(said.left),
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
