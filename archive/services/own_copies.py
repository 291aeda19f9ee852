"""A speaker's own copy of what they said: decided, made, read back, decided again, on the register, and handed over."""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
from pathlib import Path

from archive.audio.cut import make_clip
from archive.db import audit, contacts, excerpts, facts, people, recordings
from archive.db.session import Connection
from archive.domain import phrases
from archive.domain.cleared import ClearedCopy
from archive.domain.printed import Size
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, ConsentMoved, Refused, ScanRefused
from archive.gate.own_copy import clear_copy
from archive.gate.reading import Readings
from archive.gate.scan import matcher_for, scan_with
from archive.services.exports import GIVEN, could_not, give
from archive.services.letters import full_name, words_of
from archive.services.reaching import person_named
from archive.services.review_rows import CopyReport
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.work import STAGING

USE = "own_copy"  # as the register has it; nobody is asked about it, since it is of nobody else
CAUTION = "Hand it over in person, or as they asked. What they strike or close on the sheet is put on record on their page."


class OwnCopies:
    """Own copies of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def make(self, viewer: Viewer, person: str, recording: str, to: Path | None = None, size: str = Size.A4, large: bool = True) -> CopyReport:
        """Make somebody's own copy of a recording in a new folder: the transcript with the sheet (PDF), and the sound (WAV). Nothing of
        anybody else is in it. Raises NotFound; Refused where there is nothing of theirs; ScanRefused, ConsentMoved: then nothing was given."""
        need(viewer, *EDITORS)
        if size not in set(Size):
            raise BadInput("That is no size of paper that we print on.", f"Use one of: {', '.join(Size)}.")
        with self._rooms.db.read() as connection:
            person_id, recording_id = _named(connection, viewer, person, recording)
            first = self._clear(connection, person_id, recording_id)
            code = excerpts.next_export_code(connection)
            contact = contacts.of(connection, person_id)
            name = contact.called or full_name(connection, person_id)
        if not first.lines:
            raise Refused("Nothing in this recording is theirs alone to have.", (), "Say who speaks, or wait until an objection is decided. Nothing was made.")
        target = Path(os.path.abspath(to)) if to is not None else self._rooms.folder / GIVEN / code
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise Clash("The folder is there already and is not empty.", "Name a new folder.")
        if to is not None and matcher_for(first.forbidden).first_hit(target.name, any_case=True) is not None:
            raise BadInput("The name of the folder holds a name that must not leave; nothing was given.", "Name the folder otherwise.")
        staging = self._rooms.folder / STAGING / f"own-copy-{secrets.token_hex(6)}"
        try:
            sums = self._made(first, staging, code, name, contact.language, Size(size), large)
            self._registered(viewer, first, person_id, recording_id, code, target, sums)
            give(staging, target)
        except OSError as error:
            raise could_not(error) from None
        finally:
            shutil.rmtree(staging, ignore_errors=True)
        with self._rooms.db.write() as connection:
            row = excerpts.export_by_code(connection, code)
            assert row is not None
            excerpts.mark_given(connection, row.id, self._rooms.now())
            audit.record(connection, viewer.name, "export given", f"export {row.id}", self._rooms.now())
        return CopyReport(code, str(target), tuple(sorted(sums)), any(not line.text for line in first.lines), (*contact.notes(), CAUTION))

    def _clear(self, connection: Connection, person_id: int, recording_id: int) -> ClearedCopy:
        return clear_copy(Readings(connection, self._rooms.context()), person_id, recording_id, self._rooms.options.mute_margin_ms)

    def _made(self, copy: ClearedCopy, staging: Path, code: str, name: str, language: str, size: Size, large: bool) -> dict[str, str]:
        """Write and read back every file; returns name → SHA-256. Raises ScanRefused."""
        from archive.render.own_copy import (  # a fifth of a second that a worker's start need not wait for
            CopyHead,
            own_copy_pdf,
        )

        staging.mkdir(parents=True, mode=0o700)
        head = CopyHead(code, self._rooms.options.name, name, self._rooms.today())
        (staging / "transcript.pdf").write_bytes(own_copy_pdf(copy, head, words_of(self._rooms, language), size, large))
        for clip in copy.clips:
            source = self._rooms.masters.path(clip.master_sha256, clip.extension)
            options = self._rooms.options
            make_clip(clip, source, staging / f"sound-{clip.item:02d}.wav", options.clip_loudness_lufs, bed=options.mute_bed == "noise", beep=False)
        matcher = matcher_for(copy.forbidden, (*copy.allowed, name, self._rooms.options.name, self._rooms.options.exhibition))
        sums, findings = {}, []
        for path in sorted(staging.iterdir()):
            findings += scan_with(matcher, path)
            with open(path, "rb+") as stream:
                os.fsync(stream.fileno())  # a power cut after the register must not leave empty files
                sums[path.name] = hashlib.file_digest(stream, "sha256").hexdigest()
        if findings:
            raise ScanRefused("The last look at the finished files found something that must not leave. Nothing was given.", tuple(f.sentence() for f in findings))
        return sums

    def _registered(self, viewer: Viewer, first: ClearedCopy, person_id: int, recording_id: int, code: str, target: Path, sums: dict[str, str]) -> None:
        """Decide again, and put it on record as approved: a crash over-reports and never under-reports."""
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            if self._clear(connection, person_id, recording_id).digest != first.digest:
                raise ConsentMoved("Something was decided otherwise while the copy was being made. Nothing was given.")
            revision = facts.consent_revision(connection)
            export_id, given = excerpts.add_export(connection, USE, self._rooms.options.exhibition, revision, str(target), viewer.name, now)
            if given != code:  # the paper says another number
                raise Clash("Something else was exported meanwhile. Nothing was given.", "Make it again.")
            excerpts.add_own_copy(connection, export_id, person_id, recording_id)
            for name, sha256 in sorted(sums.items()):
                excerpts.add_file(connection, export_id, name, sha256)
            audit.record(connection, viewer.name, "own copy approved", f"export {export_id}", now, person=person_id, recording=recording_id, files=len(sums))


def _named(connection: Connection, viewer: Viewer, person: str, recording: str) -> tuple[int, int]:
    """Whose copy of what. Raises NotFound; Refused where they take no part in it."""
    row, who = recordings.named(connection, recording), person_named(connection, viewer, person)
    if who.id not in people.participants(connection, row.interview_id):
        raise Refused(f"They do not take part in {phrases.begin(row.code)}.", (), "An own copy is of what somebody says themselves. Nothing was made.")
    return int(who.id), int(row.id)
