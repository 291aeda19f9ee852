"""What people agreed and decided later: sheets of agreements, holds, withdrawal, and explaining a decision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from archive.db import (
    audit,
    consent_rows,
    excerpts,
    likeness,
    people,
    recordings,
    themes,
    uses,
    vectors,
)
from archive.db.session import Connection
from archive.domain import consent
from archive.domain.agreements import (
    AgreementForm,
    AgreementKind,
    Asked,
    Copyright,
    Relation,
)
from archive.domain.consent import Decision, explain
from archive.domain.values import Answer, Stretch, Use, Viewer, Way
from archive.errors import BadInput, Clash, NotFound
from archive.gate import custody
from archive.gate.clear import decide_stretch
from archive.gate.in_translation import to_approve
from archive.gate.indexing import index_recording
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.gate.surroundings import QUESTION, around_all, show_leaving, together
from archive.services import agreement_rows
from archive.services.ending import Ending
from archive.services.rooms import EDITORS, KEEPER, need
from archive.services.rows import MayAnswer
from archive.services.sheets import Sheet, Typed

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
            self._forget_voices(connection)
            themes.forget_taught(connection, [r.id for r in recordings.everything(connection)])  # a newer answer may have closed what taught
            vectors.forget_closed(connection, vectors.open_to(connection, self._rooms.today(), self._rooms.options.exhibition))
            audit.record(
                connection, viewer.name, "agreements read", "sheet", self._rooms.now(), agreements=len(new), permissions=answers
            )
        return len(new), answers

    def _forget_voices(self, connection: Connection) -> None:
        """A newer answer may have ended the use “machine”: what was heard of voices under the older one goes."""
        for recording_id in likeness.recordings_with(connection):
            length_ms = recordings.by_id(connection, recording_id).duration_ms
            if not custody.machine_may(connection, recording_id, 0, length_ms, self._rooms.context()).allowed:
                likeness.forget(connection, [recording_id])

    def _read_agreements(self, connection: Connection, viewer: Viewer, path: Path | Typed) -> dict[str, int]:
        sheet = Sheet(path, ("code", "person", "kind", "form", "signed_on"), key=("code",))
        persons = people.ids_by_code(connection)
        known = consent_rows.agreement_ids(connection)
        interviews = {r.code: r.id for r in recordings.interviews(connection)}
        new: dict[str, int] = {}
        for row in sheet:
            row.needed("code")
            person_id = row.one_of("person", persons)
            interview_id = self._interview(connection, row["interview"], interviews)
            signed_on = row.day("signed_on")
            before = {**known, **new}
            stretch = agreement_rows.covered(connection, row, interview_id)
            paper_sha256, printed = agreement_rows.paper(connection, row, person_id)
            agreement_rows.check_day(connection, row, person_id, signed_on, self._rooms.today())
            values = {
                "kind": row.choice("kind", AgreementKind, AgreementKind.RECORDING),
                "form": row.choice("form", AgreementForm, AgreementForm.SIGNED),
                "copyright_in": row.choice("copyright", Copyright, Copyright.KEPT),
                "relation": row.choice("relation", Relation, Relation.NONE),
                "spoken_for_by_id": row.one_of("spoken_for_by", persons),
                "supersedes_id": row.one_of("supersedes", before),
                "minor": row.yes("minor"), "assent": row.yes("assent"),
            }  # fmt: skip
            if not row["person"]:
                row.fault("“person” is empty. Write the code of who agreed.")
            if signed_on is None and not row["signed_on"]:
                row.fault("“signed_on” is empty. Write the day it was signed or spoken.")
            if row["code"] in known or person_id is None or signed_on is None or sheet.faults:
                continue
            try:
                new[row["code"]] = consent_rows.add_agreement(
                    connection, code=row["code"], person_id=person_id, interview_id=interview_id, signed_on=signed_on,
                    taken_by=row["taken_by"], language=row["language"] or "en", note=row["note"], stretch=stretch, paper_sha256=paper_sha256,
                    number=agreement_rows.number(connection, row["supersedes"]),
                    basis=row["basis"], by=viewer.name, at=self._rooms.now(), **values,  # type: ignore[arg-type]
                )  # fmt: skip
                if printed is not None:
                    agreement_rows.rest_on(connection, new[row["code"]], printed, viewer.name, self._rooms.now())
                if stretch is not None:  # find units are cut at its edges
                    index_recording(connection, stretch.recording_id, self._rooms.context())
            except BadInput as error:
                row.fault(f"{error.message} {error.remedy}")
        sheet.done()
        return new

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
    def approve(self, viewer: Viewer, excerpt: str, person: str, answer: Answer, way: Way = Way.WORDS) -> None:
        """Put a speaker's word on one excerpt's exact wording on record."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row, who = excerpts.by_code(connection, excerpt), people.by_code(connection, person)
            if row is None or who is None:
                raise NotFound("There is no such excerpt or person.")
            pinned = Pinned(Readings(connection, self._rooms.context()), row)
            wording, asked = to_approve(pinned)
            for use in asked:
                consent_rows.add_approval(
                    connection, person_id=who.id, wording_sha256=wording, use=use, way=way, answer=answer,
                    from_on=self._rooms.today(), by=viewer.name, at=self._rooms.now(),
                )  # fmt: skip
            audit.record(
                connection, viewer.name, "wording decided", f"excerpt {row.id}", self._rooms.now(), person=who.id,
                answer=answer.value, wording=wording,
            )  # fmt: skip

    # -- explaining --------------------------------------------------------------------------------------------
    def may(self, viewer: Viewer, target: str, use: str, way: Way) -> MayAnswer:
        """May this excerpt (EX-1), stretch (TW-01.1@1:16-1:25) or all of a person (N-05) be used so, today? In sentences."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            asked = consent_rows.load_use(connection, use)
            person = people.by_code(connection, target)
            if person is not None:
                decision = self._of_person(connection, person.id, asked, way)
            else:
                decision = self.decision(connection, target, asked, way)
            around = self._around(connection, viewer, target)
        return replace(answer(decision, viewer), around=around)

    def _around(self, connection: Connection, viewer: Viewer, target: str) -> tuple[str, ...]:
        """What stands around an excerpt in which something is hidden, and the question to ask of it; () of anything else."""
        row = excerpts.by_code(connection, target)
        if row is None:
            return ()
        readings = Readings(connection, self._rooms.context())
        around = around_all(readings, self._rooms.options.name, self._rooms.options.mute_margin_ms)
        leaving = show_leaving(readings, viewer, Pinned(readings, row), around)
        return (*leaving.hidden, *together(leaving), QUESTION) if leaving is not None and leaving.hidden else ()

    def _of_person(self, connection: Connection, person_id: int, use: Use, way: Way) -> Decision:
        """All that somebody says, in all their interviews, before what a single stretch or wording may change."""
        standing = consent_rows.load_standings(connection, [person_id])[person_id]
        policy, context = consent_rows.load_policy(connection), self._rooms.context()
        taken = [row.id for row in people.interviews_of(connection, person_id)] or [None]
        asked = [Asked(Stretch(0, 0, 1), i, use, way, context.on, context.exhibition) for i in taken]
        return consent.merge([consent.decide(one, (standing,), policy) for one in asked])

    def decision(self, connection: Connection, target: str, use: Use, way: Way) -> Decision:
        """The decision that the gate itself would take. Raises NotFound."""
        readings = Readings(connection, self._rooms.context())
        row = excerpts.by_code(connection, target)
        if row is not None:
            return Pinned(readings, row).decide(use.code, way)
        return decide_stretch(readings, self._stretch(connection, target), use.code, way)



def answer(decision: Decision, viewer: Viewer) -> MayAnswer:
    """A decision for a person: sentences, duties, the day to ask again."""
    duties = tuple(explain(consent.Decision(True, (), decision.duties))[1:])
    return MayAnswer(
        decision.allowed, tuple(explain(decision, viewer.role)), duties, decision.recheck_on, decision.duties.disguise
    )
