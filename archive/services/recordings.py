"""Recordings as people work with them: the list, one recording's page, its sound in permitted pieces, who speaks."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from archive.audio.access import piece
from archive.db import audit, conflicts, consent_rows, jobs, likeness, origins, people, reach, recordings, runs
from archive.db.session import Connection, Row
from archive.domain import languages
from archive.domain.cleared import ShownSound, ShownTag, ShownUtterance
from archive.domain.masking import merge
from archive.domain.passages import in_view, shape, stages
from archive.domain.phrases import begin, day, many
from archive.domain.reasons import too_soon
from archive.domain.soundcheck import in_short, problems_of
from archive.domain.values import Role, Stretch, Viewer
from archive.errors import BadInput, BadMedia
from archive.gate import custody
from archive.gate.closed import open_counts, why_closed
from archive.gate.reading import Readings
from archive.gate.show import show_heard, show_part, show_recording, show_sound, show_tags, show_title, show_waiting
from archive.gate.show_check import show_sound_check
from archive.gate.translated import show_translations
from archive.services.card import recording_of
from archive.services.describing import describe_recording
from archive.services.origins import recorder_lines
from archive.services.reaching import recording_named
from archive.services.rooms import ANYBODY, EDITORS, EVERYBODY, HELPERS, KEEPER, Rooms, need
from archive.services.rows import RecordingPage, RecordingRow, UndatedRow, WaitingPage
from archive.services.sheets import Sheet
from archive.services.transcribing import KIND as TRANSCRIBE

MOST_WAITING = 30  # names and suggestions on a recording's page; a page of their own has all


class Recordings:
    """Recordings of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer) -> tuple[RecordingRow, ...]:
        """Every recording, in the order of interviews and parts."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            mine = reach.of(connection, viewer)
            return tuple(self._row(readings, viewer, r) for r in recordings.everything(connection) if mine.has(r.id))

    def _row(self, readings: Readings, viewer: Viewer, row: Row[Any]) -> RecordingRow:
        connection = readings.connection
        measured = recordings.measurement_of(connection, row.id)
        roles = people.participants(connection, row.interview_id)
        codes = readings.codes
        counted = custody.count(connection, row.id)
        told = open_counts(readings, viewer, row.id) or counted
        standings = consent_rows.load_standings(connection, roles)
        papers = bool(roles) and all(s.agreements for s in standings.values())
        team = viewer.role in EDITORS
        return RecordingRow(
            code=row.code, interview=recordings.interview_code(connection, row.interview_id), position=row.position,
            title=show_title(readings, viewer, row.id), recorded_on=row.recorded_on, duration_ms=row.duration_ms, microphones=row.microphones,
            participants=tuple(codes[p] for p in roles) if team else (), state=self._state(connection, row, counted.words),
            words=told.words, unassigned=told.far.unassigned, far=told.far, suggestions=told.suggestions,
            flags=in_short(problems_of(measured.flags, measured.damage), places=team) if measured is not None else (), has_agreement=papers,
        )  # fmt: skip

    def _state(self, connection: Connection, row: Row[Any], words: int) -> str:
        newest = jobs.newest_of(connection, TRANSCRIBE, row.code)
        heard_before = words and newest is not None and newest.state in jobs.OVER  # another hearing that failed takes nothing away
        if newest is not None and newest.state != "done" and not heard_before:
            return "transcribing" if newest.state == "working" else str(newest.state)
        if words:
            return "transcribed"
        if newest is not None and newest.state == "done":
            return "no speech found"
        may = custody.machine_may(connection, row.id, 0, row.duration_ms, self._rooms.context())
        return "not transcribed" if may.allowed else "not allowed"

    def page(self, viewer: Viewer, code: str, at_ms: int | None = None) -> RecordingPage:
        """One recording as this viewer may read it; of a long one the words of the part at `at_ms`, where that is given. A keeper who
        opened it (`viewer.opened`) reads the closed parts too."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            readings = Readings(connection, self._rooms.context())
            doubtful_below, team = self._rooms.options.doubtful_below, viewer.role in EDITORS
            shown = show_recording(readings, viewer, row.id, doubtful_below, at_ms)
            parts = stages([(u.start_ms, u.end_ms) for u in shown.utterances])
            names, names_waiting = show_waiting(readings, viewer, row.id, doubtful_below, 0, MOST_WAITING) if team else ((), 0)
            tags: tuple[ShownTag, ...] = show_tags(readings, viewer, row.id) if viewer.role in EVERYBODY else ()
            roles = people.participants(connection, row.interview_id)
            codes = readings.codes
            gaps = [(u.start_ms, u.end_ms) for u in shown.utterances if u.closed]
            gaps += [(w.start_ms, w.end_ms) for u in shown.utterances for w in u.words if w.closed]
            closed = merge(gaps)
            return RecordingPage(
                row=self._row(readings, viewer, row), shown=shown, tags=tags,
                people=tuple((codes[p], role) for p, role in roles.items()) if team else (),
                closed=tuple((s, e, why) for (s, e), why in zip(closed, why_closed(readings, viewer, row.id, closed), strict=True)),
                sealed_here=bool(closed) and viewer.role == Role.KEEPER,
                pause=self._pause(connection, row), notes=tuple(self._notes(connection, row)), technical=tuple(self._technical(connection, row)),
                transcript_on=self._heard_on(connection, row), sound=show_sound_check(readings, viewer, row.id),
                translations=show_translations(readings, viewer, row.id),
                parts=tuple(parts), shape=shape(u.utterance_id for u in shown.utterances), read=in_view(parts, at_ms), names=names, names_waiting=names_waiting,
                conflicts=conflicts.count_open(connection, row.id) if viewer.role in EDITORS else 0,
            )  # fmt: skip

    def part(self, viewer: Viewer, code: str, shaped: str, part: int) -> tuple[ShownUtterance, ...]:
        """One part of a long transcript, as this viewer may read it. Raises Clash where it has other utterances by now
        (`RecordingPage.shape`)."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            return show_part(Readings(connection, self._rooms.context()), viewer, row.id, shaped, part, self._rooms.options.doubtful_below)

    def waiting(self, viewer: Viewer, code: str, first: int, most: int) -> WaitingPage:
        """So many of the names that wait, and of the suggestions, those that wait before those that were decided, from the number `first` on."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            readings = Readings(connection, self._rooms.context())
            names, names_waiting = show_waiting(readings, viewer, row.id, self._rooms.options.doubtful_below, first, most)
            tags = sorted(show_tags(readings, viewer, row.id), key=lambda t: t.state != "suggested")
            return WaitingPage(row.code, names, names_waiting, tuple(tags[first : first + most]), len(tags))

    def taking_part(self, viewer: Viewer, code: str) -> tuple[tuple[str, str], ...]:
        """(code, role) of everybody who takes part in a recording's interview."""
        need(viewer, *HELPERS)
        with self._rooms.db.read() as connection:
            codes = people.codes_by_id(connection)
            return tuple((codes[p], role) for p, role in people.participants(connection, recording_named(connection, viewer, code).interview_id).items())

    def heard(self, viewer: Viewer, code: str) -> ShownSound:
        """What this viewer may hear of a recording, and its drawn sound."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            return show_heard(Readings(connection, self._rooms.context()), viewer, row.id)

    def _pause(self, connection: Connection, row: Row[Any]) -> str:
        """That the pause before use is not over, in a sentence; "" where it is."""
        over_on = recordings.last_days(connection, [row])[row.id]
        ends_on = over_on + timedelta(days=self._rooms.options.cooling_off_days)
        return too_soon(over_on, ends_on).words if self._rooms.today() < ends_on else ""

    def _notes(self, connection: Connection, row: Row[Any]) -> Sequence[str]:
        notes = []
        run = runs.newest_run(connection, row.id)
        origin = custody.origin(connection, row.id)
        if origin is not None and origin.kind == "imported":
            notes.append(f"This transcript was brought from elsewhere by {origin.by}. Nobody has ticked its words as heard against the sound.")
        elif run is not None:
            notes.append("Transcribed by our own computer; words it was unsure of are marked until somebody has heard them.")
            passed_over = run.options.get("passed_over", [])
            if passed_over:
                seconds = round(sum(e - s for s, e in passed_over) / 1000)
                passed = many(len(passed_over), "stretch was", "stretches were")
                notes.append(f"{passed} passed over as silent ({seconds} s), and not transcribed.")
            if unknown := run.options.get("unknown", []):
                seconds = round(sum(e - s for s, e in unknown) / 1000)
                notes.append(f"{seconds} s are in a language that our own computer does not know, and not transcribed: somebody has to type them.")
            if crosstalk := run.options.get("crosstalk", []):
                twice = many(len(crosstalk), "word was", "words were")
                notes.append(f"{begin(twice)} also heard faintly on the other speaker's microphone, and written once.")
        beside = origins.beside(connection, row.id)
        if beside:
            notes.append(f"Another microphone recorded the same time as {' and '.join(beside)}: what both heard is found and quoted from each.")
        return notes

    def _technical(self, connection: Connection, row: Row[Any]) -> Sequence[str]:
        """What stands under a heading of its own: codec, loudness, the engine and the checksum of its weights."""
        lines = []
        measured = recordings.measurement_of(connection, row.id)
        if measured is not None:
            loud = f", loudness {measured.loudness_lufs:.1f} LUFS" if measured.loudness_lufs is not None else ""
            lines.append(f"{measured.codec}, {measured.rate_hz / 1000:g} kHz, {many(measured.channels, 'channel')}{loud}.")
        run = runs.newest_run(connection, row.id)
        if run is not None:
            lines.append(f"Engine {run.engine}, weights with checksum {run.model_sha256[:12]}…, language {languages.name(run.language)}.")
        return lines

    def _heard_on(self, connection: Connection, row: Row[Any]) -> date | None:
        origin = custody.origin(connection, row.id)
        return date.fromisoformat(origin.at[:10]) if origin is not None else None

    def sound(self, viewer: Viewer, code: str, start_ms: int, end_ms: int) -> bytes:
        """One permitted stretch as a WAV (mono, 24 kHz, 16 bit), names muted for who may not hear them."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            asked = (start_ms, min(end_ms, row.duration_ms))
            stretch, mutes = show_sound(Readings(connection, self._rooms.context()), viewer, row.id, asked)
            master = recordings.master_of(connection, row.id)
        silent = [(m.start_ms, m.end_ms) for m in mutes]
        copy = self._rooms.derived.find(master.sha256)  # what leaves is cut from the master, and so is what is heard as it leaves
        with contextlib.suppress(BadMedia):  # the copy went away meanwhile, or its disk is bad
            if copy is not None:
                return piece(copy, stretch.start_ms, stretch.end_ms, silent)
        path = self._rooms.masters.path(master.sha256, master.extension)
        return piece(path, stretch.start_ms, stretch.end_ms, silent, track=master.track)

    def open_closed(self, viewer: Viewer, code: str, reason: str) -> None:
        """A keeper's deliberate look at closed speech: put on record, with the reason, before anything is shown."""
        need(viewer, *KEEPER)
        if not reason.strip():
            raise BadInput("Opening closed speech needs a reason.", "Say in a sentence why you must read it.")
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            audit.record(connection, viewer.name, "closed speech opened", f"recording {row.id}", self._rooms.now(), reason=reason)

    # -- when it was recorded ----------------------------------------------------------------------------------
    def undated(self, viewer: Viewer) -> tuple[UndatedRow, ...]:
        """Recordings of which nobody said when they were made, with what their recorders' clocks say."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = origins.undated(connection)
        return tuple(
            UndatedRow(r.code, r.duration_ms, r.original_name, f"{day(r.day)}{f', {r.time[:5]}' if r.time else ''}" if r.day else "", r.doubt or "")
            for r in rows
        )

    def say_when(self, viewer: Viewer, code: str, on: str) -> None:
        """A person says on which day something was recorded (2024-05-12); its interview gets the day where it has none."""
        need(viewer, *EDITORS)
        try:
            recorded_on = date.fromisoformat(on.strip())
        except ValueError:
            raise BadInput("That is no date.", "Write it as 2024-05-12.") from None
        if not date(1877, 1, 1) <= recorded_on <= self._rooms.today():  # before there was recorded sound, or still to come
            raise BadInput("Nothing can have been recorded on that day.", "Look at the year, and write the day as 2024-05-12.")
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            recordings.describe_recording(connection, row.id, recorded_on=recorded_on)
            if row.interview_id is not None:
                recordings.date_interview(connection, row.interview_id, recorded_on)
            before = row.recorded_on.isoformat() if row.recorded_on else ""
            audit.record(connection, viewer.name, "recording dated", f"recording {row.id}", self._rooms.now(), on=recorded_on.isoformat(), before=before)

    def came_with(self, viewer: Viewer, code: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """(what the recorder says, files that lay beside it), for who describes recordings. Neither is a fact."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            kept = origins.companions(connection, row.id)
            says = recorder_lines(connection, row.id)
        told = {"matches": ", and its checksum matches", "differs": ", and its checksum is NOT that of this recording"}
        return tuple(says), tuple(f"{c.name}: {c.kind}, {c.bytes} bytes, SHA-256 {c.sha256[:12]}…{told.get(c.says, '')}" for c in kept)

    # -- who speaks --------------------------------------------------------------------------------------------
    def assign(self, viewer: Viewer, code: str, speakers: Mapping[int, str]) -> int:
        """Say who speaks in which utterance ("" unassigns). Writes a version; returns how many utterances changed."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            roles = people.participants(connection, row.interview_id)
            known = {c: p for c, p in people.ids_by_code(connection).items() if p in roles}
            unknown = sorted({s for s in speakers.values() if s and s not in known})
            if unknown:
                raise BadInput("Somebody named did not take part in this interview.", "Add them to the interview first.")
            wanted = {block: known[s] if s else None for block, s in speakers.items()}
            return keep_speakers(self._rooms, connection, viewer, row.id, wanted)

    def read_speakers(self, viewer: Viewer, path: Path) -> int:
        """Read speakers.csv (file, start_s, end_s, person): an utterance goes to who speaks in most of it; returns changes."""
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("file", "start_s", "end_s", "person"))
        changed = 0
        with self._rooms.db.write() as connection:
            persons = people.ids_by_code(connection)
            said: dict[int, list[tuple[Stretch, int]]] = {}
            for row in sheet:
                recording = recording_of(connection, row)
                person_id = row.one_of("person", persons)
                start_ms, end_ms = row.ms("start_s"), row.ms("end_s")
                if end_ms <= start_ms:
                    row.fault("The stretch must end after it starts.")
                elif person_id is not None and recording is not None:
                    said.setdefault(recording.id, []).append((Stretch(recording.id, start_ms, end_ms), person_id))
            sheet.done()
            for recording_id, stretches in said.items():
                times = custody.times_of_utterances(connection, recording_id)
                wanted = {block: _most_of(s, e, stretches) for block, s, e, _ in times}
                known = {b: p for b, p in wanted.items() if p is not None}
                changed += keep_speakers(self._rooms, connection, viewer, recording_id, known)
        return changed


def keep_speakers(rooms: Rooms, connection: Connection, viewer: Viewer, recording_id: int, wanted: Mapping[int, int | None]) -> int:
    """Write who speaks in these utterances, and what follows from it; returns how many changed. Once nobody of the interview waits
    for a speaker, what the voices are like is deleted."""
    now = rooms.now()
    changed = custody.keep_speakers(connection, recording_id, wanted, viewer.name, now)
    if changed:
        describe_recording(connection, recording_id, rooms.context(), viewer.name, now)
        audit.record(connection, viewer.name, "speakers assigned", f"recording {recording_id}", now, utterances=changed)
    whole = recordings.beside(connection, recording_id)
    if not any(custody.count(connection, r).unassigned for r in whole) and likeness.forget(connection, whole):
        audit.record(connection, viewer.name, "voices forgotten", f"recording {recording_id}", now)
    return changed


def _most_of(start_ms: int, end_ms: int, said: list[tuple[Stretch, int]]) -> int | None:
    """Who speaks in most of an utterance; None where it is less than half of it, or two share it."""
    shared: dict[int, int] = {}
    for stretch, person_id in said:
        overlap = min(end_ms, stretch.end_ms) - max(start_ms, stretch.start_ms)
        if overlap > 0:
            shared[person_id] = shared.get(person_id, 0) + overlap
    if not shared:
        return None
    best = max(shared, key=lambda p: shared[p])
    return best if shared[best] * 5 >= sum(shared.values()) * 4 else None
