"""Who speaks for whom: guardians of minors, deputies of those who cannot decide any more, heirs of the dead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from archive.db import audit, consent_rows, spokespeople
from archive.db.session import Connection
from archive.domain.agreements import Relation, SpeaksFor, Standing
from archive.domain.reasons import last_day
from archive.domain.values import Viewer
from archive.errors import BadInput, NotFound
from archive.services.closing import forget_what_closed
from archive.services.reaching import person_of
from archive.services.rooms import EDITORS, KEEPER, Rooms, need

CAUTIONS = {
    Relation.GUARDIAN: "A guardian signs and the minor assents; the minor's own no counts more. From the 18th birthday on everything is asked anew.",
    Relation.DEPUTY: (
        "A deputy answers what the speaker never answered, and may narrow the rest. See the order or power of attorney, and what it covers. "
        "Whoever can still decide about something decides it themselves."
    ),
    Relation.HEIR: (
        "The speaker's own answers stand. An heir may narrow them; they may allow more only where the speaker said so, and then all heirs must. "
        "See the will or the grant; ask whether there are others."
    ),
}
NOT_ADVICE = "Not legal advice: who may speak for somebody is for local law and your institution's own counsel to decide."


@dataclass(frozen=True, slots=True)
class SpokesRow:
    """Somebody who speaks for a person: as what, from and through which day, on which papers, and whether a yes of theirs counts today."""

    code: str
    relation: str
    from_on: date
    through: date | None
    papers: str
    state: str


class Spokespeople:
    """Who speaks for whom in one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def of(self, viewer: Viewer, code: str) -> tuple[SpokesRow, ...]:
        """Everybody who speaks, or spoke, for a person; the newest word on each. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = person_of(connection, viewer, code)
            if row is None:
                raise NotFound("There is no such person on record.")
            (standing,) = consent_rows.load_standings(connection, [row.id]).values()
        newest = {(s.other_id, s.relation): s for s in standing.speakers}
        return tuple(
            SpokesRow(
                s.code, s.relation.value, s.from_on, last_day(s.until_on) if s.until_on else None, s.papers, _state(standing, s, self._rooms.today())
            )
            for s in newest.values()
        )

    def put(
        self, viewer: Viewer, code: str, other: str, relation: str, from_on: date, papers: str = "", through: date | None = None
    ) -> str:  # fmt: skip
        """Put on record that `other` speaks for `code` from a day on, through a day or until somebody says otherwise; returns the caution
        that goes with it. A change is a new row. Raises NotFound, BadInput."""
        need(viewer, *KEEPER)
        if relation not in set(Relation) - {Relation.NONE}:
            raise BadInput("As what they speak is missing.", "Write guardian, heir or deputy.")
        if from_on > self._rooms.today():
            raise BadInput("That day is still to come. Nothing was changed.", "Put it on record when it has come.")
        with self._rooms.db.write() as connection:
            person, speaker = person_of(connection, viewer, code), person_of(connection, viewer, other)
            if person is None or speaker is None:
                raise NotFound("There is no such person on record.", "Add them first: `toldhere people add`.")
            row_id = spokespeople.add_speaker(
                connection, person_id=person.id, other_id=speaker.id, relation=Relation(relation), from_on=from_on, papers=papers,
                until_on=through + timedelta(days=1) if through else None, by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
            forget_what_closed(connection, self._rooms)
            audit.record(
                connection, viewer.name, "spokesperson", f"speaks_for {row_id}", self._rooms.now(), person=person.id, other=speaker.id, relation=relation
            )
        return CAUTIONS[Relation(relation)]


def _state(person: Standing, row: SpeaksFor, today: date) -> str:
    if not row.on(today):
        return "not any more" if row.from_on <= today else "not yet"
    if row.relation == Relation.HEIR and not person.dead(today):
        return f"no death of {person.code} is on record, so an heir allows nothing yet"
    if row.relation == Relation.GUARDIAN and (person.grown_up(today) or not person.perhaps_minor(today)):
        return f"{person.code} is of age, or no birth date is on record"
    if row.relation != Relation.GUARDIAN and not row.papers:
        return "nobody has seen papers, so their yes does not count; a no does"
    if person.may_speak(row.other_id, row.relation, today, today):
        return "counts"
    return "has no agreement of their own on record, so their yes does not count; a no does"


def speaker_for(connection: Connection, person_id: int, code: str, on: date) -> int:
    """Whoever speaks for a person on a day, by code. Raises BadInput where nobody put that on record."""
    (standing,) = consent_rows.load_standings(connection, [person_id]).values()
    found = next((s.other_id for s in standing.speakers if s.code == code and s.on(on)), None)
    if found is None:
        raise BadInput(f"{code} is not on record as speaking for {standing.code}. Nothing was changed.", "First: `toldhere people spokesperson`.")
    return found
