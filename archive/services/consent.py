"""What people agreed and decided later: sheets of agreements, holds, withdrawal, and explaining a decision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

from archive.db import (
    audit,
    consent_rows,
    excerpts,
    interpreted,
    people,
    recordings,
    spokespeople,
    uses,
)
from archive.db.session import Connection
from archive.domain import languages
from archive.domain.agreements import (
    AgreementForm,
    AgreementKind,
    Copyright,
    Relation,
)
from archive.domain.contradictions import contradictions
from archive.domain.dates import bounds, last_day_of
from archive.domain.reasons import day_words
from archive.domain.values import Answer, Use, Viewer, Way
from archive.errors import BadInput, Clash, NotFound
from archive.gate.beyond import reaches
from archive.gate.explained import interpreters_of
from archive.gate.in_translation import to_approve
from archive.gate.indexing import index_recording
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.services import agreement_rows
from archive.services.closing import forget_what_closed
from archive.services.ending import Ending
from archive.services.reaching import person_of
from archive.services.rooms import EDITORS, KEEPER, need
from archive.services.sheets import Row as SheetRow
from archive.services.sheets import Sheet, Typed
from archive.services.spokespeople import speaker_for

PERMISSION_COLUMNS = ("agreement", "use", "way", "answer")


class Consent(Ending):
    """Agreements, holds and decisions of one archive."""

    # -- sheets ------------------------------------------------------------------------------------------------
    def add(self, viewer: Viewer, agreement: Mapping[str, str], answers: Sequence[Mapping[str, str]]) -> tuple[int, int]:
        """Add one agreement by the columns of the two sheets, under the same rules. Raises Clash where the code is on record."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            if agreement["code"] in consent_rows.agreement_ids(connection):
                raise Clash(
                    f"The agreement {agreement['code']} is on record already.",
                    "A change is a new agreement: give it a code of its own and name this one in --supersedes.",
                )
        named = [{"agreement": agreement["code"], **answer} for answer in answers]
        return self.read(viewer, Typed(agreement), Typed(*named or [dict.fromkeys(PERMISSION_COLUMNS, "")]))

    def read(self, viewer: Viewer, agreements: Path | Typed, permissions: Path | Typed) -> tuple[int, int]:
        """Read agreements.csv with permissions.csv; returns how many of each were new. Taken whole or not at all."""
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            new = self._read_agreements(connection, viewer, agreements)
            answers = self._read_permissions(connection, viewer, permissions, new)
            forget_what_closed(connection, self._rooms)
            audit.record(
                connection, viewer.name, "agreements read", "sheet", self._rooms.now(), agreements=len(new), permissions=answers
            )
        return len(new), answers

    def _read_agreements(self, connection: Connection, viewer: Viewer, path: Path | Typed) -> dict[str, int]:
        sheet = Sheet(path, ("code", "person", "kind", "form", "signed_on"), key=("code",))
        persons = people.ids_by_code(connection)
        known = consent_rows.agreement_ids(connection)
        interviews = {r.code: r.id for r in recordings.interviews(connection)}
        lives = {r.code: (r.born, r.died) for r in people.everyone(connection)}
        new: dict[str, int] = {}
        for row in sheet:
            row.needed("code")
            person_id = row.one_of("person", persons)
            interview_id = self._interview(connection, row["interview"], interviews)
            signed_on = row.day("signed_on")
            before = {**known, **new}
            stretch = agreement_rows.covered(connection, row, interview_id)
            paper_sha256, printed = agreement_rows.paper(connection, row, person_id)
            values = {
                "kind": row.choice("kind", AgreementKind, AgreementKind.RECORDING),
                "form": row.choice("form", AgreementForm, AgreementForm.SIGNED),
                "copyright_in": row.choice("copyright", Copyright, Copyright.KEPT),
                "relation": row.choice("relation", Relation, Relation.NONE),
                "spoken_for_by_id": row.one_of("spoken_for_by", persons),
                "supersedes_id": row.one_of("supersedes", before),
                "minor": row.yes("minor"), "assent": row.yes("assent"), "heirs_may_allow": row.yes("heirs_may_allow"),
            }  # fmt: skip
            if not row["person"]:
                row.fault("“person” is empty. Write the code of who agreed.")
            if signed_on is None and not row["signed_on"]:
                row.fault("“signed_on” is empty. Write the day it was signed or spoken.")
            if signed_on is not None and person_id is not None:
                self._check_day(row, signed_on, *lives[row["person"]])
            if row["code"] in known or person_id is None or signed_on is None or sheet.faults:
                continue
            try:
                new[row["code"]] = consent_rows.add_agreement(
                    connection, code=row["code"], person_id=person_id, interview_id=interview_id, signed_on=signed_on,
                    taken_by=row["taken_by"], language=row["language"] or "en", note=row["note"], stretch=stretch, paper_sha256=paper_sha256,
                    number=agreement_rows.number(connection, row["supersedes"]),
                    basis=row["basis"], by=viewer.name, at=self._rooms.now(), **values,  # type: ignore[arg-type]
                )  # fmt: skip
                if values["spoken_for_by_id"] is not None:
                    self._signed_for(connection, viewer, person_id, row, signed_on)
                if printed is not None:
                    agreement_rows.rest_on(connection, new[row["code"]], printed, viewer.name, self._rooms.now())
                if stretch is not None:  # find units are cut at its edges
                    index_recording(connection, stretch.recording_id, self._rooms.context())
            except BadInput as error:
                row.fault(f"{error.message} {error.remedy}")
        sheet.done()
        return new

    def _check_day(self, row: SheetRow, signed_on: date, born: str | None, died: str | None) -> None:
        """A day on which it cannot have been signed is a slip of the pen, and would open or close at the wrong time."""
        birth, death = bounds(born)[0] if born else None, last_day_of(died)
        if signed_on > self._rooms.today():
            row.fault(f"“signed_on” is {day_words(signed_on)}, which is still to come. Write the day it was signed or spoken.")
        if birth is not None and signed_on < birth:
            row.fault(f"“signed_on” is {day_words(signed_on)}, before {row['person']} was born. Correct the day, or the birth date in people.csv.")
        if death is not None and signed_on > death and not row["spoken_for_by"]:
            row.fault(f"“signed_on” is {day_words(signed_on)}, after {row['person']} died. Say in “spoken_for_by” and “relation” who signed it.")

    def _signed_for(self, connection: Connection, viewer: Viewer, person_id: int, row: SheetRow, signed_on: date) -> None:
        """Who signed for somebody is on record as speaking for them from then on, with the papers that the sheet names, if any."""
        signer, relation = people.ids_by_code(connection)[row["spoken_for_by"]], Relation(row["relation"])
        (standing,) = consent_rows.load_standings(connection, [person_id]).values()
        known = [s for s in standing.speakers if (s.other_id, s.relation) == (signer, relation)]
        if not known or (row["papers"] and not known[-1].papers):
            spokespeople.add_speaker(
                connection, person_id=person_id, other_id=signer, relation=relation, from_on=min([signed_on, *(s.from_on for s in known)]),
                until_on=known[-1].until_on if known else None, papers=row["papers"], by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip

    def contradictions(self, viewer: Viewer) -> tuple[str, ...]:
        """Agreements of one person and one day that answer the same question differently, in sentences."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            standings = consent_rows.load_standings(connection, list(people.codes_by_id(connection)))
        return tuple(words for s in sorted(standings.values(), key=lambda s: s.code) for words in contradictions(s, self._rooms.today()))

    def _interview(self, connection: Connection, code: str, known: dict[str, int]) -> int | None:
        """The interview of this code. An agreement may be on record before its recordings are: it is made empty."""
        if code and code not in known:
            known[code] = recordings.interview_id(connection, code, "", None, "en")
        return known.get(code)

    def _read_permissions(self, connection: Connection, viewer: Viewer, path: Path | Typed, new: dict[str, int]) -> int:
        sheet = Sheet(path, PERMISSION_COLUMNS, key=("agreement", "use", "way", "exhibition", "from_on"))
        known = consent_rows.agreement_ids(connection)
        list_of_uses = uses.every_use(connection)
        count = 0
        for row in (r for r in sheet if any(r.cells.values())):  # an agreement may come without an answer
            agreement_id = row.one_of("agreement", known)
            use: Use | None = row.one_of("use", list_of_uses)
            way = row.choice("way", Way, Way.WORDS)
            answer = row.choice("answer", Answer, Answer.NO)
            first, last = row.day("from_on"), row.day("until_on")
            for column in ("agreement", "use", "way", "answer"):
                row.needed(column)
            if row["agreement"] not in new and agreement_id and use and not consent_rows.has_answer(connection, agreement_id, use.code, way, answer):
                row.fault(
                    f"The agreement {row['agreement']} is on record without this answer. A change is a new agreement: "
                    "give it a code of its own and name this one in “supersedes”."
                )
            if row["agreement"] not in new or agreement_id is None or use is None or sheet.faults:
                continue
            try:
                consent_rows.add_permission(
                    connection, agreement_id=agreement_id, use=use.code, way=way, answer=answer,
                    exhibition=row["exhibition"] or None, from_on=first,
                    until_on=last + timedelta(days=1) if last else None,  # paper says the last day, inclusive
                    conditions=row["conditions"], by=viewer.name, at=self._rooms.now(),
                )  # fmt: skip
                count += 1
            except BadInput as error:
                row.fault(f"{error.message} {error.remedy}")
        sheet.done()
        return count

    # -- the word of a speaker ---------------------------------------------------------------------------------
    def approve(
        self, viewer: Viewer, excerpt: str, person: str, answer: Answer, way: Way = Way.WORDS, given_by: str = "", language: str = ""
    ) -> None:  # fmt: skip
        """Put a speaker's word on one excerpt's exact wording on record. `given_by`: who gave it for them, on record as speaking for them;
        `language`: in which it was put to them, as a tag or in English."""
        need(viewer, *EDITORS)
        put_in = languages.tag(language) if language else ""
        with self._rooms.db.write() as connection:
            row, who = excerpts.by_code(connection, excerpt), person_of(connection, viewer, person)
            if row is None or who is None or not reaches(Readings(connection, self._rooms.context()), viewer, row):
                raise NotFound("There is no such excerpt or person.")
            giver = speaker_for(connection, who.id, given_by, self._rooms.today()) if given_by not in ("", person) else None
            pinned = Pinned(Readings(connection, self._rooms.context()), row)
            wording, asked = to_approve(pinned)
            for use in asked:
                consent_rows.add_approval(
                    connection, person_id=who.id, wording_sha256=wording, use=use, way=way, answer=answer,
                    from_on=self._rooms.today(), given_by_id=giver, language=put_in, by=viewer.name, at=self._rooms.now(),
                )  # fmt: skip
            audit.record(
                connection, viewer.name, "wording decided", f"excerpt {row.id}", self._rooms.now(), person=who.id,
                answer=answer.value, wording=wording, given_by=giver or who.id,
            )  # fmt: skip

    def check_interpreted(self, viewer: Viewer, excerpt: str) -> None:
        """Whoever asks speaks both languages and has compared an interpreter's words with what was said before them. Raises NotFound;
        BadInput where they are no interpreter's, or the interpreter's own account asks."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = excerpts.by_code(connection, excerpt)
            if row is None or not reaches(Readings(connection, self._rooms.context()), viewer, row):
                raise NotFound("There is no such excerpt.")
            who = interpreters_of(Readings(connection, self._rooms.context()), row)
            if not who:
                raise BadInput("These are no interpreter's words, so there is nothing to compare. Nothing was changed.")
            if viewer.name in who:
                raise BadInput("Who interpreted cannot be the second pair of ears. Nothing was changed.", "Ask somebody else who speaks the language.")
            interpreted.add_check(connection, row.wording_sha256, viewer.name, self._rooms.now())
            audit.record(connection, viewer.name, "interpretation checked", f"excerpt {row.id}", self._rooms.now(), wording=row.wording_sha256)
