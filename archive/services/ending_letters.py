"""Letters about what people decided later: what was done after a withdrawal or a pause and what cannot be undone; how an objection stands."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING, Any

from archive.db import consent_rows, contacts, excerpts, objections, recordings, tasks
from archive.db.session import Connection, Row
from archive.domain import phrases
from archive.domain.agreements import ObjectionDecision
from archive.domain.printed import Paragraph, Size, Written
from archive.domain.values import RestraintKind, Viewer, Way
from archive.errors import NotFound
from archive.gate.reading import Readings
from archive.services.ending import Aim, flagged
from archive.services.letters import letter_to, words_of
from archive.services.reaching import person_of
from archive.services.rooms import KEEPER, Rooms, need

if TYPE_CHECKING:
    from archive.render.wordings import Wording

PARTS = {RestraintKind.WITHDRAWN: "withdrawn", RestraintKind.PAUSED: "paused"}  # of the file of words


class EndingLetters:
    """Letters of one archive that confirm what was done."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def of_hold(self, viewer: Viewer, person: str, hold: int, size: Size = Size.A4, large: bool | None = None) -> Written:
        """The letter that confirms a withdrawal or a pause to whoever asked for it: what was done, what had left, what cannot be undone.

        It tells of today: made again, it is another letter. Raises NotFound; Refused where it would name somebody else.
        """
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            whose, row = person_of(connection, viewer, person), consent_rows.restraint_by_id(connection, hold)
            if whose is None or row is None or row.person_id != whose.id or RestraintKind(row.kind) not in PARTS:
                raise NotFound("There is no such withdrawal or pause.", "See the holds on the person's own page.")
            wording = self._wording(connection, whose.id)
            part = PARTS[RestraintKind(row.kind)]
            chosen = len(flagged(Readings(connection, self._rooms.context()), {r.id for r in recordings.everything(connection)}, [hold]))
            said: list[Paragraph] = [
                wording(part, "opening").format(day=wording.day(row.from_on), what=self._what(connection, row, wording)),
                (*_done(row, part, wording), *((wording(part, "chosen").format(number=chosen),) if chosen else ())),
            ]
            said += self._left(connection, tasks.of_hold(connection, restraint_id=hold), wording)
            said += [wording(part, "after"), wording("ended", "cannot"), wording("ended", "not_law")]
            return letter_to(connection, self._rooms, viewer.name, whose.id, wording(part, "heading"), said, language=wording.language, size=size, large=large)

    def of_objection(self, viewer: Viewer, number: int, size: Size = Size.A4, large: bool | None = None) -> Written:
        """The answer to an objection: that it is held, or how it was decided, when and why. It tells nothing of who said what. Raises NotFound."""
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            row = objections.by_id(connection, number)
            if row is None:
                raise NotFound("There is no such objection.", "See the list of objections.")
            wording = self._wording(connection, row.person_id)
            held = len(objections.holds_of(connection)[number])
            said: list[Paragraph] = [wording("objection", "opening").format(day=wording.day(row.on), number=held)]
            if row.decision:
                key = "held" if row.decision == ObjectionDecision.HELD else "ended"
                said.append(wording("objection", key).format(day=wording.day(row.decided_on), reason=row.reason))
            else:
                said.append(wording("objection", "waits"))
            if row.decision != ObjectionDecision.ENDED:
                said += self._left(connection, tasks.of_hold(connection, objection_id=number), wording)
            said += [wording("objection", "after"), wording("ended", "cannot"), wording("objection", "not_law")]
            return letter_to(connection, self._rooms, viewer.name, row.person_id, wording("objection", "heading"), said, language=wording.language, size=size, large=large)

    def _wording(self, connection: Connection, person_id: int) -> Wording:
        return words_of(self._rooms, contacts.of(connection, person_id).language)

    def _what(self, connection: Connection, row: Row[Any], wording: Wording) -> str:
        """What was withdrawn or paused, in words."""
        if row.recording_id is not None:
            code = recordings.by_id(connection, row.recording_id).code
            told = wording("ended", "stretch").format(code=code, start=phrases.clock(row.start_ms), end=phrases.clock(row.end_ms))
        elif row.interview_id is not None:
            told = wording("ended", "interview").format(code=recordings.interview_code(connection, row.interview_id))
        else:
            told = wording("ended", "everything")
        if row.use:
            use = consent_rows.load_use(connection, row.use)
            told = wording("ended", "for_use").format(what=told, use=wording.use(use.code, use.label)[0])
        return wording("ended", "in_way").format(what=told, way=wording("form", row.way)) if row.way else told

    def _left(self, connection: Connection, made: list[Row[Any]], wording: Wording) -> list[Paragraph]:
        """What had left before, each with where it stands, and whether somebody has seen to it."""
        if not made:
            return [wording("ended", "nothing_left")]
        points = []
        for task in made:
            export = excerpts.export_by_code(connection, task.export_code) if task.export_code else None
            if export is None:
                continue
            use = consent_rows.load_use(connection, export.use)
            where = task.where or wording("ended", "handed_on")
            done = wording("ended", "seen_to").format(day=wording.day(date.fromisoformat(task.done_at[:10]))) if task.done_at else wording("ended", "we_go")
            points.append(
                wording("ended", "left_one").format(
                    code=export.code, day=wording.day(date.fromisoformat(export.at[:10])), use=wording.use(use.code, use.label)[0], where=where, done=done
                )
            )
        return [wording("ended", "had_left"), tuple(points)]


def _done(row: Row[Any], part: str, wording: Wording) -> Iterable[str]:
    """What was done at once, and nothing that was not: one use or one way leaves the rest as it was."""
    aim = Aim(use=row.use or "", way=Way(row.way) if row.way else None)
    yield wording(part, "part" if row.use or row.way else "whole")
    if aim.stops:
        yield wording(part, "stopped")
    if aim.unheard:
        yield wording(part, "copies")
