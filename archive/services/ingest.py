"""Taking recordings in: copy, checksum, measure, row. One bad file never stops the rest; sources are never written to."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from archive.audio.measure import Measured
from archive.audio.probe import Caps
from archive.db import audit, people, recordings
from archive.db.session import Connection
from archive.domain.values import Part, Viewer
from archive.errors import BadInput, BadMedia
from archive.files.guard import Source, walk_sources
from archive.files.masters import Taken, clean_extension
from archive.gate.indexing import index_recording
from archive.gate.reading import forbidden_names
from archive.gate.scan_match import Matcher
from archive.services.measuring import measure_in_child
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import Finding
from archive.services.sheets import Sheet

SHEET = "recordings.csv"
Progress = Callable[[Finding], None]


@dataclass(frozen=True, slots=True)
class Described:
    """What the sheet says about one file."""

    interview: str
    part: int
    recorded_on: date | None
    title: str
    language: str
    microphones: str
    left: str
    right: str
    participants: tuple[tuple[str, Part], ...]

    @property
    def code(self) -> str:
        """The recording's code: interview and part."""
        return f"{self.interview}.{self.part}"


class Ingest:
    """Taking in, for one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def read_sheet(self, path: Path) -> dict[str, Described]:
        """recordings.csv: file name → what it says. Raises SheetError; nothing is written."""
        sheet = Sheet(path, ("file", "interview", "part"), key=("file",))
        with self._rooms.db.read() as connection:
            known = people.ids_by_code(connection)
            named = Matcher(forbidden_names(people.names(connection)))
        found: dict[str, Described] = {}
        taken: dict[tuple[str, int], str] = {}
        for row in sheet:
            took_part = []
            for item in row.list("participants"):
                code, _, role = item.partition(":")
                if code not in known:
                    row.fault(f"“{code}” in “participants” is not on record. Read people.csv first.")
                try:
                    took_part.append((code, Part(role or "narrator")))
                except ValueError:
                    row.fault(f"“{role}” is no role. Write one of: {', '.join(Part)}.")
            if row["microphones"] not in ("", "one", "two"):
                row.fault(f"“{row['microphones']}” in “microphones” is not known. Write one or two.")
            row.one_of("left", known)
            row.one_of("right", known)
            interview, part = row.needed("interview"), row.number_of("part", 1)
            if named.first_hit(interview, any_case=True):
                row.fault("“interview” has somebody's name in it, and codes stand in addresses and lists. Use a number.")
            other = taken.setdefault((interview, part), row["file"])
            if other != row["file"]:
                row.fault(f"“{other}” is part {part} of {interview} already. Write the order of its files in “part”: 1, 2, …")
            found[row.needed("file")] = Described(
                interview, part, row.day("recorded_on"), row["title"],
                row["language"] or "en", row["microphones"] or "one", row["left"], row["right"], tuple(took_part),
            )  # fmt: skip
        sheet.done()
        return found

    def take(
        self, viewer: Viewer, paths: Sequence[Path], interview: str = "", sheet: Path | None = None,
        progress: Progress | None = None,
    ) -> tuple[Finding, ...]:  # fmt: skip
        """Take files and folders in; returns what became of each. A folder's own recordings.csv is read where none is named."""
        need(viewer, *EDITORS)
        said: dict[str, Described] = {}
        for given in [sheet] if sheet else [p / SHEET for p in paths if (p / SHEET).is_file()]:
            said.update(self.read_sheet(given))
        self._rooms.masters.sweep()
        batch = secrets.token_hex(8)
        found = []
        for source in walk_sources(paths):
            described = said.get(source.name)
            if described is None and interview:
                described = Described(interview, 0, None, "", "en", "one", "", "", ())
            found.append(self._one(viewer, batch, source, described))
            if progress:
                progress(found[-1])
        for source in self._missing(paths, {f.source_name for f in found}):
            found.append(self._find(viewer, batch, source, "missing", "missing", source.refusal or "", ""))
            if progress:
                progress(found[-1])
        if not found:
            raise BadInput("There is nothing to take in.", "Name a folder with recordings, or the files themselves.")
        return tuple(found)

    def _missing(self, paths: Sequence[Path], seen: set[str]) -> list[Source]:
        """Files that a folder's own sheet names, and that neither lie in it nor were ever taken in."""
        folders = [p for p in paths if (p / SHEET).is_file()]
        with self._rooms.db.read() as connection:
            return [
                Source(folder / name, name, f"{SHEET} names this file, and it is not here. Look whether the card was copied whole.")
                for folder in folders
                for name in self.read_sheet(folder / SHEET)
                if name not in seen and recordings.by_file(connection, name) is None
            ]

    def _one(self, viewer: Viewer, batch: str, source: Source, described: Described | None) -> Finding:
        try:
            if source.refusal:
                raise BadMedia("not taken", source.refusal, source.remedy)
            taken = self._rooms.masters.take(source.path, clean_extension(source.path.suffix), self._rooms.options.max_bytes)
            known = self._known(taken.sha256)
            if known:
                words = f"These very bytes are here already, as {known}. Nothing was added."
                return self._find(viewer, batch, source, "duplicate", "duplicate", words, known)
            try:
                measured = measure_in_child(taken.path, self._caps())
            except BadMedia:
                # Whatever another file of the same bytes left as a half-finished intake is as bad as this one.
                self._rooms.masters.remove(taken.sha256)
                raise
            return self._keep(viewer, batch, source, described, taken, measured)
        except BadMedia as bad:
            return self._find(viewer, batch, source, "refused", bad.code, f"{bad.message} {bad.remedy}".strip(), "")

    def _caps(self) -> Caps:
        options = self._rooms.options
        return Caps(
            max_duration_ms=options.max_hours * 3_600_000, max_channels=options.max_channels, max_bytes=options.max_bytes
        )

    def _known(self, sha256: str) -> str:
        with self._rooms.db.read() as connection:
            row = recordings.recording_of_sum(connection, sha256)
        return row.code if row is not None else ""

    def _find(
        self, viewer: Viewer, batch: str, source: Source, outcome: str, code: str, words: str, recording: str
    ) -> Finding:  # fmt: skip
        with self._rooms.db.write() as connection:
            row = recordings.by_code(connection, recording) if recording else None
            recordings.add_finding(
                connection, batch=batch, source_name=source.name, outcome=outcome, reason_code=code, words=words,
                recording_id=row.id if row is not None else None, by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
        return Finding(source.name, outcome, words, recording)

    def _keep(
        self, viewer: Viewer, batch: str, source: Source, said: Described | None, taken: Taken, measured: Measured
    ) -> Finding:  # fmt: skip
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            twin = recordings.recording_of_sum(connection, taken.sha256)
            if twin is None:
                code, recording_id = self._add(connection, viewer, source, said, taken, measured)
                words = _taken_words(code, measured)
                recordings.add_finding(
                    connection, batch=batch, source_name=source.name, outcome="taken", words=words,
                    recording_id=recording_id, by=viewer.name, at=now,
                )  # fmt: skip
                audit.record(
                    connection, viewer.name, "recording taken", f"recording {recording_id}", now,
                    sha256=taken.sha256, bytes=taken.bytes, duration_ms=measured.duration_ms,
                )  # fmt: skip
                return Finding(source.name, "taken", words, code)
        return self._find(viewer, batch, source, "duplicate", "duplicate", f"Taken meanwhile as {twin.code}.", twin.code)

    def _add(
        self, connection: Connection, viewer: Viewer, source: Source, said: Described | None, taken: Taken, measured: Measured
    ) -> tuple[str, int]:  # fmt: skip
        now = self._rooms.now()
        values: dict[str, object] = {"original_name": source.name, "duration_ms": measured.duration_ms}
        wanted = None
        if said is not None:
            codes = people.ids_by_code(connection)
            interview_id = recordings.interview_id(connection, said.interview, said.title, said.recorded_on, said.language)
            joined = [people.take_part(connection, interview_id, codes[code], role.value) for code, role in said.participants]
            if any(joined):  # an unassigned utterance counts as everybody who took part: their parts are indexed anew
                for other in recordings.of_interview(connection, interview_id):
                    index_recording(connection, other.id, self._rooms.context())
            part = said.part or len(recordings.of_interview(connection, interview_id)) + 1
            wanted = f"{said.interview}.{part}"
            values |= {
                "interview_id": interview_id, "position": part, "title": said.title, "recorded_on": said.recorded_on,
                "language": said.language, "microphones": said.microphones, "left_person_id": codes.get(said.left),
                "right_person_id": codes.get(said.right),
            }  # fmt: skip
        code = recordings.free_code(connection, wanted)
        recording_id = recordings.add_recording(
            connection,
            {"sha256": taken.sha256, "bytes": taken.bytes, "extension": clean_extension(source.path.suffix), "by": viewer.name, "at": now},
            {"code": code, **values},
        )
        recordings.add_measurement(
            connection, recording_id=recording_id, container=measured.container, codec=measured.codec,
            rate_hz=measured.rate_hz, bit_depth=measured.bit_depth, channels=measured.channels,
            duration_ms=measured.duration_ms, loudness_lufs=measured.loudness_lufs, true_peak_dbtp=measured.true_peak_dbtp,
            noise_dbfs=measured.noise_dbfs, speech_ms=measured.speech_ms, damage=measured.damage, flags=measured.flags,
            peak_ms=measured.peak_ms, peaks=measured.peaks, by=viewer.name, at=now,
        )  # fmt: skip
        return code, recording_id

    def findings(self, viewer: Viewer) -> tuple[Finding, ...]:
        """The newest findings first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = recordings.findings(connection)
        return tuple(Finding(r.source_name, r.outcome, r.words, r.code or "") for r in rows)


def _taken_words(code: str, measured: Measured) -> str:
    minutes, seconds = divmod(round(measured.duration_ms / 1000), 60)
    line = f"Taken as {code}: {minutes} min {seconds:02d} s, {measured.codec}."
    notes = [words for *_, words in measured.damage] + [flag[3] for flag in measured.flags]
    return " ".join([line, *dict.fromkeys(notes)])
