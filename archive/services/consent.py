"""What people agreed and decided later: sheets of agreements, holds, withdrawal, and explaining a decision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from archive.db import (
    audit,
    consent_rows,
    excerpts,
    interpreted,
    jobs,
    mentions,
    people,
    recordings,
    spokespeople,
    themes,
    uses,
)
from archive.db.session import Connection, Row
from archive.domain import languages
from archive.domain.agreements import (
    AgreementForm,
    AgreementKind,
    Copyright,
    Relation,
    ReleaseKind,
)
from archive.domain.contradictions import contradictions
from archive.domain.dates import bounds, last_day_of
from archive.domain.reasons import day_words
from archive.domain.values import Answer, RestraintKind, Stretch, Use, Viewer, Way
from archive.errors import BadInput, Clash, NotFound
from archive.gate import custody
from archive.gate.explained import interpreters_of
from archive.gate.in_translation import to_approve
from archive.gate.indexing import index_recording
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.services.card import recording_of
from archive.services.closing import forget_what_closed
from archive.services.deciding import stretch_named, stretch_within
from archive.services.exports import left_rows
from archive.services.people import concerns
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import ClosedRow, WithdrawalReport
from archive.services.sheets import Row as SheetRow
from archive.services.sheets import Sheet, Typed

PERMISSION_COLUMNS = ("agreement", "use", "way", "answer")
CANNOT = (
    "Withdrawal stops future use at once. It cannot recall what was printed or shown: see to the places listed by hand.",
    "The recording itself stays, closed; erasing it is another step.",
    "Not legal advice: ending a licence or a copyright assignment may be another matter; ask your institution's counsel.",
)


class Consent:
    """Agreements, holds and decisions of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

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
                    taken_by=row["taken_by"], language=row["language"] or "en", note=row["note"],
                    basis=row["basis"], by=viewer.name, at=self._rooms.now(), **values,  # type: ignore[arg-type]
                )  # fmt: skip
                if values["spoken_for_by_id"] is not None:
                    self._signed_for(connection, viewer, person_id, row, signed_on)
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

    def read_closed(self, viewer: Viewer, path: Path) -> int:
        """Read closed.csv: stretches to be sealed or put under embargo; returns how many were new."""
        need(viewer, *KEEPER)
        sheet = Sheet(path, ("file", "start_s", "end_s", "kind"), key=("file", "start_s", "end_s"))
        with self._rooms.db.write() as connection:
            found = []
            for row in sheet:
                recording = recording_of(connection, row)
                kind = row.choice("kind", RestraintKind, RestraintKind.SEALED)
                start_ms, end_ms, last = row.ms("start_s"), row.ms("end_s"), row.day("until_on")
                if end_ms <= start_ms:
                    row.fault("The stretch must end after it starts.")
                elif recording is not None:
                    found.append((Stretch(recording.id, start_ms, end_ms), kind, last, row["reason"]))
            sheet.done()
            new = 0
            for stretch, kind, last, reason in found:
                new += self._close(connection, viewer, stretch, kind, last + timedelta(days=1) if last else None, reason)
        return new

    def _close(
        self, connection: Connection, viewer: Viewer, stretch: Stretch, kind: RestraintKind, until_on: date | None,
        how: str, raised_by_id: int | None = None, *, once: bool = True,
    ) -> int:  # fmt: skip
        """`once`: a sheet that is read again does not close anew what a keeper opened since."""
        whole = custody.snap_outwards(connection, stretch)
        if consent_rows.has_restraint(connection, kind, whole) and (once or self._still_closed(connection, kind, whole)):
            return 0
        self._add_seal(connection, viewer, whole, kind, until_on, how, raised_by_id)
        return 1

    def _still_closed(self, connection: Connection, kind: RestraintKind, whole: Stretch) -> bool:
        today = self._rooms.today()
        return any(
            (r.kind, r.recording_id, r.start_ms, r.end_ms) == (kind, whole.recording_id, whole.start_ms, whole.end_ms) and r.holds_on(today)
            for r, _, _ in consent_rows.stretch_holds(connection)
        )  # fmt: skip

    def _add_seal(
        self, connection: Connection, viewer: Viewer, whole: Stretch, kind: RestraintKind, until_on: date | None,
        how: str, raised_by_id: int | None = None,
    ) -> None:  # fmt: skip
        restraint_id = consent_rows.add_restraint(
            connection, kind=kind, stretch=whole, from_on=self._rooms.today(), until_on=until_on, how=how,
            raised_by_id=raised_by_id, by=viewer.name, at=self._rooms.now(),
        )  # fmt: skip
        index_recording(connection, whole.recording_id, self._rooms.context())
        audit.record(
            connection, viewer.name, "stretch closed", f"restraint {restraint_id}", self._rooms.now(),
            recording=whole.recording_id, start_ms=whole.start_ms, end_ms=whole.end_ms, kind=kind.value,
        )  # fmt: skip

    def seal(self, viewer: Viewer, recording: str, start_ms: int, end_ms: int, how: str) -> None:
        """Close a stretch until somebody opens it. Anybody of the team may close; only a keeper opens."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            self._close(connection, viewer, stretch_within(connection, recording, start_ms, end_ms), RestraintKind.SEALED, None, how, once=False)

    # -- said off the record? ----------------------------------------------------------------------------------
    def closed(self, viewer: Viewer, waiting: bool = False) -> tuple[ClosedRow, ...]:
        """Every closed stretch, in order; `waiting`: only what our own computer closed and nobody has decided."""
        need(viewer, *EDITORS)
        today = self._rooms.today()
        with self._rooms.db.read() as connection:
            codes = {r.id: r.code for r in recordings.everything(connection)}
            rows = [
                ClosedRow(
                    r.id, codes[r.recording_id or 0], r.start_ms or 0, r.end_ms or 0, r.kind.value, rule, how,
                    r.until_on - timedelta(days=1) if r.until_on else None, r.holds_on(today),
                )
                for r, rule, how in consent_rows.stretch_holds(connection)
            ]  # fmt: skip
        return tuple(r for r in rows if not waiting or (r.rule and r.holds))

    def open_again(self, viewer: Viewer, hold: int, reason: str) -> None:
        """What our own computer closed was not said off the record: open it, with the reason on record."""
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            self._machine_closed(connection, hold)
            self._open(connection, viewer, hold, reason)

    def close_exactly(
        self, viewer: Viewer, hold: int, limits: Sequence[tuple[int, int]], reason: str, until: date | None = None,
        recording: str = "",
    ) -> None:  # fmt: skip
        """Close exactly these limits (ms) instead of what our own computer closed around them; `until`: the last closed day.

        The new seals are on record before the old one ends, in one transaction: nothing is open in between.
        """
        need(viewer, *KEEPER)
        if not limits or not reason.strip():
            raise BadInput("Say from where to where it stays closed, and why.", "Write the times as 1:16 (minutes and seconds).")
        with self._rooms.db.write() as connection:
            row, there = self._machine_closed(connection, hold)
            if recording not in ("", there):
                raise BadInput("That hold lies in another recording. Nothing was changed.", "See the list of closed stretches.")
            for start_ms, end_ms in limits:
                if end_ms <= start_ms:
                    raise BadInput("A stretch must end after it starts.", "Write the times as 1:16 (minutes and seconds).")
                stretch = custody.snap_outwards(connection, stretch_within(connection, there, start_ms, end_ms))
                if not stretch.overlaps(Stretch(row.recording_id, row.start_ms, row.end_ms)):
                    raise BadInput("These limits lie outside what was closed.", "To close something else: `toldhere agreements seal`.")
                self._add_seal(connection, viewer, stretch, RestraintKind.SEALED, until + timedelta(days=1) if until else None, reason)
            self._open(connection, viewer, hold, reason)

    def _machine_closed(self, connection: Connection, hold: int) -> tuple[Row[Any], str]:
        row = consent_rows.restraint_by_id(connection, hold)
        if row is None or not row.rule or row.kind != RestraintKind.SEALED.value:
            raise NotFound("There is no such stretch that our own computer closed.", "See the list of what may have been said off the record.")
        if not any(r.id == hold and r.holds_on(self._rooms.today()) for r, _, _ in consent_rows.stretch_holds(connection)):
            raise Clash("Somebody has decided about this stretch already.", "Load the page again.")
        return row, recordings.by_id(connection, row.recording_id).code

    def _open(self, connection: Connection, viewer: Viewer, hold: int, reason: str) -> None:
        consent_rows.add_release(
            connection, restraint_id=hold, kind=ReleaseKind.LIFTED, from_on=self._rooms.today(), reason=reason, by=viewer.name, at=self._rooms.now()
        )
        audit.record(connection, viewer.name, "hold lifted", f"restraint {hold}", self._rooms.now())

    # -- what people decide later ------------------------------------------------------------------------------
    def withdraw(
        self, viewer: Viewer, code: str, use: str = "", interview: str = "", how: str = "", stretch: str = ""
    ) -> WithdrawalReport:
        """One action: permissions end, jobs stop, finding stops with the commit, and what already went out is listed.

        Everything of theirs, or one use, one interview, one stretch (TW-01.1@1:16-1:25).
        """
        need(viewer, *KEEPER)
        return self._hold(viewer, RestraintKind.WITHDRAWN, code, use, interview, how, stretch)

    def pause(self, viewer: Viewer, code: str, how: str = "") -> WithdrawalReport:
        """Somebody thinks it over: everything of theirs is held until it is lifted."""
        need(viewer, *EDITORS)
        return self._hold(viewer, RestraintKind.PAUSED, code, "", "", how, "")

    def _hold(
        self, viewer: Viewer, kind: RestraintKind, code: str, use: str, interview: str, how: str, stretch: str
    ) -> WithdrawalReport:
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            person = people.by_code(connection, code)
            if person is None:
                raise NotFound("There is no such person on record.")
            held_interview = recordings.find_interview(connection, interview) if interview else None
            if interview and held_interview is None:
                raise NotFound("There is no such interview.")
            if use:
                consent_rows.load_use(connection, use)
            held_stretch = custody.snap_outwards(connection, stretch_named(connection, stretch)) if stretch else None
            self._must_take_part(connection, person.id, held_interview, held_stretch)
            restraint_id = consent_rows.add_restraint(
                connection, kind=kind, person_id=person.id, stretch=held_stretch, from_on=self._rooms.today(), use=use or None,
                interview_id=held_interview.id if held_interview is not None else None, how=how, by=viewer.name, at=now,
            )  # fmt: skip
            mine = [r for t in people.interviews_of(connection, person.id) for r in recordings.of_interview(connection, t.id)]
            touched = [r for r in mine if held_interview is None or r.interview_id == held_interview.id]
            themes.forget_taught(connection, [r.id for r in touched])
            naming: set[int] = set()
            if held_stretch is not None:
                touched = [r for r in touched if r.id == held_stretch.recording_id]
                index_recording(connection, held_stretch.recording_id, self._rooms.context())
            elif not use:  # their name goes with them, in what others say as well
                naming = self._hide_names(connection, person.id)
            stopped = 0
            if not use or use == "machine":
                stopped = jobs.stop_of_recordings(connection, [r.code for r in touched], "Stopped: consent changed.", now)
            if not use or use in ("machine", "team"):  # copies for listening go, as any cached sound; what may be heard is cut from the master
                for row in touched:
                    self._rooms.derived.remove(recordings.master_of(connection, row.id).sha256)
            flagged = self._flagged(connection, {r.id for r in touched} | naming)
            out = left_rows(Readings(connection, self._rooms.context()), excerpts.register(connection, person_id=person.id))
            audit.record(
                connection, viewer.name, kind.value, f"restraint {restraint_id}", now, person=person.id,
                use=use, interview=interview, jobs=stopped, excerpts=len(flagged), exports=[o.export for o in out],
            )  # fmt: skip
        what = stretch or interview or "everything"
        scope = f"of {what} for {use}" if use else f"of {what}"
        return WithdrawalReport(code, scope, stopped, flagged, out, CANNOT)

    def _must_take_part(self, connection: Connection, person_id: int, interview: Row[Any] | None, stretch: Stretch | None) -> None:
        """Raises BadInput where a hold would have no effect: the person has neither a part nor an agreement there."""
        papers = consent_rows.load_standings(connection, [person_id])[person_id].agreements
        mine = {t.id for t in people.interviews_of(connection, person_id)} | {a.interview_id for a in papers if a.interview_id}
        aimed = {interview.id} if interview is not None else set()
        if stretch is not None:
            aimed |= {r.interview_id for r in recordings.everything(connection) if r.id == stretch.recording_id}
        if len(aimed) > 1:
            raise BadInput("That stretch does not lie in that interview. Nothing was changed.", "Name one of the two.")
        if not aimed <= mine:
            raise BadInput(
                "This person takes no part in that interview, so there is nothing of theirs to hold. Nothing was changed.",
                "Name their own interview or stretch. Who is only spoken about objects: `toldhere agreements object`.",
            )

    def _hide_names(self, connection: Connection, person_id: int) -> set[int]:
        """Index anew whatever names somebody, after a hold on them began or ended; returns the recordings."""
        naming = mentions.recordings_of(connection, person_id)
        for recording_id in naming:
            index_recording(connection, recording_id, self._rooms.context())
        return naming

    def object(self, viewer: Viewer, code: str, how: str = "", stretch: str = "") -> WithdrawalReport:
        """Somebody who is spoken about objects: every utterance that names them, or one stretch, is held until decided."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            person = people.by_code(connection, code)
            if person is None:
                raise NotFound("There is no such person on record.")
            if stretch:
                held = [stretch_named(connection, stretch)]
            else:
                held = custody.utterances_naming(connection, person.id, self._rooms.context())
            if not held:
                raise NotFound("Nothing on record names this person.", "Name the stretch that they object to (TW-01.1@1:16-1:25).")
            for one in held:
                self._close(connection, viewer, one, RestraintKind.OBJECTED, None, how, raised_by_id=person.id)
            flagged = self._flagged(connection, {s.recording_id for s in held})
            quoting = [r.id for r in excerpts.chosen(connection) if r.code in flagged]
            left = {o.id: o for quote in quoting for o in excerpts.register(connection, excerpt_id=quote)}
            out = left_rows(Readings(connection, self._rooms.context()), list(left.values()))
        return WithdrawalReport(code, f"to {len(held)} stretches", 0, flagged, out, CANNOT)

    def _flagged(self, connection: Connection, recording_ids: set[int]) -> tuple[str, ...]:
        """Chosen excerpts of these recordings that may not leave for their use any more."""
        readings = Readings(connection, self._rooms.context())
        rows = [r for r in excerpts.chosen(connection) if r.recording_id in recording_ids]
        return tuple(r.code for r in rows if not Pinned(readings, r).decide(r.use, Way.WORDS).allowed)

    def lift(self, viewer: Viewer, restraint_id: int, reason: str, reviewed: bool = False, person: str = "") -> None:
        """End a hold, or say that one was reviewed at its end. A reason is required and kept.

        `person`: on whose page it is lifted; NotFound unless it is theirs or lies on what they take part in.
        """
        need(viewer, *KEEPER)
        kind = ReleaseKind.REVIEWED if reviewed else ReleaseKind.LIFTED
        with self._rooms.db.write() as connection:
            hold = consent_rows.restraint_by_id(connection, restraint_id)
            whose = people.by_code(connection, person) if person else None
            if hold is None or (person and (whose is None or not concerns(connection, whose.id, hold))):
                raise NotFound("There is no such hold.", "See the holds on the person's own page.")
            consent_rows.add_release(
                connection, restraint_id=restraint_id, kind=kind, from_on=self._rooms.today(), reason=reason,
                by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
            if hold.person_id is not None:
                self._hide_names(connection, hold.person_id)
            audit.record(connection, viewer.name, f"hold {kind.value}", f"restraint {restraint_id}", self._rooms.now())

    def approve(
        self, viewer: Viewer, excerpt: str, person: str, answer: Answer, way: Way = Way.WORDS, given_by: str = "", language: str = ""
    ) -> None:  # fmt: skip
        """Put a speaker's word on one excerpt's exact wording on record. `given_by`: who gave it for them, on record as speaking for them;
        `language`: in which it was put to them, as a tag or in English."""
        need(viewer, *EDITORS)
        put_in = languages.tag(language) if language else ""
        with self._rooms.db.write() as connection:
            row, who = excerpts.by_code(connection, excerpt), people.by_code(connection, person)
            if row is None or who is None:
                raise NotFound("There is no such excerpt or person.")
            giver = self._speaker(connection, who.id, given_by) if given_by not in ("", person) else None
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
            if row is None:
                raise NotFound("There is no such excerpt.")
            who = interpreters_of(Readings(connection, self._rooms.context()), row)
            if not who:
                raise BadInput("These are no interpreter's words, so there is nothing to compare. Nothing was changed.")
            if viewer.name in who:
                raise BadInput("Who interpreted cannot be the second pair of ears. Nothing was changed.", "Ask somebody else who speaks the language.")
            interpreted.add_check(connection, row.wording_sha256, viewer.name, self._rooms.now())
            audit.record(connection, viewer.name, "interpretation checked", f"excerpt {row.id}", self._rooms.now(), wording=row.wording_sha256)

    def _speaker(self, connection: Connection, person_id: int, code: str) -> int:
        """Whoever speaks for a person, by code. Raises BadInput where nobody put that on record."""
        (standing,) = consent_rows.load_standings(connection, [person_id]).values()
        found = next((s.other_id for s in standing.speakers if s.code == code and s.on(self._rooms.today())), None)
        if found is None:
            raise BadInput(f"{code} is not on record as speaking for {standing.code}. Nothing was changed.", "First: `toldhere people spokesperson`.")
        return found
