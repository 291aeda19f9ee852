"""People: the sheet, the list, one person's page with what they allowed, in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from archive.db import audit, consent_rows, excerpts, mentions, people, reach, recordings, uses
from archive.db.session import Connection
from archive.db.session import Row as DbRow
from archive.domain.agreements import Agreement, Restraint, Standing
from archive.domain.attribution import PersonName, attribution_line, name_parts
from archive.domain.dates import adult_days, validate
from archive.domain.letters import folded
from archive.domain.phrases import clock, closed_through, day, in_way, went
from archive.domain.reasons import day_words, last_day
from archive.domain.values import Attribution, RestraintKind, Review, Role, Scan, Viewer, VoiceWish
from archive.errors import Clash, NotFound
from archive.services.deciding import allowed, by_interview
from archive.services.describing import hear_names_again
from archive.services.reaching import person_of
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import (
    AgreementPage,
    AgreementRow,
    AnswerRow,
    HoldLine,
    PersonPage,
    PersonRow,
)
from archive.services.sealing import kind_told
from archive.services.sheets import Row, Sheet, Typed

NAME_COLUMNS = (("full", "full"), ("first", "first"), ("family", "family"), ("initials", "initials"), ("pseudonym", "pseudonym"))
CAUTIONS = (
    "No record means no: what is not written here is not allowed.",
    "Permission for the archive is not permission for the wall.",
    "Withdrawal stops future use at once; it cannot recall what was printed.",
    "A voice identifies a person even without a name.",
    "Not legal advice: local law and your institution's own counsel decide.",
)


class People:
    """People of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def add(self, viewer: Viewer, cells: Mapping[str, str]) -> None:
        """Add one person by the columns of people.csv, under the same rules. Raises Clash where the code is on record."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            if person_of(connection, viewer, cells["code"]) is not None:
                raise Clash(f"{cells['code']} is on record already.", "Take another code; to change a person, read a sheet with them in it.")
        self.read(viewer, Typed(cells))

    def read(self, viewer: Viewer, path: Path | Typed) -> tuple[int, int]:
        """Read people.csv; returns (new, known). Raises SheetError; then nothing of it was taken."""
        need(viewer, *KEEPER)
        sheet = Sheet(path, ("code", "full", "attribution", "voice", "review"), key=("code",))
        rows = [(row, _names(row), _wish(row)) for row in sheet]
        for row, _, _ in rows:
            row.needed("code")
            row.check("born", validate)
            row.check("died", validate)
        new = 0
        with self._rooms.db.write() as connection:
            for row, _, _ in rows:
                known = people.by_code(connection, row["code"])
                if known is not None and known.erased_at:
                    row.fault(f"{row['code']} was erased on {day(known.erased_at[:10])}. Take the row out of the sheet, and delete older copies of it.")
            _check_pseudonyms(connection, rows)
            sheet.done()
            for row, names, wish in rows:
                new += self._write(connection, viewer, row, names, wish)
            if rows:
                hear_names_again(connection, self._rooms.context(), viewer.name, self._rooms.now())
            audit.record(
                connection, viewer.name, "people read", "sheet", self._rooms.now(), rows=len(rows), new=new
            )
        return new, len(rows) - new

    def _write(
        self, connection: Connection, viewer: Viewer, row: Row, names: list[PersonName],
        wish: tuple[Attribution, VoiceWish, Review],
    ) -> int:  # fmt: skip
        days = adult_days(row["born"] or None)
        person_id, new = people.write(
            connection, row["code"], row["born"] or None, row["died"] or None, days, row["note"], row["sex"][:20]
        )
        people.write_names(connection, person_id, names)
        today = self._rooms.today()
        standing = consent_rows.load_standings(connection, [person_id])[person_id]
        now = standing.wish_on(today)
        if not standing.wishes or (now.attribution, now.voice, now.review) != wish:
            consent_rows.add_wish(
                connection, person_id=person_id, attribution=wish[0], voice=wish[1], review=wish[2], from_on=today,
                by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
        return int(new)

    def list(self, viewer: Viewer) -> tuple[PersonRow, ...]:
        """Everybody on record, by code."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = people.everyone(connection)
            standings = consent_rows.load_standings(connection, [r.id for r in rows])
            names = people.names(connection)
            shut = reach.of(connection, viewer).people
            return tuple(self._row(connection, viewer, standings[r.id], names.get(r.id, []), r.erased_at) for r in rows if r.id not in shut)

    def _row(
        self, connection: Connection, viewer: Viewer, standing: Standing, names: Sequence[PersonName], erased_at: str | None
    ) -> PersonRow:
        wish = standing.wish_on(self._rooms.today())
        line = attribution_line(names, wish.attribution)
        if viewer.role == Role.KEEPER:
            line = next((n.text for n in names if n.kind == "full"), line)
        roles = dict.fromkeys(r.role for r in people.interviews_of(connection, standing.person_id))
        return PersonRow(
            standing.code, line, tuple(roles), wish.attribution.value, wish.voice.value, wish.review.value,
            f"erased on {day(erased_at[:10])}" if erased_at else self._state(standing, viewer),
        )  # fmt: skip

    def _state(self, standing: Standing, viewer: Viewer) -> str:
        today = self._rooms.today()
        mine = [r for r in standing.restraints if r.person_id is not None and r.holds_on(today)]
        held = {kind_told(r.kind, viewer) for r in mine}
        whole = {kind_told(r.kind, viewer) for r in mine if r.recording_id is None and r.use is None and r.way is None and r.interview_id is None}
        if whole:
            return " and ".join(sorted(whole))
        in_force = [a for a in standing.agreements if a.signed_on <= today and standing.counts(a, today)]
        text = "agreement in force" if in_force else "no agreement"
        return f"{text}; in part {' and '.join(sorted(held))}" if held else text

    def page(self, viewer: Viewer, code: str) -> PersonPage:
        """One person: what they allowed use by use, their papers, holds, interviews and what already left."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = person_of(connection, viewer, code)
            if row is None:
                raise NotFound("There is no such person on record.")
            standing = consent_rows.load_standings(connection, [row.id])[row.id]
            names = people.names(connection).get(row.id, [])
            taken = people.interviews_of(connection, row.id)
            codes = {r.id: r.code for r in recordings.everything(connection)}
            interviews = {r.id: r.code for r in recordings.interviews(connection)}
            out = excerpts.register(connection, person_id=row.id)
            today = self._rooms.today()
            labels = {u.code: u.label for u in uses.every_use(connection).values()}
            return PersonPage(
                row=self._row(connection, viewer, standing, names, row.erased_at),
                born=row.born or "",
                allowed=allowed(by_interview(connection, viewer, standing, uses.every_use(connection).values(), self._rooms.context())),
                agreements=tuple(_agreement_line(a, standing, self._rooms, interviews) for a in standing.agreements),
                restraints=tuple(
                    HoldLine(r.id, kind_told(r.kind, viewer), _restraint_line(r, viewer, codes, interviews, labels), r.holds_on(today))
                    for r in consent_rows.holds_on_page(connection, row.id)
                    if concerns(connection, row.id, r)
                ),
                interviews=tuple(f"{t.code} as {t.role}" for t in taken),
                left=tuple(
                    f"{o.code} for {labels.get(o.use, o.use)}, {day(o.at)}" + ("" if o.state == "given" else f" ({went(o.state)})") for o in out
                ),
                cautions=CAUTIONS,
                named=bool(mentions.recordings_of(connection, row.id)),
            )

    # -- papers ------------------------------------------------------------------------------------------------
    def agreements(self, viewer: Viewer, code: str = "") -> tuple[AgreementRow, ...]:
        """Every agreement on record, or those of one person. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = person_of(connection, viewer, code) if code else None
            if code and row is None:
                raise NotFound("There is no such person on record.")
            wanted = [row.id] if row is not None else [r.id for r in people.everyone(connection)]
            wanted = sorted(set(wanted) - reach.of(connection, viewer).people)
            interviews = {r.id: r.code for r in recordings.interviews(connection)}
            standings = consent_rows.load_standings(connection, wanted)
            return tuple(
                self._paper(a, standing, interviews)
                for standing in sorted(standings.values(), key=lambda s: s.code) for a in standing.agreements
            )  # fmt: skip

    def agreement(self, viewer: Viewer, code: str) -> AgreementPage:
        """One agreement with every answer in it. Raises NotFound."""
        found = next((r for r in self.agreements(viewer) if r.code == code), None)
        if found is None:
            raise NotFound("There is no such agreement.", "See `toldhere agreements list`.")
        with self._rooms.db.read() as connection:
            person = person_of(connection, viewer, found.person)
            assert person is not None
            standing = consent_rows.load_standings(connection, [person.id])[person.id]
            labels = {u.code: u.label for u in uses.every_use(connection).values()}
        answers = next(a.permissions for a in standing.agreements if a.code == code)
        return AgreementPage(
            found,
            tuple(
                AnswerRow(
                    p.use, labels.get(p.use, p.use), p.way.value, p.answer.value, p.exhibition or "", p.from_on,
                    last_day(p.until_on) if p.until_on else None, p.conditions,
                )
                for p in answers
            ),
        )  # fmt: skip

    def _paper(self, agreement: Agreement, standing: Standing, interviews: dict[int, str]) -> AgreementRow:
        today = self._rooms.today()
        state = "in force"
        if standing.superseded(agreement, today):
            state = "a later version took its place"
        elif agreement.signed_on > today:
            state = "still to come"
        elif not standing.counts(agreement, today):
            state = "does not count yet"
        return AgreementRow(
            agreement.code, standing.code, interviews.get(agreement.interview_id or 0, ""), agreement.kind.value,
            agreement.signed_on, len(agreement.permissions), state,
        )  # fmt: skip


class Held(Protocol):
    """What a hold is aimed at, as a row or as a value."""

    @property
    def person_id(self) -> int | None: ...
    @property
    def interview_id(self) -> int | None: ...
    @property
    def recording_id(self) -> int | None: ...
    @property
    def raised_by_id(self) -> int | None: ...


def concerns(connection: Connection, person_id: int, hold: Held | DbRow[Any]) -> bool:
    """True where a hold is this person's own, was raised by them or, naming nobody, lies on what they take part in: then
    it is on their page."""
    if hold.raised_by_id == person_id:
        return True
    if hold.person_id is not None:
        return bool(hold.person_id == person_id)
    mine = {t.id for t in people.interviews_of(connection, person_id)}
    if hold.recording_id is not None:
        return any(r.id == hold.recording_id and r.interview_id in mine for r in recordings.everything(connection))
    return hold.interview_id in mine


def _names(row: Row) -> list[PersonName]:
    scan = row.choice("scan", Scan, Scan.ALWAYS)
    # A family name may also be a word or a place; the full name never is.
    names = [
        PersonName(row[column], kind, Scan.ALWAYS if kind == "full" else scan)
        for column, kind in NAME_COLUMNS
        if row[column]
    ]
    names += [PersonName(text, "nick", scan) for text in row.list("nick")]
    return names + [PersonName(text, "heard_as", scan) for text in row.list("heard_as")]


def _check_pseudonyms(connection: Connection, rows: Sequence[tuple[Row, list[PersonName], object]]) -> None:
    """A pseudonym that is somebody else's name would put their name on a wall."""
    listed = {row["code"] for row, _, _ in rows}
    codes = people.codes_by_id(connection)
    real: dict[str, set[str]] = {}
    on_record = [(codes[p], names) for p, names in people.names(connection).items() if codes[p] not in listed]
    for code, names in [*((row["code"], names) for row, names, _ in rows), *on_record]:
        for name in (n for n in names if n.kind != "pseudonym"):
            for text in (name.text, *(name_parts(name.text) if name.kind == "full" else ())):
                real.setdefault(folded(text), set()).add(code)
    for row, names, _ in rows:
        for text in (n.text for n in names if n.kind == "pseudonym"):
            if any(real.get(folded(part), set()) - {row["code"]} for part in (text, *text.split())):
                row.fault("“pseudonym” is a name of somebody else on record. Choose another one.")


def _wish(row: Row) -> tuple[Attribution, VoiceWish, Review]:
    return (
        row.choice("attribution", Attribution, Attribution.UNNAMED),
        row.choice("voice", VoiceWish, VoiceWish.NOT_HEARD),
        row.choice("review", Review, Review.WANTED),
    )


def _agreement_line(agreement: Agreement, standing: Standing, rooms: Rooms, interviews: dict[int, str]) -> str:
    whole = "all their interviews" if agreement.interview_id is None else f"interview {interviews[agreement.interview_id]}"
    line = f"{agreement.cite}: {agreement.kind.value} form, {day_words(agreement.signed_on)}, for {whole}"
    if agreement.whose:
        line += f", {agreement.whose}"
    if agreement.heirs_may_allow:
        line += "; their heirs may allow more, all of them together"
    if standing.superseded(agreement, rooms.today()):
        line += " (a later version took its place)"
    elif not standing.counts(agreement, rooms.today()):
        line += " (a yes in it does not count: see who speaks for them, and on which papers)"
    return line


def _restraint_line(
    restraint: Restraint, viewer: Viewer, codes: dict[int, str], interviews: dict[int, str], labels: dict[str, str]
) -> str:
    what = "everything"
    if restraint.recording_id is not None:
        what = codes.get(restraint.recording_id, "?")
        if restraint.end_ms is not None:
            what += f", {clock(restraint.start_ms or 0)} to {clock(restraint.end_ms)}"
    elif restraint.interview_id is not None:
        what = f"interview {interviews[restraint.interview_id]}"
    what += f" for {labels.get(restraint.use, restraint.use)}" if restraint.use else ""
    what += f" {in_way(restraint.way)}" if restraint.way else ""
    last = last_day(restraint.until_on) if restraint.until_on else None
    if restraint.kind == RestraintKind.SEALED:
        return f"{closed_through(last, restraint.event)}: {what}, from {day_words(restraint.from_on)}"
    until = f" through {day_words(last)}" if last else ""
    return f"{kind_told(restraint.kind, viewer)}: {what}, from {day_words(restraint.from_on)}{until}"
