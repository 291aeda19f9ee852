"""What comes due: ends of seals and permissions, quotes that wait for their speaker, birthdays, notes of risk, papers that are missing.

Nothing here opens or closes anything: the calendar reminds, a person looks.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from datetime import date, timedelta

from archive.db import (
    audit,
    consent_rows,
    erasures,
    excerpts,
    objections,
    papers,
    people,
    recordings,
    reviews,
    risks,
    tasks,
    uses,
)
from archive.db.session import Connection
from archive.domain.agreements import AgreementForm, Restraint, Standing
from archive.domain.due import look_on
from archive.domain.erasing import State
from archive.domain.phrases import closed_through, day, from_to, in_way, many
from archive.domain.reasons import Why, last_day
from archive.domain.sheetcode import Coded
from archive.domain.values import Answer, RestraintKind, Role, Viewer, Way
from archive.errors import BadInput, NotFound
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.services.ending_rows import DueRow, RiskRow
from archive.services.reaching import codes_beyond, person_named
from archive.services.rooms import EDITORS, KEEPER, Rooms, need

AHEAD_DAYS = 90
MOST_AHEAD = 36_600
MOST_WORDS = 1000
NOT_BY_ITSELF = "It stays closed until a keeper has looked and says so."
SCAN, SPOKEN = "paper without a scan", "spoken agreement"
PAPERWORK = frozenset({SCAN, SPOKEN})
ASKED = frozenset({Why.REVIEW, Why.ASK})


class Due:
    """What comes due in one archive, and notes of risk."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer, days: int = AHEAD_DAYS) -> tuple[DueRow, ...]:
        """Everything that is due, or will be within so many days; what is due longest comes first, and papers that are
        missing last: nothing leaves wrongly for want of one. Notes of risk are for keepers alone."""
        need(viewer, *EDITORS)
        if not 0 <= days <= MOST_AHEAD:
            raise BadInput(f"Between 0 and {MOST_AHEAD:,} days can be looked ahead.")
        today = self._rooms.today()
        until = today + timedelta(days=days)
        with self._rooms.db.read() as connection:
            standings = list(consent_rows.load_standings(connection, [r.id for r in people.everyone(connection)]).values())
            held = {s.person_id for s in standings if _wholly_held(s, today)}
            speaking = [s for s in standings if s.person_id not in held]
            rows = [
                *_ends_of_holds(connection, today, until), *_expiring(connection, speaking, today, until), *_birthdays(speaking, today, until),
                *_waiting(Readings(connection, self._rooms.context())), *_out(connection, {s.code for s in speaking}), *_papers(connection, speaking, today),
                *_without_agreement(connection, standings, today), *_objections(connection), *_tasks(connection),
                *((*_risks(connection, until), *_erasures(connection, until)) if viewer.role == Role.KEEPER else ()),
            ]  # fmt: skip
            beyond = codes_beyond(connection, viewer)
            rows = [r for r in rows if r.person not in beyond]
        return tuple(sorted(rows, key=lambda r: (r.kind in PAPERWORK, r.on, r.kind, r.person, r.words)))

    # -- notes of risk -------------------------------------------------------------------------------------------
    def risks(self, viewer: Viewer, code: str) -> tuple[RiskRow, ...]:
        """What could happen to somebody, as keepers noted it. Raises NotFound."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            return tuple(RiskRow(r.id, r.words, r.review_on, r.by, r.at[:10]) for r in risks.in_force(connection, person_named(connection, viewer, code).id))

    def note_risk(self, viewer: Viewer, code: str, words: str, review_on: date | None) -> int:
        """Note what could happen to somebody, and when to look at it again; returns its number. Raises NotFound, BadInput."""
        need(viewer, *KEEPER)
        words = words.strip()
        if not words or len(words) > MOST_WORDS:
            raise BadInput(f"Say what could happen, in at most {MOST_WORDS} letters. Nothing was changed.", "A sentence or two are enough.")
        if review_on is not None and review_on < self._rooms.today():
            raise BadInput("That day is over already. Nothing was changed.", "Name a day on which to look at it again.")
        with self._rooms.db.write() as connection:
            person_id = person_named(connection, viewer, code).id
            number = risks.add_risk(connection, person_id, words, review_on, viewer.name, self._rooms.now())
            audit.record(connection, viewer.name, "risk noted", f"risk {number}", self._rooms.now(), person=person_id)
        return number

    def end_risk(self, viewer: Viewer, number: int) -> None:
        """A note of risk counts no more. Raises NotFound."""
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            if not risks.end(connection, number, self._rooms.now()):
                raise NotFound("There is no such note of risk.", "See the person's page.")
            audit.record(connection, viewer.name, "risk note ended", f"risk {number}", self._rooms.now())


def _erasures(connection: Connection, until: date) -> Iterator[DueRow]:
    persons = people.codes_by_id(connection)
    for row in erasures.everything(connection, State.ASKED):
        if row.due_on <= until:
            yield DueRow(row.due_on, "erasure", f"{row.code}: {row.target} may be erased from this day on; it is held until then.", persons.get(row.person_id or 0, ""), "", 0)


def _wholly_held(standing: Standing, today: date) -> bool:
    """True where all of somebody's is withdrawn or paused: then nobody asks them about anything."""
    return any(
        r.person_id == standing.person_id and r.kind in (RestraintKind.WITHDRAWN, RestraintKind.PAUSED) and r.holds_on(today)
        and r.recording_id is None and r.interview_id is None and r.use is None and r.way is None
        for r in standing.restraints
    )  # fmt: skip


def _ends_of_holds(connection: Connection, today: date, until: date) -> Iterator[DueRow]:
    codes = {r.id: r.code for r in recordings.everything(connection)}
    interviews = {r.id: r.code for r in recordings.interviews(connection)}
    persons = people.codes_by_id(connection)
    for hold in consent_rows.reviewed_holds(connection):
        on = look_on(hold)
        if on is None or on > until or not hold.holds_on(today):
            continue
        last = last_day(hold.until_on) if hold.until_on else None
        what = closed_through(last, hold.event) if hold.kind == RestraintKind.SEALED else f"embargo{f' through {day(last)}' if last else ''}"
        person = persons.get(hold.person_id or 0, "")
        yield DueRow(on, "seal" if hold.kind == RestraintKind.SEALED else "embargo", f"{_where(hold, codes, interviews)}: {what}. {NOT_BY_ITSELF}", person, codes.get(hold.recording_id or 0, ""), hold.id)


def _where(hold: Restraint, codes: dict[int, str], interviews: dict[int, str]) -> str:
    if hold.recording_id is not None:
        part = f"@{from_to(hold.start_ms or 0, hold.end_ms)}" if hold.end_ms is not None else ""
        return codes.get(hold.recording_id, "?") + part
    return f"interview {interviews[hold.interview_id]}" if hold.interview_id is not None else "everything of theirs"


def _expiring(connection: Connection, standings: Iterable[Standing], today: date, until: date) -> Iterator[DueRow]:
    labels = {u.code: u.label for u in uses.every_use(connection).values()}
    for standing in standings:
        for agreement in standing.agreements:
            if agreement.signed_on > today or standing.superseded(agreement, today) or not standing.counts(agreement, today):
                continue
            ending: dict[date, list[str]] = {}
            for p in agreement.permissions:
                if p.answer == Answer.YES and p.until_on is not None and today < p.until_on and last_day(p.until_on) <= until:
                    ending.setdefault(p.until_on, []).append(f"{labels.get(p.use, p.use)} {in_way(p.way)}")
            for end, said in ending.items():
                words = f"{agreement.cite}: {many(len(said), 'permission')} {'ends' if len(said) == 1 else 'end'}, last on {day(last_day(end))}: {', '.join(said)}. Ask them before that day."
                yield DueRow(last_day(end), "permission", words, standing.code, "", 0)


def _birthdays(standings: Iterable[Standing], today: date, until: date) -> Iterator[DueRow]:
    for standing in standings:
        if standing.adult_from is None or standing.adult_from > until:
            continue
        young = [a for a in standing.agreements if standing.signed_as_minor(a) and a.signed_on <= today and not standing.superseded(a, today)]
        grown = any(not standing.signed_as_minor(a) and a.spoken_for_by_id is None and a.signed_on <= today for a in standing.agreements)
        if young and not grown:
            told = "turns 18" if standing.adult_from > today else "is 18"
            words = f"{standing.code} {told}: from that day every use that was allowed for them is to be asked anew. Ask them, not who signed for them."
            yield DueRow(standing.adult_from, "18th birthday", words, standing.code, "", 0)


def _waiting(readings: Readings) -> Iterator[DueRow]:
    """Quotes that their speaker has not seen yet, by the day on which they were chosen."""
    for row in excerpts.chosen(readings.connection):
        reasons = [r for r in Pinned(readings, row).decide(row.use, Way.WORDS).reasons if r.code in ASKED and not r.cites.startswith(Coded.REVIEW)]
        for code in dict.fromkeys(r.person_code or "" for r in reasons):
            words = f"{row.code}: {code} has not said yes to exactly these words for {row.use}. No answer is no."
            yield DueRow(date.fromisoformat(row.at[:10]), "quote to be seen", words, code, row.recording_code, 0)


def _out(connection: Connection, speaking: Collection[str]) -> Iterator[DueRow]:
    """Sheets of quotes that are out, by the day on which they were printed."""
    for sheet in reviews.sheets(connection):
        items = reviews.questions(connection, sheet.id)
        said = reviews.answers(connection, [i.id for i in items])
        open_ones = sum(bool(i.stands) and i.id not in said for i in items)  # of what was erased nothing is left to be asked
        if open_ones and sheet.person in speaking:
            words = f"{sheet.code}: {many(open_ones, 'question')} to {sheet.person} without an answer. It was to come by {day(sheet.answer_by)}; no answer is no."
            yield DueRow(date.fromisoformat(sheet.at[:10]), "review out", words, sheet.person, "", 0)


def _papers(connection: Connection, standings: Iterable[Standing], today: date) -> Iterator[DueRow]:
    """One row a person, since there may be many."""
    bare = {row.code: row.form for row in papers.without_paper(connection)}
    for standing in standings:
        mine = [a for a in standing.agreements if a.code in bare and not standing.superseded(a, today)]
        for signed, kind, why in ((True, SCAN, "signed on paper, and no scan is kept"), (False, SPOKEN, "spoken, and where is not on record")):
            of_it = [a for a in mine if (bare[a.code] == AgreementForm.SIGNED) is signed]
            if of_it:
                yield DueRow(min(a.signed_on for a in of_it), kind, f"{', '.join(a.code for a in of_it)}: {why}.", standing.code, "", 0)


def _without_agreement(connection: Connection, standings: Iterable[Standing], today: date) -> Iterator[DueRow]:
    known = {s.person_id: s for s in standings}
    for row in recordings.everything(connection):
        for person_id in people.participants(connection, row.interview_id):
            standing = known[person_id]
            if not any(a.signed_on <= today and a.interview_id in (None, row.interview_id) and not standing.superseded(a, today) for a in standing.agreements):
                on = row.recorded_on or today
                yield DueRow(on, "no agreement", f"{row.code}: {standing.code} has no agreement for it. No record means no.", standing.code, row.code, 0)


def _objections(connection: Connection) -> Iterator[DueRow]:
    for row in objections.everything(connection):
        if not row.decision:
            yield DueRow(row.on, "objection", f"Objection {row.id} waits for a keeper's decision. What it holds stays held.", row.person_code, "", 0)


def _tasks(connection: Connection) -> Iterator[DueRow]:
    for row in tasks.everything(connection):
        yield DueRow(date.fromisoformat(row.at[:10]), "task", row.what + (f" It stands: {row.where}." if row.where else ""), "", "", 0)


def _risks(connection: Connection, until: date) -> Iterator[DueRow]:
    for row in risks.in_force(connection):
        if row.review_on is not None and row.review_on <= until:
            yield DueRow(row.review_on, "note of risk", f"Look at the note of risk again: {row.words}", row.person_code, "", 0)
