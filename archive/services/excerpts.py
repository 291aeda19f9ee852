"""Excerpts: words chosen from a transcript, faithful to it, pinned to its version, ticked as heard against the sound."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from archive.db import accounts, audit, consent_rows, excerpts, people, recordings, uses
from archive.db.session import Connection, Row
from archive.domain.hearing import Hearing, Tick, may_tick_again, of_the_team, same_person, why_not_second
from archive.domain.phrases import MIGHT_NAME, day, went
from archive.domain.quoting import Span
from archive.domain.translating import Shows
from archive.domain.values import Role, Viewer, Way
from archive.errors import BadInput, Clash, NotFaithful
from archive.gate import custody
from archive.gate.beyond import excerpt_named, reaches
from archive.gate.in_translation import of_these_words, untranslated, why_not_translated, wording_of_all
from archive.gate.pinned import Pinned, wording_of
from archive.gate.reading import Readings
from archive.gate.show import show_quote
from archive.gate.surroundings import (
    OF_THE_TEAM,
    Around,
    around_all,
    dates_offered,
    draft_reason,
    hearing_of,
    marks,
    show_leaving,
    together,
)
from archive.services.accounts import LOCAL_KEEPER
from archive.services.card import recording_of
from archive.services.deciding import answer
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.rows import ExcerptRow, MayAnswer
from archive.services.sheets import Row as SheetRow
from archive.services.sheets import Sheet

NOBODY, SOMEBODY = "nobody", "somebody"  # who is named by a quote and what stands around it, together
OWN_NAME = "Say who listened by their account (a keeper makes one: toldhere accounts add NAME editor), or by the code under which they ask or interpret."
DOUBTED = "might name somebody"  # the entry on record where a second person did not tick


AGAIN_YOURSELF = "It is on record that you listened, but not under your own account. Tick it yourself, so that another account can be the second."
AGAIN_UNKNOWN = "It is not on record who typed that in. Somebody has to hear and tick it once more before a second person listens."


def _heard(what: str, tick: Tick | None) -> str:
    return f"{what} by {tick.who} on {day(tick.at)}" if tick is not None else ""


def _why_again(hearing: Hearing, tick: Tick) -> str:
    """Why whoever would give this first tick is asked to, though one stands already; "" where they are not."""
    if not may_tick_again(hearing, tick):
        return ""
    if any(same_person(first.by, tick.by) for first in hearing.firsts):
        return AGAIN_YOURSELF
    return "" if any(first.typed_by for first in hearing.firsts) else AGAIN_UNKNOWN


@dataclass(frozen=True, slots=True)
class SheetChoice:
    """What became of one row of heard.csv."""

    row: int
    excerpt: str
    use: str
    heard: bool
    words: str  # why it was not chosen, or what became of the second tick; "" where there is nothing to say
    heard_second: bool = False


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a tick is about: the excerpt, how it stands, and the first tick that would be given now."""

    row: Row[Any]
    readings: Readings
    pinned: Pinned
    hearing: Hearing
    tick: Tick


class Excerpts:
    """Chosen excerpts of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def choose(self, viewer: Viewer, recording: str, quote: str, use: str, panel: str = "", note: str = "") -> str:
        """Choose words by writing them, omissions marked […]. Returns the code. Raises NotFaithful with the differing words."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, recording)
            version, spans = custody.choose_spans(connection, viewer, row.id, quote, self._rooms.context())
            return self._keep(connection, viewer, row.id, version, spans, use, panel, note)

    def choose_words(
        self, viewer: Viewer, recording: str, first_utterance: int, first_word: int, last_utterance: int, last_word: int,
        use: str, panel: str = "", note: str = "",
    ) -> str:  # fmt: skip
        """Choose from one word to another, as shown on the recording's page."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, recording)
            first, last = (first_utterance, first_word), (last_utterance, last_word)
            version, spans = custody.choose_range(connection, viewer, row.id, first, last, self._rooms.context())
            return self._keep(connection, viewer, row.id, version, spans, use, panel, note)

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
            doubts, around = audit.of_action(connection, DOUBTED), self._around(readings)
            typed = self._typed_by(connection, viewer)
            return tuple(self._row(readings, viewer, row, doubts, around, typed) for row in excerpts.chosen(connection, aside) if reaches(readings, viewer, row))

    def _around(self, readings: Readings) -> Around:
        return around_all(readings, self._rooms.options.name, self._rooms.options.mute_margin_ms)

    def _row(
        self, readings: Readings, viewer: Viewer, row: Row[Any], doubts: Sequence[Any], around: Around, typed_by: str
    ) -> ExcerptRow:
        pinned = Pinned(readings, row)
        start_ms, end_ms = pinned.times()
        hearing = hearing_of(pinned, row.use, around)
        leaving = show_leaving(readings, viewer, pinned, around)
        lines = together(leaving) if leaving is not None and hearing.hidden else ()
        out = excerpts.register(readings.connection, excerpt_id=row.id)
        why_not = why_not_translated(pinned, row.use)
        mine = Tick(row.id, hearing.shown_sha256, viewer.name, self._rooms.now(), typed_by=typed_by)
        shown = show_quote(readings, viewer, row.recording_id, row.version_id, pinned.spans)
        return ExcerptRow(
            code=row.code, recording=row.recording_code, start_ms=start_ms, end_ms=end_ms,
            use=row.use, panel=row.panel, note=row.note if shown is not None or viewer.role == Role.KEEPER else "",  # what is closed takes it along
            shown=shown,
            words_may=MayAnswer(False, why_not, (), None) if why_not else answer(pinned.decide(row.use, Way.WORDS), viewer),
            voice_may=answer(pinned.decide(row.use, Way.VOICE), viewer),
            heard=_heard("heard", hearing.first),
            left=tuple(f"{o.code}, {day(o.at)}" + ("" if o.state == "given" else f" ({went(o.state)})") for o in out),
            wording_sha256=wording_of_all(pinned), set_aside=row.set_aside_at is not None,
            shown_sha256=hearing.shown_sha256, draft_reason=draft_reason(pinned, hearing), leaving=leaving,
            in_later=bool(pinned.later), shows=row.shows, dated=row.dated, dates_offered=dates_offered(readings, viewer, pinned), translation=" ".join([row.translation, *row.translations_after]), translations=of_these_words(pinned),
            needs_second=bool(hearing.hidden), heard_second=_heard("heard a second time", hearing.second),
            heard_before=_heard("heard", hearing.before), may_be_second=why_not_second(hearing, mine),
            heard_around=_heard("heard a second time", hearing.moved), why_again=_why_again(hearing, mine),
            around=lines, around_sha256=_sum(lines),
            doubts=tuple(
                f"{d.detail['by']} thought on {day(d.at)} that somebody might be named"
                for d in doubts
                if d.subject == f"excerpt {row.id}" and (d.detail or {}).get("shown") == hearing.shown_sha256
            ),
        )  # fmt: skip

    def tick_heard(self, viewer: Viewer, code: str, by: str = "", shown: str = "") -> None:
        """Say that exactly these words were heard against the sound, shown and heard as they would leave for their use today.
        Whatever changes of that voids the tick.

        `shown`: the checksum of what was shown; Clash where it is another one now. `by`: who listened, an account or the code
        of an interviewer or interpreter; BadInput where it is somebody else.
        """
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            asked = self._asked(connection, viewer, code, by, shown)
            if asked.hearing.first is None or may_tick_again(asked.hearing, asked.tick):
                self._tick(connection, viewer, asked, asked.tick)

    def tick_second(self, viewer: Viewer, code: str, together: str, by: str = "", shown: str = "", around: str = "") -> bool:
        """A second person says that nothing hidden is heard or read; False where it stays a draft since somebody might be named.

        `together`: the answer whether the quote and what stands around it name somebody: "nobody" or "somebody". `around`: the
        checksum of what was shown to stand around it. Raises BadInput without an answer, Clash where nobody listened before,
        the same person did, or the same account typed that in.
        """
        need(viewer, *EDITORS)
        if together not in (NOBODY, SOMEBODY):
            raise BadInput("It is not answered whether, together, these name somebody.", f"Answer “{NOBODY}” or “{SOMEBODY}” (somebody might be named).")
        with self._rooms.db.write() as connection:
            asked = self._asked(connection, viewer, code, by, shown)
            lines = self._lines(connection, asked)
            if around and around != _sum(lines):
                raise Clash("What stands around it is not what was shown to you any more; nothing was ticked.", "Load the page again and read it once more.")
            return self._second(connection, viewer, asked, together, lines)

    def _second(self, connection: Connection, viewer: Viewer, asked: _Asked, together: str, lines: tuple[str, ...], from_sheet: bool = False) -> bool:
        tick = replace(asked.tick, second=True, from_sheet=from_sheet, around=marks(lines))
        if together == SOMEBODY:
            audit.record(connection, viewer.name, DOUBTED, f"excerpt {asked.row.id}", tick.at, shown=tick.shown_sha256, by=tick.by)
            return False
        if asked.hearing.second is not None:
            return True
        why_not = why_not_second(asked.hearing, tick)
        if why_not:
            raise Clash(why_not)
        self._tick(connection, viewer, asked, tick)
        return True

    def _lines(self, connection: Connection, asked: _Asked) -> tuple[str, ...]:
        """What stands around it, as everybody of the team reads it. Raises Clash where they may not read the quote itself."""
        leaving = show_leaving(asked.readings, OF_THE_TEAM, asked.pinned, self._around(asked.readings))
        if leaving is None:
            raise Clash("These words may not be read at present; nothing was ticked.")
        return together(leaving)

    def _asked(self, connection: Connection, viewer: Viewer, code: str, by: str, shown: str) -> _Asked:
        """The excerpt, how it stands, and the tick that is asked for. Raises NotFound, BadInput, Clash."""
        readings = Readings(connection, self._rooms.context())
        row = excerpt_named(readings, viewer, code)
        by = by.strip() or viewer.name
        stranger = by == viewer.name and people.by_code(connection, by) is None  # whoever sits at this machine, without an account
        if not stranger and by not in self._listeners(connection):
            raise BadInput(f"“{by}” is neither an account nor an interviewer or interpreter on record.", OWN_NAME)
        pinned = Pinned(readings, row)
        hearing = hearing_of(pinned, row.use, self._around(readings))
        if shown and shown != hearing.shown_sha256:
            raise Clash("This is not what was shown to you; nothing was ticked.", "Load the page again and listen once more.")
        tick = Tick(row.id, hearing.shown_sha256, by, self._rooms.now(), typed_by=self._typed_by(connection, viewer))
        return _Asked(row, readings, pinned, hearing, tick)

    def _listeners(self, connection: Connection) -> set[str]:
        """Whoever may be named as who listened: every account, and interviewers and interpreters who are of age."""
        on = self._rooms.today()
        team = {code for code, (parts, adult_by) in people.parts_of(connection).items() if of_the_team(parts, adult_by, on)}
        return team | {row.name for row in accounts.everything(connection)}

    def _typed_by(self, connection: Connection, viewer: Viewer) -> str:
        """The account that types. A name without one is whoever sits at this machine, and that is its keeper."""
        row = accounts.by_name(connection, viewer.name)
        return str(row.name) if row is not None and row.active else LOCAL_KEEPER

    def _tick(self, connection: Connection, viewer: Viewer, asked: _Asked, tick: Tick) -> None:
        excerpts.tick(connection, asked.row.wording_sha256, tick)
        what = "heard by a second person" if tick.second else "heard against the sound"
        audit.record(
            connection, viewer.name, what, f"excerpt {tick.excerpt_id}", tick.at, shown=tick.shown_sha256, by=tick.by,
            typed_by=tick.typed_by, from_sheet=tick.from_sheet, around=sorted(tick.around),
        )  # fmt: skip

    def show_as(self, viewer: Viewer, code: str, shows: str, translation: str = "") -> None:
        """Show an excerpt in its original, in a translation, or in both; whatever was ticked or approved of it before is for another
        wording then. `translation`: which one (TR-1; where words are left out one for each piece, TR-1 TR-4), where there are several of
        exactly these words. Raises BadInput, NotFound."""
        need(viewer, *EDITORS)
        if shows not in set(Shows):
            raise BadInput("That is nothing that an excerpt can be shown in.", f"Use one of: {', '.join(Shows)}.")
        with self._rooms.db.write() as connection:
            readings = Readings(connection, self._rooms.context())
            row = excerpt_named(readings, viewer, code)
            pinned = Pinned(readings, row)
            chosen = () if shows == Shows.ORIGINAL else self._ones_of(pinned, translation.split())
            excerpts.show_as(connection, row.id, shows, chosen)
            audit.record(connection, viewer.name, "excerpt shown in", f"excerpt {row.id}", self._rooms.now(), shows=shows, translation=" ".join(chosen))

    def note_date(self, viewer: Viewer, code: str, edtf: str) -> None:
        """Note after the words the date that is on record, where what is told does not agree with it: [1968]. "" takes it off. Ticks
        and approvals of before are for the words without it. Raises BadInput for a date that is not offered."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            readings = Readings(connection, self._rooms.context())
            row = excerpt_named(readings, viewer, code)
            offered = dates_offered(readings, viewer, Pinned(readings, row))
            if edtf and edtf not in offered:
                what = f"Offered here: {', '.join(offered)}." if offered else "What is told in these words agrees with the calendar, or tells of nothing in it."
                raise BadInput("That date is not offered for these words.", what)
            excerpts.note_date(connection, row.id, edtf)
            audit.record(connection, viewer.name, "date noted after an excerpt", f"excerpt {row.id}", self._rooms.now(), edtf=edtf)

    def _ones_of(self, pinned: Pinned, wanted: Sequence[str]) -> Sequence[str]:
        """The codes of the translations to show it in, one for each piece."""
        ways = [codes.split() for codes, _ in of_these_words(pinned)]
        if not ways:
            most, missing_of = untranslated(pinned)
            if most == 1:
                raise BadInput("There is no translation of exactly these words.", "Choose them on the recording's page, and translate them there.")
            without = ", ".join(f"piece {n}" for n in missing_of)
            missing = f"Of the {most}, there is none of {without}." if without else "There is one of each, but not all into the same language."
            raise BadInput(
                "Words are left out of this quote, and not each piece between has a translation.",
                f"{missing} Choose the words of a piece on the recording's page, and translate them there.",
            )
        if not wanted and len(ways) > 1:
            raise BadInput("There are several translations of these words.", f"Say which one: {', '.join(' '.join(w) for w in ways)}.")
        if wanted and list(wanted) not in ways:
            raise BadInput("That translation is not of exactly these words.", f"Use one of: {', '.join(' '.join(w) for w in ways)}.")
        return wanted or ways[0]

    def set_aside(self, viewer: Viewer, code: str) -> None:
        """Take an excerpt off the list; it stays on record."""
        self._aside(viewer, code, self._rooms.now(), "excerpt set aside")

    def take_back(self, viewer: Viewer, code: str) -> None:
        """Put an excerpt that was set aside on the list again. Raises Clash where its words stand there under another code."""
        self._aside(viewer, code, None, "excerpt taken back")

    def _aside(self, viewer: Viewer, code: str, at: str | None, what: str) -> None:
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = excerpt_named(Readings(connection, self._rooms.context()), viewer, code)
            twin = excerpts.same(connection, row.wording_sha256, row.use) if at is None else None
            if twin is not None and twin.id != row.id:
                raise Clash(f"The same words are on the list as {twin.code}.", "Use that one, or set it aside first.")
            excerpts.set_aside(connection, row.id, at)
            audit.record(connection, viewer.name, what, f"excerpt {row.id}", self._rooms.now())

    def read_heard(self, viewer: Viewer, path: Path) -> tuple[SheetChoice, ...]:
        """Read heard.csv: quotes, for which use, and who heard them against the sound. A row that differs is told, the rest go on.

        Second ticks are given when every row is chosen, so that they are for all that the sheet puts around them.
        """
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("file", "quote", "use"))
        rows = list(sheet)
        with self._rooms.db.read() as connection:
            codes = {}
            known = dict.fromkeys(self._listeners(connection), True)
            list_of_uses = uses.every_use(connection)
            for row in rows:
                row.needed("quote")
                row.needed("use")
                row.one_of("use", list_of_uses)
                recording = recording_of(connection, row)
                if recording is not None:
                    codes[row["file"]] = recording.code
                _faults_of_ticks(row, known)
        sheet.done()
        found = [self._row_chosen(viewer, codes[row["file"]], row) for row in rows]
        for n, row in enumerate(rows):
            if found[n].excerpt and row["second_by"]:
                twice, told = self._row_twice(viewer, found[n].excerpt, row)
                found[n] = replace(found[n], heard_second=twice, words=" ".join(filter(None, (found[n].words, told))))
        return tuple(found)

    def _row_chosen(self, viewer: Viewer, recording: str, row: SheetRow) -> SheetChoice:
        """Choose a row's words, and give its first tick."""
        try:
            code = self.choose(viewer, recording, row["quote"], row["use"], row["panel"], row["note"])
        except (NotFaithful, BadInput) as error:
            told = " ".join([error.message, *getattr(error, "differing", ()), error.remedy]).strip()
            return SheetChoice(row.number, "", row["use"], False, told)
        heard, told = False, ""
        if row["heard_by"]:
            with self._rooms.db.write() as connection:
                asked = self._asked(connection, viewer, code, row["heard_by"], "")
                told = self._worn(connection, asked, row, second=False)
                if not told and (asked.hearing.first is None or may_tick_again(asked.hearing, asked.tick)):
                    self._tick(connection, viewer, asked, replace(asked.tick, from_sheet=True))
                heard = not told
        return SheetChoice(row.number, code, row["use"], heard, told)

    def _row_twice(self, viewer: Viewer, code: str, row: SheetRow) -> tuple[bool, str]:
        """Give the second tick of a row where one is needed: (given, what to say)."""
        with self._rooms.db.write() as connection:
            asked = self._asked(connection, viewer, code, row["second_by"], "")
            if not asked.hearing.hidden or asked.hearing.second is not None:
                return asked.hearing.second is not None, ""
            why_not = why_not_second(asked.hearing, replace(asked.tick, second=True, from_sheet=True))
            why_not = why_not or self._worn(connection, asked, row, second=True)
            if why_not:
                return False, why_not
            together = NOBODY if row.yes("together") else SOMEBODY
            given = self._second(connection, viewer, asked, together, self._lines(connection, asked), from_sheet=True)
        return given, "" if given else MIGHT_NAME

    def _worn(self, connection: Connection, asked: _Asked, row: SheetRow, second: bool) -> str:
        """Why a sheet that is read once more gives no tick anew; "" where it may. What changed since they listened nobody heard,
        unless the sheet says that they listened on a later day than it was last read."""
        if not second and asked.hearing.first is not None:
            return ""
        ticks = excerpts.ticks(connection, asked.row.wording_sha256)
        mine = [
            t for t in ticks
            if t.from_sheet and t.excerpt_id == asked.row.id and t.second == second and same_person(t.by, asked.tick.by)
        ]  # fmt: skip
        on = row.day("heard_on")
        if not mine or (on is not None and date.fromisoformat(mine[-1].at[:10]) < on <= self._rooms.today()):
            return ""
        return f"It, or what stands around it, changed since {asked.tick.by} listened. They have to listen again; then tick it, or write the day into “heard_on”."


def _faults_of_ticks(row: SheetRow, known: dict[str, bool]) -> None:
    """What is wrong with who listened, in a row of heard.csv."""
    for column in ("heard_by", "second_by"):
        if row[column] and row[column] not in known:
            row.fault(f"“{row[column]}” in “{column}” is neither an account nor an interviewer or interpreter on record. {OWN_NAME}")
    if row["second_by"] and (not row["heard_by"] or same_person(row["heard_by"], row["second_by"])):
        row.fault("“second_by” is for somebody else than “heard_by”, after them.")
    if row["second_by"] and not row["together"]:
        row.fault("“together” is empty. Write yes where, read together with what stands around it, nobody is named; else no.")
    row.yes("together")
    row.day("heard_on")


def _sum(lines: Sequence[str]) -> str:
    """One checksum over what stands around a quote, which comes back with the second tick; "" where nothing is asked."""
    return hashlib.sha256("\n".join(sorted(marks(lines))).encode("ascii")).hexdigest() if lines else ""
