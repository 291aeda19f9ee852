"""Readings: the words of an excerpt read aloud by somebody else, tied to exactly these words.

Allowed where the speaker allows both the use it is to leave for and re-voicing, in words. Their own voice is not needed for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.audio.decode import LONGEST_MS
from archive.audio.probe import Caps
from archive.db import audit, excerpts, recordings, spoken
from archive.db.session import Connection, Row
from archive.domain.consent import explain
from archive.domain.masking import merge
from archive.domain.values import Role, Viewer, Way
from archive.errors import BadInput, BadMedia, NotFound, Refused
from archive.files.masters import clean_extension
from archive.gate.beyond import excerpt_named, reaches
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.gate.scan import matcher_for
from archive.gate.titles import export_names
from archive.gate.voices import RE_VOICING, counting, shown_key
from archive.services.measuring import measure_in_child
from archive.services.rooms import EDITORS, Rooms, need

MOST_BYTES = 100_000_000  # fifteen minutes of mono WAV; what is longer is no quote
MOST_CREDIT = 80
MEASURE_S = 300.0


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading of an excerpt: who reads it, how long it is, and whether it counts for these words today (`why_not`)."""

    excerpt: str
    credit: str
    duration_ms: int
    counts: bool
    why_not: str


class Voices:
    """Readings of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def add_reading(self, viewer: Viewer, code: str, file: Path, credit: str, extension: str = "") -> ReadingRow:
        """Take a sound file in as a reading of exactly the words of this excerpt, as they leave today. The newest counts.

        Raises Refused with every reason where the speaker does not allow it, BadInput, BadMedia, NotFound.
        """
        need(viewer, *EDITORS)
        credit = " ".join(credit.split())
        with self._rooms.db.read() as connection:
            self._allowed(connection, code)
            self._credit(connection, credit)
        if not file.is_file():
            raise BadInput("There is no such file.", "Name the sound file of the reading.")
        kind = clean_extension(extension or file.suffix)
        taken = self._rooms.masters.take(file, kind, min(MOST_BYTES, self._rooms.options.max_bytes))
        try:
            with self._rooms.db.read() as connection:
                if recordings.recording_of_sum(connection, taken.sha256) is not None:
                    raise BadInput(
                        "This is a recording of the archive, with the speaker’s own voice; it is no reading.",
                        "Have the words read by somebody else, and give that file.",
                    )
            measured = measure_in_child(taken.path, Caps(max_duration_ms=LONGEST_MS, max_bytes=MOST_BYTES), MEASURE_S)
            speech = merge([(s, e) for channel in measured.speech_ms for s, e in channel])
            if not speech:
                raise BadInput("Nobody speaks in this file.", "Listen to it, and give the file in which the words are read.")
            with self._rooms.db.write() as connection:
                row, key = self._allowed(connection, code)
                now = self._rooms.now()
                made = spoken.add_reading(
                    connection,
                    {"sha256": taken.sha256, "bytes": taken.bytes, "extension": taken.path.suffix.lstrip("."), "by": viewer.name, "at": now},
                    excerpt_id=row.id, shown_sha256=key, duration_ms=measured.duration_ms,
                    speech_ms=[list(part) for part in speech], credit=credit, by=viewer.name, at=now,
                )  # fmt: skip
                audit.record(
                    connection, viewer.name, "reading added", f"excerpt {row.id}", now, reading=made, sha256=taken.sha256
                )
        except (BadInput, BadMedia, Refused):
            if not taken.already:  # bytes that nothing on record names
                self._rooms.masters.remove(taken.sha256)
            raise
        return ReadingRow(code, credit, measured.duration_ms, True, "")

    def drop_readings(self, viewer: Viewer, code: str) -> int:
        """Use no reading of this excerpt any more; returns how many there were."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = excerpt_named(Readings(connection, self._rooms.context()), viewer, code)
            gone = spoken.drop(connection, row.id)
            if gone:
                audit.record(connection, viewer.name, "readings dropped", f"excerpt {row.id}", self._rooms.now(), readings=gone)
        return gone

    def of_excerpts(self, viewer: Viewer) -> dict[str, ReadingRow]:
        """excerpt code → its newest reading, for the excerpts on the list."""
        need(viewer, *EDITORS)
        found: dict[str, ReadingRow] = {}
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            for row in excerpts.chosen(connection):
                if not reaches(readings, viewer, row):
                    continue
                rows = spoken.readings(connection, row.id)
                if rows:
                    counts, why_not = counting(Pinned(readings, row), row.use)
                    shown = counts or rows[0]
                    found[row.code] = ReadingRow(row.code, shown.credit, shown.duration_ms, counts is not None, why_not)
        return found

    def sound(self, viewer: Viewer, code: str) -> Path:
        """The file of the reading that counts, to be listened to. Raises NotFound where there is none."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            counts = counting(Pinned(readings, row := excerpt_named(readings, viewer, code)), row.use)[0]
        if counts is None:
            raise NotFound("There is no reading of these words.")
        return self._rooms.masters.path(counts.master_sha256, counts.extension)

    def _allowed(self, connection: Connection, code: str) -> tuple[Row[Any], str]:
        """The excerpt and the checksum of its words as they leave, where these may be spoken by somebody else. Raises NotFound, Refused."""
        row = excerpts.by_code(connection, code)
        if row is None or row.set_aside_at is not None:
            raise NotFound("There is no such excerpt.")
        pinned = Pinned(Readings(connection, self._rooms.context()), row)
        asked = [(use, pinned.decide(use, Way.WORDS)) for use in dict.fromkeys((row.use, RE_VOICING))]
        reasons = tuple(dict.fromkeys(line for _, decision in asked if not decision.allowed for line in explain(decision, Role.EDITOR)[1:]))
        if reasons:
            raise Refused(
                "These words may not be read aloud by somebody else for this use.", reasons,
                "Ask the speaker, and write the answer down: re-voicing, in words, is a use of its own.",
            )  # fmt: skip
        return row, shown_key(pinned, row.use)

    def _credit(self, connection: Connection, credit: str) -> None:
        if not credit or len(credit) > MOST_CREDIT:
            raise BadInput(f"The credit must have 1 to {MOST_CREDIT} letters.", "Write who reads, e.g. “an actor”.")
        names = export_names(Readings(connection, self._rooms.context()), [])
        if matcher_for(names).first_hit(credit, any_case=True) is not None:
            raise BadInput(
                "The credit holds the name of somebody on record, which the last scan would refuse.",
                "Write who reads in another way, e.g. “a member of the team”.",
            )


__all__ = ["ReadingRow", "Voices"]
