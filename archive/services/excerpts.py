"""Excerpts: words chosen from a transcript, faithful to it, pinned to its version, ticked as heard against the sound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.db import accounts, audit, consent_rows, excerpts, people, recordings, uses
from archive.db.session import Connection, Row
from archive.domain.hearing import Hearing, Tick, same_person
from archive.domain.phrases import MIGHT_NAME, day, went
from archive.domain.quoting import Span
from archive.domain.values import Viewer, Way
from archive.errors import BadInput, Clash, NotFaithful, NotFound
from archive.gate import custody
from archive.gate.pinned import Pinned, wording_of
from archive.gate.reading import Readings
from archive.gate.show import show_quote
from archive.gate.surroundings import Around, Neighbour, hearing_of, neighbours, show_leaving, together
from archive.services.card import recording_of
from archive.services.consent import answer
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import ExcerptRow
from archive.services.sheets import Row as SheetRow
from archive.services.sheets import Sheet

NOBODY, SOMEBODY = "nobody", "somebody"  # who is named by a quote and what stands around it, together
DOUBTED = "might name somebody"  # the entry on record where a second person did not tick


def _heard(what: str, tick: Tick | None) -> str:
    return f"{what} by {tick.by} on {day(tick.at)}" if tick is not None else ""


def _may_be_second(hearing: Hearing, by: str) -> str:
    """Why this person cannot give the second tick; "" where they can."""
    if not hearing.hidden:
        return "Nothing in it is masked, unnamed or disguised: one listening is enough."
    if hearing.first is None:
        return "Somebody has to hear it against the sound first; then a second person listens."
    if same_person(by, hearing.first.by):
        return f"{hearing.first.by} has heard it already. Somebody else has to listen now."
    return ""


@dataclass(frozen=True, slots=True)
class SheetChoice:
    """What became of one row of heard.csv."""

    row: int
    excerpt: str
    use: str
    heard: bool
    words: str  # why it was not chosen, or what became of the second tick; "" where there is nothing to say
    heard_second: bool = False


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
            doubts, others = audit.of_action(connection, DOUBTED), neighbours(readings, viewer)
            return tuple(self._row(readings, viewer, row, doubts, others) for row in excerpts.chosen(connection, aside))

    def _around(self, viewer: Viewer) -> Around:
        return Around(viewer, self._rooms.options.name, self._rooms.options.mute_margin_ms)

    def _row(
        self, readings: Readings, viewer: Viewer, row: Row[Any], doubts: Sequence[Any], others: Sequence[Neighbour]
    ) -> ExcerptRow:
        pinned, around = Pinned(readings, row), self._around(viewer)
        start_ms, end_ms = pinned.times()
        hearing = hearing_of(pinned, around)
        leaving = show_leaving(readings, pinned, around, others)
        out = excerpts.register(readings.connection, excerpt_id=row.id)
        return ExcerptRow(
            code=row.code, recording=row.recording_code, start_ms=start_ms, end_ms=end_ms,
            use=row.use, panel=row.panel, note=row.note,
            shown=show_quote(readings, viewer, row.recording_id, row.version_id, pinned.spans),
            words_may=answer(pinned.decide(row.use, Way.WORDS), viewer),
            voice_may=answer(pinned.decide(row.use, Way.VOICE), viewer),
            heard=_heard("heard", hearing.first),
            left=tuple(f"{o.code}, {day(o.at)}" + ("" if o.state == "given" else f" ({went(o.state)})") for o in out),
            wording_sha256=row.wording_sha256, set_aside=row.set_aside_at is not None,
            shown_sha256=hearing.shown_sha256, draft_reason=hearing.draft_reason, leaving=leaving,
            needs_second=bool(hearing.hidden), heard_second=_heard("heard a second time", hearing.second),
            heard_before=_heard("heard", hearing.before), may_be_second=_may_be_second(hearing, viewer.name),
            around=together(leaving) if leaving is not None and hearing.hidden else (),
            doubts=tuple(
                f"{d.detail['by']} thought on {day(d.at)} that somebody might be named"
                for d in doubts
                if d.subject == f"excerpt {row.id}" and (d.detail or {}).get("shown") == hearing.shown_sha256
            ),
        )  # fmt: skip

    def tick_heard(self, viewer: Viewer, code: str, by: str = "", shown: str = "") -> None:
        """Say that exactly these words were heard against the sound, shown and heard as they would leave for their use today.
        Whatever changes of that voids the tick.

        `shown`: the checksum of what was shown; Clash where it is another one now. `by`: who listened, an account or a code.
        """
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row, hearing, by = self._asked(connection, viewer, code, by, shown)
            if hearing.first is None:
                self._tick(connection, viewer, row, hearing, by)

    def tick_second(self, viewer: Viewer, code: str, together: str, by: str = "", shown: str = "") -> bool:
        """A second person says that nothing hidden is heard or read; False where it stays a draft since somebody might be named.

        `together`: the answer whether the quote and what stands around it name somebody: "nobody" or "somebody". Raises
        BadInput without an answer, Clash where nobody listened before or the same person did.
        """
        need(viewer, *EDITORS)
        if together not in (NOBODY, SOMEBODY):
            raise BadInput("It is not answered whether, together, these name somebody.", f"Answer “{NOBODY}” or “{SOMEBODY}” (somebody might be named).")
        with self._rooms.db.write() as connection:
            row, hearing, by = self._asked(connection, viewer, code, by, shown)
            if together == SOMEBODY:
                audit.record(connection, viewer.name, DOUBTED, f"excerpt {row.id}", self._rooms.now(), shown=hearing.shown_sha256, by=by)
                return False
            if hearing.second is not None:
                return True
            why_not = _may_be_second(hearing, by)
            if why_not:
                raise Clash(why_not)
            self._tick(connection, viewer, row, hearing, by, second=True)
            return True

    def _asked(self, connection: Connection, viewer: Viewer, code: str, by: str, shown: str) -> tuple[Row[Any], Hearing, str]:
        """The excerpt, how it stands, and who listened. Raises NotFound, BadInput, Clash."""
        row = excerpts.by_code(connection, code)
        if row is None:
            raise NotFound("There is no such excerpt.")
        by = by.strip() or viewer.name
        if by != viewer.name and people.by_code(connection, by) is None and accounts.by_name(connection, by) is None:
            raise BadInput(f"“{by}” is neither an account nor a person on record.", "Say who listened by their account or code.")
        hearing = hearing_of(Pinned(Readings(connection, self._rooms.context()), row), self._around(viewer))
        if shown and shown != hearing.shown_sha256:
            raise Clash("This is not what was shown to you; nothing was ticked.", "Load the page again and listen once more.")
        return row, hearing, by

    def _tick(self, connection: Connection, viewer: Viewer, row: Row[Any], hearing: Hearing, by: str, second: bool = False) -> None:
        now = self._rooms.now()
        excerpts.tick(connection, row.id, row.wording_sha256, hearing.shown_sha256, by, now, second)
        what = "heard by a second person" if second else "heard against the sound"
        audit.record(connection, viewer.name, what, f"excerpt {row.id}", now, shown=hearing.shown_sha256, by=by)

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
                row.one_of("second_by", known)
                if row["second_by"] and (not row["heard_by"] or same_person(row["heard_by"], row["second_by"])):
                    row.fault("“second_by” is for somebody else than “heard_by”, after them.")
                if row["second_by"] and not row["together"]:
                    row.fault("“together” is empty. Write yes where, read together with what stands around it, nobody is named; else no.")
                row.yes("together")
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
            twice, told = self._second_of(viewer, code, row) if row["second_by"] else (False, "")
            found.append(SheetChoice(row.number, code, row["use"], bool(row["heard_by"]), told, twice))
        return tuple(found)

    def _second_of(self, viewer: Viewer, code: str, row: SheetRow) -> tuple[bool, str]:
        """Give the second tick of a row where one is needed: (given, what to say)."""
        with self._rooms.db.read() as connection:
            _, hearing, _ = self._asked(connection, viewer, code, row["second_by"], "")
        why_not = _may_be_second(hearing, row["second_by"])
        if not hearing.hidden or hearing.second is not None:
            return hearing.second is not None, ""
        if why_not:
            return False, why_not
        given = self.tick_second(viewer, code, NOBODY if row.yes("together") else SOMEBODY, row["second_by"])
        return given, "" if given else MIGHT_NAME
