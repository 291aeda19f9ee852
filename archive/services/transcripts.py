"""Transcripts from elsewhere, and out again: a script becomes a version of its recording; a transcript is written as a file
for the team's own use, as whoever asks may read it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.db import audit, jobs, people, recordings
from archive.db.session import Connection, Row
from archive.domain.cleared import ShownMisfit, ShownRecording
from archive.domain.letters import folded
from archive.domain.phrases import many
from archive.domain.script import Script
from archive.domain.values import Part, Viewer
from archive.errors import BadInput, Clash, NotFound, Refused
from archive.files.docx import is_package, main_part
from archive.gate import custody
from archive.gate.reading import Readings
from archive.gate.show import show_misfits, show_recording
from archive.render.transcript import as_json, as_srt, as_text, as_vtt
from archive.render.transcript_docx import as_docx
from archive.render.transcript_tei import as_tei
from archive.rules.script_fit import Said, fit
from archive.rules.script_labels import NOT_ASSIGNED
from archive.rules.script_sound import put_to_sound
from archive.rules.scripts import read_script
from archive.services.describing import describe_recording
from archive.services.rooms import EDITORS, EVERYBODY, Rooms, need
from archive.services.transcribing import KIND as TRANSCRIBE

MOST_BYTES = 10_000_000
# What transcribers write for the one who asks and the one who tells (common practice, no source).
_ROLES = {
    Part.INTERVIEWER: ("interviewer", "int", "q", "question"),
    Part.NARRATOR: ("narrator", "interviewee", "respondent", "a", "answer"),
    Part.INTERPRETER: ("interpreter", "translator"),
}
_PLAIN_WRITERS: dict[str, Callable[[ShownRecording], bytes]] = {
    "vtt": as_vtt, "srt": as_srt, "txt": as_text, "json": as_json, "tei.xml": as_tei,
}  # fmt: skip
FORMS = {
    "vtt": "WebVTT captions", "srt": "SRT captions", "docx": "DOCX, times in the margin", "txt": "plain text",
    "json": "JSON, with the times of every word", "tei.xml": "TEI P5, transcription of speech",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class BroughtIn:
    """What became of a script: what it was, how many words and utterances, which labels are nobody's here (their utterances
    count as everybody), what a person should know, where it and the sound do not fit, how many suggestions wait."""

    recording: str
    kind: str
    words: int
    utterances: int
    unassigned: int
    unknown: tuple[str, ...]
    notes: tuple[str, ...]
    misfits: tuple[ShownMisfit, ...]
    suggestions: int


@dataclass(frozen=True, slots=True)
class _Timed:
    """A script in its recording's time. `heard`: the machine's version that it was put to, 0 where it had times itself."""

    said: tuple[Said, ...]
    notes: tuple[str, ...]
    heard: int = 0
    places: tuple[tuple[bool, int, int], ...] = ()


class Transcripts:
    """Reads scripts and writes transcripts for one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- in ----------------------------------------------------------------------------------------------------
    def read_file(
        self, viewer: Viewer, code: str, path: Path, speakers: Mapping[str, str] | None = None, encoding: str = "", to_sound: bool = False
    ) -> BroughtIn:
        """As `read`, from a file."""
        need(viewer, *EDITORS)
        try:
            if path.stat().st_size > MOST_BYTES:
                raise _too_large()
            data = path.read_bytes()
        except OSError:
            raise BadInput("This file cannot be opened.", "Check the name and try again. Nothing was changed.") from None
        return self.read(viewer, code, data, speakers, encoding, to_sound)

    def read(
        self, viewer: Viewer, code: str, data: bytes, speakers: Mapping[str, str] | None = None, encoding: str = "", to_sound: bool = False
    ) -> BroughtIn:
        """Make a script the newest version of a recording. `speakers`: label in the script → code of who that is;
        `to_sound`: put every word to the sound, whatever times there are (done by itself where there are none).

        What was there stays as an older version. Raises BadInput where it cannot be read or is another recording's, Refused
        where our own computer may not read this recording, Clash where its transcript is just being made or changed.
        """
        need(viewer, *EDITORS)
        if len(data) > MOST_BYTES:
            raise _too_large()
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            before = custody.newest_version(connection, row.id)
            who = _Called.of(connection, row, speakers or {})
        script = read_script(data, who.labels(), encoding, main_part(data) if is_package(data) else None)
        timed = self._timed(row, script, to_sound)
        with self._rooms.db.write() as connection:
            newest = jobs.newest_of(connection, TRANSCRIBE, row.code)
            if newest is not None and newest.state in ("waiting", "working", "paused"):
                raise Clash("This recording is being transcribed, or waits for it.", "Wait until that is done, or cancel it; then read the file again.")
            if custody.newest_version(connection, row.id) != before:
                raise Clash("Somebody changed this transcript meanwhile.", "Look at it, then read the file again. Nothing was changed.")
            return self._keep(connection, viewer, row, script, timed, who, hashlib.sha256(data).hexdigest())

    def _timed(self, row: Row[Any], script: Script, to_sound: bool) -> _Timed:
        if script.timed and not to_sound:
            fitted = fit(script, row.duration_ms)
            return _Timed(fitted.said, fitted.notes)
        with self._rooms.db.read() as connection:
            heard, words = custody.heard_by_machine(connection, row.id, self._rooms.context())
        if not words:
            raise BadInput(
                "This transcript has no times, and our own computer has not heard the recording yet.",
                f"Let it listen first (`toldhere transcribe {row.code}`), then read the file again: its words get the times at "
                "which they were heard.",
            )
        placed = put_to_sound(script, words, row.duration_ms)
        places = [(True, s, e) for s, e, _ in placed.unheard] + [(False, s, e) for s, e, _ in placed.untyped]
        notes = ["It was put to the sound: its words have the times at which our own computer heard them."]
        if unheard := sum(n for *_, n in placed.unheard):
            notes.append(f"{many(unheard, 'typed word was', 'typed words were')} not heard there: marked as doubtful, at times that are guessed.")
        if untyped := sum(n for *_, n in placed.untyped):
            notes.append(f"{many(untyped, 'word was', 'words were')} heard that nobody typed.")
        return _Timed(placed.said, tuple(notes), heard, tuple(sorted(places, key=lambda p: p[1])))

    def _keep(
        self, connection: Connection, viewer: Viewer, row: Row[Any], script: Script, timed: _Timed, who: _Called, sha256: str
    ) -> BroughtIn:
        now, context = self._rooms.now(), self._rooms.context()
        alone = custody.only_participant(connection, row.interview_id) if not any(s.speaker for s in timed.said) else None
        lines = [(who.person(s.speaker) if s.speaker else alone, s.words) for s in timed.said]
        custody.keep_imported(connection, row.id, lines, viewer.name, now)
        described = describe_recording(connection, row.id, context, viewer.name, now)
        count = custody.count(connection, row.id)
        audit.record(
            connection, viewer.name, "transcript read", f"recording {row.id}", now, format=script.kind, sha256=sha256,
            words=count.words, unassigned=count.unassigned, put_to_sound=bool(timed.heard),
        )  # fmt: skip
        labels = dict.fromkeys(s.speaker for s in timed.said if s.speaker)
        unknown = [label for label in labels if who.person(label) is None and folded(label) != folded(NOT_ASSIGNED)]
        readings = Readings(connection, context)
        return BroughtIn(
            row.code, script.kind, count.words, len(lines), count.unassigned, tuple(unknown), (*script.notes, *timed.notes),
            show_misfits(readings, viewer, row.id, timed.heard, timed.places), described.waiting,
        )  # fmt: skip

    # -- out ---------------------------------------------------------------------------------------------------
    def write(self, viewer: Viewer, code: str, form: str) -> tuple[str, bytes]:
        """(name of the file, its bytes) of a recording's transcript as this viewer may read it: FORMS. On record.

        For the team's own use: whoever may read names has them in it. Raises Refused where none of it is open to the viewer.
        """
        need(viewer, *EVERYBODY)
        if form not in FORMS:
            raise NotFound("There is no such form of a transcript.", f"Name one of: {', '.join(FORMS)}.")
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            readings = Readings(connection, self._rooms.context())
            shown = show_recording(readings, viewer, row.id, self._rooms.options.doubtful_below)
        if not shown.utterances:
            raise BadInput("This recording has no transcript yet.", "Transcribe it, or read one that somebody typed.")
        if all(u.closed for u in shown.utterances):
            raise Refused("Nothing of this transcript is open for you to read.", (), "What is closed is not written out.")
        made = as_docx(shown, self._rooms.today()) if form == "docx" else _PLAIN_WRITERS[form](shown)
        with self._rooms.db.write() as connection:
            audit.record(
                connection, viewer.name, "transcript written out", f"recording {row.id}", self._rooms.now(), form=form,
                version=shown.version, role=viewer.role.value,
            )  # fmt: skip
        return f"{row.code}.{form}", made


def _too_large() -> BadInput:
    return BadInput("This file is too large for a transcript.", "Save its words alone. Nothing was changed.")


class _Called:
    """Who a label may mean, among those who took part: a code, a name they are called by, or a role that one person has."""

    def __init__(self, known: Mapping[str, int]) -> None:
        self._known = known

    @classmethod
    def of(cls, connection: Connection, row: Row[Any], given: Mapping[str, str]) -> _Called:
        """Raises BadInput where somebody named by the caller did not take part."""
        roles = people.participants(connection, row.interview_id)
        codes, names = people.codes_by_id(connection), people.names(connection)
        meant: dict[str, set[int]] = {}
        for person_id, role in roles.items():
            called = [codes[person_id], *(n.text for n in names.get(person_id, []))]
            if list(roles.values()).count(role) == 1:
                called += _ROLES.get(Part(role), ())
            for label in called:
                meant.setdefault(folded(label).strip(" ."), set()).add(person_id)
        known = {label: found.pop() for label, found in meant.items() if len(found) == 1}
        by_code = {codes[p]: p for p in roles}
        for label, code in given.items():
            if code not in by_code:
                raise BadInput("Somebody named did not take part in this interview.", "Add them to the interview first.")
            known[folded(label).strip(" .")] = by_code[code]
        return cls(known)

    def labels(self) -> list[str]:
        """Every label that means somebody."""
        return list(self._known)

    def person(self, label: str) -> int | None:
        """Who a label means; None where nobody or several. “N-01 · Ada Marl”, as we write it, is N-01."""
        for part in (label, label.split(" · ", 1)[0]):
            found = self._known.get(folded(part).strip(" ."))
            if found is not None:
                return found
        return None
