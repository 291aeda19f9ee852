"""Names that are spoken: what a person decided about each stretch. Undecided means hidden in whatever leaves."""

from __future__ import annotations

from pathlib import Path

from archive.db import audit, mentions, people, recordings
from archive.db.session import Connection
from archive.domain.values import Decision, Stretch, Viewer
from archive.errors import BadInput, NotFound
from archive.gate import custody
from archive.gate.indexing import index_recording
from archive.gate.reading import Readings
from archive.gate.show import waiting_names
from archive.services.card import recording_of
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.sheets import Sheet


class Naming:
    """Decisions about names, for one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def waiting(self, viewer: Viewer, recording: str) -> tuple[tuple[int, int, str], ...]:
        """Undecided stretches of a recording: (start_ms, end_ms, code of who may be meant, "" where not on record)."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.by_code(connection, recording)
            if row is None:
                raise NotFound("There is no such recording.")
            codes = people.codes_by_id(connection)
            return tuple(
                (m.stretch.start_ms, m.stretch.end_ms, codes.get(m.person_id or 0, ""))
                for m in waiting_names(Readings(connection, self._rooms.context()), viewer, row.id)
            )

    def decide(
        self, viewer: Viewer, recording: str, start_ms: int, end_ms: int, person: str, decision: str, how: str = ""
    ) -> None:
        """Decide one stretch: hide, keep, cleared (how it was cleared must be said), public."""
        need(viewer, *EDITORS)
        try:
            chosen = Decision(decision)
        except ValueError:
            raise BadInput(f"A name can be decided as {', '.join(Decision)}.") from None
        if chosen == Decision.CLEARED and not how.strip():
            raise BadInput("Say how it was cleared: who was asked, and when.")
        with self._rooms.db.write() as connection:
            row = recordings.by_code(connection, recording)
            who = people.by_code(connection, person) if person else None
            if row is None or (person and who is None):
                raise NotFound("There is no such recording or person.")
            stretch = custody.snap_outwards(connection, Stretch(row.id, start_ms, end_ms))
            mentions.decide(
                connection, stretch, who.id if who is not None else None, chosen, how, viewer.name, self._rooms.now()
            )
            index_recording(connection, row.id, self._rooms.context())
            audit.record(
                connection, viewer.name, f"name {chosen.value}", f"recording {row.id}", self._rooms.now(),
                start_ms=stretch.start_ms, end_ms=stretch.end_ms, person=who.id if who is not None else None,
            )  # fmt: skip

    def read(self, viewer: Viewer, path: Path) -> tuple[int, int]:
        """Read mentions.csv: decisions on words of a recording. Returns (decided, not found in the transcript)."""
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("file", "words", "decision"))
        decided = missing = 0
        with self._rooms.db.write() as connection:
            persons = people.ids_by_code(connection)
            touched = set()
            for row in sheet:
                recording = recording_of(connection, row)
                person_id = row.one_of("person", persons)
                decision = row.choice("decision", Decision, Decision.HIDE)
                if recording is None:
                    continue
                try:
                    stretches = self._stretches(connection, viewer, recording.id, row.needed("words"))
                except BadInput as error:
                    row.fault(f"{error.message} {error.remedy}")
                    continue
                found = [m for m in mentions.current(connection, recording.id) if any(m.stretch.overlaps(s) for s in stretches)]
                if not found and decision != Decision.UNDECIDED:
                    # A place that holds somebody's name was not taken as naming them; a person decides it all the same.
                    for stretch in stretches:
                        mentions.decide(
                            connection, stretch, person_id, decision, row["note"], row["by"] or viewer.name, self._rooms.now()
                        )
                    decided += len(stretches)
                missing += not found and not stretches
                for mention in found:
                    if person_id in (None, mention.person_id) and mention.decision != decision:
                        mentions.decide(
                            connection, mention.stretch, mention.person_id, decision, row["note"],
                            row["by"] or viewer.name, self._rooms.now(),
                        )  # fmt: skip
                        decided += 1
                touched.add(recording.id)
            sheet.done()
            for recording_id in touched:
                index_recording(connection, recording_id, self._rooms.context())
            audit.record(connection, viewer.name, "names read", "sheet", self._rooms.now(), decided=decided)
        return decided, missing

    def _stretches(self, connection: Connection, viewer: Viewer, recording_id: int, words: str) -> list[Stretch]:
        return custody.stretches_of(connection, viewer, recording_id, words, self._rooms.context())
