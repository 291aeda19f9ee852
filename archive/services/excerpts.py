"""Excerpts: words chosen from a transcript, faithful to it, pinned to its version, ticked as heard against the sound."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.db import audit, consent_rows, excerpts, people, recordings, uses
from archive.db.session import Connection, Row
from archive.domain.phrases import day, went
from archive.domain.quoting import Span
from archive.domain.values import Viewer, Way
from archive.errors import BadInput, Clash, NotFaithful, NotFound
from archive.gate import custody
from archive.gate.clear import Pinned, wording_of
from archive.gate.reading import Readings
from archive.gate.show import show_quote
from archive.services.card import recording_of
from archive.services.consent import answer
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import ExcerptRow
from archive.services.sheets import Sheet


@dataclass(frozen=True, slots=True)
class SheetChoice:
    """What became of one row of heard.csv."""

    row: int
    excerpt: str
    use: str
    heard: bool
    words: str  # why it was not chosen, "" where it was


class Excerpts:
    """Chosen excerpts of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def choose(self, viewer: Viewer, recording: str, quote: str, use: str, panel: str = "", note: str = "") -> str:
        """Choose words by writing them, omissions marked […]. Returns the code. Raises NotFaithful with the differing words."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = self._recording(connection, recording)
            version, spans = custody.choose_spans(connection, viewer, row.id, quote, self._rooms.context())
            return self._keep(connection, viewer, row.id, version, spans, use, panel, note)

    def choose_words(
        self, viewer: Viewer, recording: str, first_utterance: int, first_word: int, last_utterance: int, last_word: int,
        use: str, panel: str = "", note: str = "",
    ) -> str:  # fmt: skip
        """Choose from one word to another, as shown on the recording's page."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = self._recording(connection, recording)
            first, last = (first_utterance, first_word), (last_utterance, last_word)
            version, spans = custody.choose_range(connection, viewer, row.id, first, last, self._rooms.context())
            return self._keep(connection, viewer, row.id, version, spans, use, panel, note)

    def _recording(self, connection: Connection, code: str) -> Row[Any]:
        row = recordings.by_code(connection, code)
        if row is None:
            raise NotFound("There is no such recording.")
        return row

    def _keep(
        self, connection: Connection, viewer: Viewer, recording_id: int, version: int, spans: list[Span], use: str,
        panel: str, note: str,
    ) -> str:  # fmt: skip
        consent_rows.load_use(connection, use)
        wording = wording_of(connection, recording_id, version, spans, self._rooms.context())
        known = excerpts.same(connection, wording, use)
        if known is not None:
            return str(known.code)
        now = self._rooms.now()
        made, code = excerpts.choose(
            connection, recording_id=recording_id, version_id=version,
            spans=[[s.block_id, s.first, s.last] for s in spans], wording_sha256=wording, use=use, panel=panel,
            note=note, by=viewer.name, at=now,
        )  # fmt: skip
        audit.record(connection, viewer.name, "excerpt chosen", f"excerpt {made}", now, wording=wording, use=use)
        return code

    def list(self, viewer: Viewer, aside: bool = False) -> tuple[ExcerptRow, ...]:
        """Every chosen excerpt: its wording, what may leave and why not, whether it was heard, where it went. `aside`: those set aside."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            return tuple(self._row(readings, viewer, row) for row in excerpts.chosen(connection, aside))

    def _row(self, readings: Readings, viewer: Viewer, row: Row[Any]) -> ExcerptRow:
        pinned = Pinned(readings, row)
        start_ms, end_ms = pinned.times()
        heard = excerpts.ticked(readings.connection, row.wording_sha256)
        out = excerpts.register(readings.connection, excerpt_id=row.id)
        return ExcerptRow(
            code=row.code, recording=row.recording_code, start_ms=start_ms, end_ms=end_ms,
            use=row.use, panel=row.panel, note=row.note,
            shown=show_quote(readings, viewer, row.recording_id, row.version_id, pinned.spans),
            words_may=answer(pinned.decide(row.use, Way.WORDS), viewer),
            voice_may=answer(pinned.decide(row.use, Way.VOICE), viewer),
            heard=f"heard by {heard.by} on {day(heard.at)}" if heard is not None else "",
            left=tuple(f"{o.code}, {day(o.at)}" + ("" if o.state == "given" else f" ({went(o.state)})") for o in out),
            wording_sha256=row.wording_sha256, set_aside=row.set_aside_at is not None,
        )  # fmt: skip

    def tick_heard(self, viewer: Viewer, code: str, by: str = "", wording: str = "") -> None:
        """Say that exactly these words were heard against the sound. A changed wording is another one, and not ticked.

        `wording`: the checksum of the wording that was shown; Clash where it is not this excerpt's.
        """
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            self._tick(connection, viewer, code, by or viewer.name, wording)

    def _tick(self, connection: Connection, viewer: Viewer, code: str, by: str, wording: str) -> None:
        row = excerpts.by_code(connection, code)
        if row is None:
            raise NotFound("There is no such excerpt.")
        if wording and wording != row.wording_sha256:
            raise Clash("These are not the words that were shown to you; nothing was ticked.", "Load the page again and listen once more.")
        if excerpts.ticked(connection, row.wording_sha256) is None:
            now = self._rooms.now()
            excerpts.tick(connection, row.id, row.wording_sha256, by, now)
            audit.record(connection, viewer.name, "heard against the sound", f"excerpt {row.id}", now)

    def set_aside(self, viewer: Viewer, code: str) -> None:
        """Take an excerpt off the list; it stays on record."""
        self._aside(viewer, code, self._rooms.now(), "excerpt set aside")

    def take_back(self, viewer: Viewer, code: str) -> None:
        """Put an excerpt that was set aside on the list again. Raises Clash where its words stand there under another code."""
        self._aside(viewer, code, None, "excerpt taken back")

    def _aside(self, viewer: Viewer, code: str, at: str | None, what: str) -> None:
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = excerpts.by_code(connection, code)
            if row is None:
                raise NotFound("There is no such excerpt.")
            twin = excerpts.same(connection, row.wording_sha256, row.use) if at is None else None
            if twin is not None and twin.id != row.id:
                raise Clash(f"The same words are on the list as {twin.code}.", "Use that one, or set it aside first.")
            excerpts.set_aside(connection, row.id, at)
            audit.record(connection, viewer.name, what, f"excerpt {row.id}", self._rooms.now())

    def read_heard(self, viewer: Viewer, path: Path) -> tuple[SheetChoice, ...]:
        """Read heard.csv: quotes, for which use, and who heard them against the sound. A row that differs is told, the rest go on."""
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("file", "quote", "use"))
        rows = list(sheet)
        with self._rooms.db.read() as connection:
            codes = {}
            known = people.ids_by_code(connection)
            list_of_uses = uses.every_use(connection)
            for row in rows:
                row.needed("quote")
                row.needed("use")
                row.one_of("use", list_of_uses)
                recording = recording_of(connection, row)
                if recording is not None:
                    codes[row["file"]] = recording.code
                row.one_of("heard_by", known)
        sheet.done()
        found = []
        for row in rows:
            try:
                code = self.choose(viewer, codes[row["file"]], row["quote"], row["use"], row["panel"], row["note"])
            except (NotFaithful, BadInput) as error:
                told = " ".join([error.message, *getattr(error, "differing", ()), error.remedy]).strip()
                found.append(SheetChoice(row.number, "", row["use"], False, told))
                continue
            if row["heard_by"]:
                self.tick_heard(viewer, code, row["heard_by"])
            found.append(SheetChoice(row.number, code, row["use"], bool(row["heard_by"]), ""))
        return tuple(found)
