"""Agreements on paper: forms to print, scans of what was signed, stretches in which it is spoken, and who is to be asked again."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from archive.db import accounts, audit, consent_rows, contacts, papers, people, reach, recordings, uses
from archive.db.session import Connection
from archive.db.session import Row as Found
from archive.domain import phrases
from archive.domain.agreements import AgreementForm, Copyright, Relation, Standing
from archive.domain.papers import Again, differences, to_ask
from archive.domain.printed import BEFORE, Form, FormKind, Paragraph, Size, Written
from archive.domain.sheetcode import Coded, read_code
from archive.domain.values import Part, Stretch, Use, Viewer
from archive.errors import BadInput, Clash, NotFound
from archive.files.masters import Masters
from archive.gate.paper import MOST_BYTES, scan_of
from archive.services.agreement_rows import AGREED_BY
from archive.services.letters import full_name, letter_to, new_code, words_of
from archive.services.people import People
from archive.services.reaching import person_named, person_of
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import AgreementPage, AskedAgain, AskRow, FormRow, PaperRow

EARLIEST = (1980, 1, 1, 0, 0, 0)  # that a zip can hold (APPNOTE 4.4.6)
MOST_LABEL = 60  # letters of a use
PAPERS = "papers"  # folder below the archive's own
NOT_OURS = ("No form of this archive has that code.", "Look at the paper again; it may belong to another archive. Nothing was kept.")
CAUTION = "Not legal advice: local law and your institution's own counsel decide. No answer is a no."


class Papers:
    """Forms, signed papers and letters of one archive."""

    def __init__(self, rooms: Rooms, everybody: People) -> None:
        self._rooms, self._people = rooms, everybody

    @property
    def _store(self) -> Masters:
        return Masters(self._rooms.folder / PAPERS)

    # -- forms -------------------------------------------------------------------------------------------------
    def form(
        self, viewer: Viewer, whom: str, kind: str = "", interview: str = "", language: str = "", size: str = Size.A4, large: bool | None = None
    ) -> Written:
        """A form for somebody on record, or a helper's undertaking for an account; nothing is ticked. `kind` "": what is next for them.

        `language` "" and `large` None: as they read, by what is on record. Raises NotFound, BadInput.
        """
        need(viewer, *EDITORS)
        wanted, paper = _choice(kind, FormKind, "form"), _choice(size, Size, "size of paper") or Size.A4
        with self._rooms.db.write() as connection:
            person = person_of(connection, viewer, whom)
            if person is None:
                return self._for_account(connection, viewer, whom, wanted, language or "en", paper, bool(large))
            held = recordings.find_interview(connection, interview) if interview else None
            if interview and held is None:
                raise NotFound("There is no such interview.", "Look at its code again.")
            taken = people.interviews_of(connection, person.id)
            helper = not taken and accounts.by_name(connection, whom) is not None
            wanted = wanted or (FormKind.HELPER if helper else _next_form(taken, connection))
            narrated = [t for t in taken if t.role == Part.NARRATOR]
            if held is None and wanted == FormKind.RECORDING and len(narrated) == 1:
                held = recordings.find_interview(connection, narrated[0].code)
            contact = contacts.of(connection, person.id)
            made = self._print(connection, viewer, wanted, person, held, (), language or contact.language, paper, contact.large if large is None else large)
        return replace(made, notes=contact.notes())

    def _for_account(self, connection: Connection, viewer: Viewer, whom: str, kind: FormKind | None, language: str, size: Size, large: bool) -> Written:
        if kind not in (None, FormKind.HELPER) or accounts.by_name(connection, whom) is None:
            raise NotFound("There is no such person on record, and no such account.", "See the list of people; a helper's undertaking is printed for an account as well.")
        return self._print(connection, viewer, FormKind.HELPER, None, None, (), language, size, large, whom)

    def _print(
        self, connection: Connection, viewer: Viewer, kind: FormKind, person: Found[Any] | None, interview: Found[Any] | None,
        only: Sequence[str], language: str, size: Size, large: bool, account: str = "",
    ) -> Written:  # fmt: skip
        from archive.render.form import form_pdf  # a fifth of a second, which every worker's start would wait for

        wording = words_of(self._rooms, language)
        asked = tuple(
            use for use in uses.every_use(connection).values()
            if kind.asks and (not only or use.code in only) and (kind != FormKind.PARTICIPATION or use.code in BEFORE)
        )  # fmt: skip
        code = new_code(Coded.FORM)
        while papers.form_by_code(connection, code) is not None:
            code = new_code(Coded.FORM)
        today = self._rooms.today()
        about = ""
        if interview is not None:
            about = interview.code + (f", {wording.day(interview.held_on)}" if interview.held_on else "")
        form = Form(
            code, kind, self._rooms.options.name, self._rooms.options.exhibition, full_name(connection, person.id) if person is not None else account,
            about, person is not None and person.adult_by is not None and person.adult_by <= today, asked, today,
        )  # fmt: skip
        data = form_pdf(form, wording, size, large)
        number = papers.add_form(
            connection, code=code, kind=kind.value, person_id=person.id if person is not None else None,
            interview_id=interview.id if interview is not None else None, account=account, language=wording.language, uses=[use.code for use in asked],
            exhibition=self._rooms.options.exhibition, by=viewer.name, at=self._rooms.now(),
        )  # fmt: skip
        audit.record(connection, viewer.name, "form printed", f"form {number}", self._rooms.now(), kind=kind.value, uses=len(asked))
        return Written(f"form-{code}.pdf", data, (), code)

    def found(self, viewer: Viewer, typed: str) -> FormRow:
        """The form of a code, as it was typed or scanned. Raises BadInput, NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return self._form_row(connection, self._form(connection, viewer, typed))

    def forms(self, viewer: Viewer, code: str = "") -> tuple[FormRow, ...]:
        """Every form that was printed, or those for somebody, the newest first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            person, shut = person_named(connection, viewer, code).id if code else None, reach.of(connection, viewer).people
            return tuple(self._form_row(connection, row) for row in papers.forms(connection, person) if row.person_id not in shut)

    def _form(self, connection: Connection, viewer: Viewer, typed: str) -> Found[Any]:
        row = papers.form_by_code(connection, read_code(typed, Coded.FORM))
        if row is None or row.person_id in reach.of(connection, viewer).people:
            raise NotFound(*NOT_OURS)
        return row

    def _form_row(self, connection: Connection, row: Found[Any]) -> FormRow:
        person = people.codes_by_id(connection).get(row.person_id, "")
        interview = next((i.code for i in recordings.interviews(connection) if i.id == row.interview_id), "")
        return FormRow(row.code, row.kind, person or row.account, interview, row.language, phrases.day(row.at), tuple(map(_paper_row, papers.of_form(connection, row.id))))

    # -- what was signed -----------------------------------------------------------------------------------------
    def attach(self, viewer: Viewer, source: Path, to: str, form: str = "") -> str:
        """Keep the scan of a signed paper under its checksum: `to` an agreement, or the code on the form; `form`: that code beside an agreement.

        Returns what was done, in a sentence. Raises BadInput for what is no scan (other kinds, locked, damaged, too large), NotFound, Clash.
        """
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            self._meant(connection, viewer, to, form)
        extension, pages = scan_of(source)
        with self._rooms.db.write() as connection:
            agreement, printed = self._meant(connection, viewer, to, form)
            taken = self._store.take(source, extension, MOST_BYTES)
            there = papers.of_agreement(connection, agreement.id) if agreement is not None else papers.of_form(connection, printed.id) if printed is not None else []
            if any(row.sha256 == taken.sha256 for row in there):
                return f"This very scan was attached to {to} before; nothing changed."
            number = papers.add_paper(
                connection, agreement_id=agreement.id if agreement is not None else None, form_id=printed.id if printed is not None else None,
                sha256=taken.sha256, bytes=taken.bytes, extension=extension, pages=pages, by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
            audit.record(connection, viewer.name, "paper attached", f"paper {number}", self._rooms.now(), sha256=taken.sha256, pages=pages)
        kept = f"Kept: {phrases.many(pages, 'page')}, SHA-256 {taken.sha256[:12]}…"
        if agreement is None and printed is not None and FormKind(printed.kind).asks:
            return f"{kept} Next, record what was ticked: `toldhere agreements add CODE --person PERSON --paper {printed.code} …`. Until then it allows nothing."
        return kept

    def _meant(self, connection: Connection, viewer: Viewer, to: str, form: str) -> tuple[Found[Any] | None, Found[Any] | None]:
        """The agreement and the form that a scan is of. A code that looks like a form's is one."""
        agreement = _agreement(connection, viewer, to)
        if agreement is None and not to.strip().upper().startswith(f"{Coded.FORM}-"):
            raise NotFound("There is no such agreement.", "See `toldhere agreements list`, or name the code on the form. Nothing was kept.")
        printed = self._form(connection, viewer, form or to) if form or agreement is None else None
        if agreement is not None and printed is not None and printed.person_id not in (agreement.person_id, agreement.spoken_for_by_id):
            raise Clash("That form was printed for somebody else than who agreed.", "Look at both codes again. Nothing was kept.")
        if agreement is not None and printed is not None and AGREED_BY.get(FormKind(printed.kind)) != agreement.kind:
            raise Clash(f"That code is on another kind of paper ({phrases.form_kind(printed.kind)}) than this agreement.", "Look at both codes again. Nothing was kept.")
        if agreement is not None and agreement.form == AgreementForm.SPOKEN.value:
            raise Clash("That agreement is on record as spoken.", "If they signed a paper later, that is a new version: add it with --supersedes. Nothing was kept.")
        return agreement, printed

    def spoken(self, viewer: Viewer, code: str, stretch: str) -> str:
        """Point at the stretch in which an agreement is spoken (TW-01.1@0:10-0:25); it can be played from the agreement's page."""
        need(viewer, *KEEPER)
        where, start_ms, end_ms = phrases.stretch(stretch)
        with self._rooms.db.write() as connection:
            agreement = _agreement(connection, viewer, code)
            if agreement is None:
                raise NotFound("There is no such agreement.", "See `toldhere agreements list`.")
            if agreement.copyright == Copyright.ASSIGNED.value:
                raise BadInput("Copyright can be assigned only by a signed paper.", "Attach the scan of it, or record the copyright as kept or licensed in a new version.")
            if agreement.form != AgreementForm.SPOKEN.value:
                raise Clash("That agreement is on record as signed on paper.", "Attach its scan; what was spoken is an agreement of its own, with --form spoken.")
            recording = recordings.named(connection, where)
            if end_ms > recording.duration_ms:
                raise NotFound("The recording ends before that.", f"It lasts until {phrases.exact(recording.duration_ms)}.")
            if agreement.person_id not in people.participants(connection, recording.interview_id):
                raise Clash("Who agreed does not take part in that recording.", "Point at a recording in which they are heard. Nothing was kept.")
            there = Stretch(recording.id, start_ms, end_ms)
            number = papers.add_paper(
                connection, agreement_id=agreement.id, recording_id=there.recording_id, start_ms=there.start_ms, end_ms=there.end_ms,
                by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
            audit.record(connection, viewer.name, "spoken agreement pointed at", f"paper {number}", self._rooms.now(), recording=recording.id, start_ms=start_ms, end_ms=end_ms)
        return f"{code} is spoken at {where}@{phrases.from_to(start_ms, end_ms)}. Listen to it from its page."

    def agreement(self, viewer: Viewer, code: str) -> AgreementPage:
        """One agreement: its answers, what it rests on, and what it says otherwise than the version before. Raises NotFound."""
        page = self._people.agreement(viewer, code)
        with self._rooms.db.read() as connection:
            row = papers.agreement_row(connection, code)
            assert row is not None
            standing = consent_rows.load_standings(connection, [row.person_id])[row.person_id]
            labels = {use.code: use.label for use in uses.every_use(connection).values()}
            mine = {a.id: a for a in standing.agreements}
            before = papers.agreement_by_id(connection, row.supersedes_id) if row.supersedes_id is not None else None
            changed = differences(mine[before.id], mine[row.id], labels) if before is not None else ()
            if before is not None and before.copyright != row.copyright:
                changed = (*changed, f"Copyright: was {before.copyright}, is {row.copyright}")
            part = mine[row.id].stretch
            covers = f"{recordings.by_id(connection, part.recording_id).code}@{phrases.from_to(part.start_ms, part.end_ms)}" if part is not None else ""
            return replace(
                page, number=row.number, form=row.form, copyright=row.copyright, covers=covers, before=before.code if before is not None else "",
                papers=tuple(map(_paper_row, papers.of_agreement(connection, row.id))), differences=changed,
            )  # fmt: skip

    def scan(self, viewer: Viewer, sha256: str) -> tuple[str, bytes]:
        """A scan, by its checksum: the name of its file, which names nobody, and its bytes. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = papers.by_sum(connection, sha256)
            if row is not None and papers.whose(connection, row) & reach.of(connection, viewer).people:
                row = None
            path = self._store.find(sha256) if row is not None else None
            if row is None or path is None:
                raise NotFound("There is no such scan.", "See the agreement's page.")
            audit.record(connection, viewer.name, "paper read", f"paper {row.id}", self._rooms.now())
        return f"paper-{row.form or row.id}.{row.extension}", path.read_bytes()

    def faults(self, fixity: bool) -> tuple[str, ...]:
        """Scans that are missing and, with `fixity`, those that were changed since they were attached, in sentences."""
        with self._rooms.db.read() as connection:
            wanted = papers.sums(connection)
        missing = [sha256 for sha256, _ in wanted if self._store.find(sha256) is None]
        read = [self._store.verify(sha256, extension) for sha256, extension in wanted if sha256 not in missing] if fixity else []
        return (
            *(f"The scan {sha256[:12]}… of a signed paper is missing." for sha256 in missing),
            *(f"The scan {one.expected[:12]}… of a signed paper was changed." for one in read if not one.whole),
        )

    # -- the archive's own list of uses ----------------------------------------------------------------------------
    def add_use(self, viewer: Viewer, code: str, label: str) -> Use:
        """Add a use to the list. Nobody was asked about it, so nobody allows it yet. Raises BadInput, Clash."""
        need(viewer, *KEEPER)
        written = label.strip()
        if not re.fullmatch(r"[a-z][a-z_]{1,29}", code) or not 2 < len(written) <= MOST_LABEL:
            raise BadInput("A use has a code of small letters and _, and a label of words.", f"Write for instance: audio_guide “audio guide” ({MOST_LABEL} letters at most).")
        with self._rooms.db.write() as connection:
            known = uses.every_use(connection).values()
            if any(code == use.code or written.casefold() == use.label.casefold() for use in known):
                raise Clash("There is such a use already.", "See the list of uses.")
            use = Use(code, written)
            uses.add_use(connection, use)
            audit.record(connection, viewer.name, "use added", f"use {code}", self._rooms.now())
        return use

    # -- asked again -----------------------------------------------------------------------------------------------
    def ask_again(self, viewer: Viewer, use: str, through: date | None = None) -> AskedAgain:
        """Who must be asked before this use runs through a day (None: from today on), and who need not or must not be, with the reason."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            wanted = consent_rows.load_use(connection, use)
            return AskedAgain(wanted.label, through, tuple(row for row, *_ in self._asked(connection, viewer, wanted, through)), CAUTION)

    def letters_again(self, viewer: Viewer, use: str, through: date | None = None, size: str = Size.A4) -> Written:
        """The letters and forms for everybody who is to be asked again, as one ZIP whose names tell nothing, with the list of whose they are."""
        need(viewer, *EDITORS)
        paper = _choice(size, Size, "size of paper") or Size.A4
        with self._rooms.db.read() as connection:
            wanted = consent_rows.load_use(connection, use)
            asked = [row for row in self._asked(connection, viewer, wanted, through) if row[2]]
        if not asked:
            raise NotFound("Nobody is to be asked again.", "Everybody answered already, or may not be written to; the list says which.")
        made = io.BytesIO()
        lines = []
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
            for row, person_id, to_id in asked:
                with self._rooms.db.write() as connection:  # one each: nobody waits until all are printed
                    form, letter = self._pair(connection, viewer, wanted, person_id, to_id, through, paper)
                for one in (form, letter):
                    packed.writestr(zipfile.ZipInfo(one.name, date_time=EARLIEST), one.data)
                lines += [f"{row.person}: {letter.name} to {row.to}, {form.name}. {row.why}", *(f"    {note}" for note in letter.notes)]
            packed.writestr(zipfile.ZipInfo("list.txt", date_time=EARLIEST), "\n".join([*lines, "", "For the team: delete this list when the letters are out.", CAUTION, ""]))
        return Written(f"ask-again-{self._rooms.today().isoformat()}.zip", made.getvalue(), (), "")

    def _pair(self, connection: Connection, viewer: Viewer, use: Use, person_id: int, to_id: int, through: date | None, size: Size) -> tuple[Written, Written]:
        """The form and the letter that asks for it, in the language of who reads them."""
        contact = contacts.of(connection, to_id)
        wording = words_of(self._rooms, contact.language)
        person = next(p for p in people.everyone(connection) if p.id == person_id)
        form = self._print(connection, viewer, FormKind.RECORDING, person, None, (use.code,), contact.language, size, contact.large)
        title, meaning = wording.use(use.code, use.label)
        options = self._rooms.options
        heading, asked, end = (wording("again", key) for key in ("heading", "asked", "end"))
        points = tuple(point.format(code=form.reference) for point in wording.some("again", "points"))
        new = wording("again", "new").format(archive=options.name, use=title, meaning=meaning)
        longer = [wording("again", "longer").format(exhibition=options.exhibition, day=wording.day(through))] if through else []
        for_other = [wording("again", "for_other").format(name=full_name(connection, person_id))] if to_id != person_id else []
        said: list[Paragraph] = [*for_other, new, *longer, asked, points, end]
        letter = letter_to(
            connection, self._rooms, viewer.name, to_id, heading, said, about=(person_id,), fixed=(heading, new, *longer, asked, *points, end),
            language=contact.language, size=size,
        )  # fmt: skip
        return form, letter

    def _asked(self, connection: Connection, viewer: Viewer, use: Use, through: date | None) -> Iterable[tuple[AskRow, int, int]]:
        """A row for everybody who takes part, with their id and the id of whom the letter goes to (0: nobody is written to)."""
        today, codes = self._rooms.today(), people.codes_by_id(connection)
        part, shut = people.parts_of(connection), reach.of(connection, viewer).people
        rows = {row.id: row for row in people.everyone(connection) if row.code in part and not row.erased_at and row.id not in shut}
        standings = consent_rows.load_standings(connection, rows)
        known = contacts.everything(connection)
        for person_id, standing in sorted(standings.items(), key=lambda item: item[1].code):
            asked = to_ask(standing, use.code, use.label, self._rooms.options.exhibition, today, through or today)
            to_id, why = self._whom(rows[person_id], standing, asked.what, asked.why, today)
            contact = known.get(to_id) or contacts.of(connection, to_id) if to_id else None
            yield AskRow(standing.code, asked.what.value, why, codes.get(to_id, ""), contact.notes() if contact is not None else ()), person_id, to_id

    def _whom(self, person: Found[Any], standing: Standing, what: Again, why: str, today: date) -> tuple[int, str]:
        """Whom the letter goes to: themselves, a minor's guardian; nobody for somebody who died, since an heir may narrow and never widen."""
        if what != Again.ASK:
            return 0, why
        if person.died:
            return 0, f"{why} They died: their own answers stand. An heir may allow less, and more only where they said so; write to nobody unless they did."
        minor = person.adult_by is not None and person.adult_by > today
        relation = Relation.GUARDIAN if minor else Relation.DEPUTY
        newest = {row.other_id: row for row in standing.speakers if row.relation == relation}  # the newest row of the same two counts
        speaking = [other_id for other_id, row in newest.items() if row.on(today)]
        speaking += [
            a.spoken_for_by_id for a in standing.agreements
            if a.relation == relation and a.spoken_for_by_id is not None and a.spoken_for_by_id not in newest and not standing.superseded(a, today)
        ]  # fmt: skip
        if minor and not speaking:
            return 0, f"{why} They may be under 18, and no guardian is on record: find out whom to ask."
        if speaking:
            return speaking[-1], f"{why} The letter goes to who speaks for them; they are asked as well, and their no counts."
        return int(person.id), why


def _next_form(taken: Sequence[Found[Any]], connection: Connection) -> FormKind:
    """What somebody is asked next: who only asks or interprets once for all; a narrator before the first recording, then after it."""
    narrated = {t.id for t in taken if t.role == Part.NARRATOR}
    if taken and not narrated:
        return FormKind.STANDING
    recorded = {r.interview_id for r in recordings.everything(connection)}
    return FormKind.RECORDING if narrated & recorded else FormKind.PARTICIPATION


def _paper_row(row: Found[Any]) -> PaperRow:
    return PaperRow(
        row.sha256, row.extension, row.pages, row.bytes, row.form or "", row.recording or "", row.start_ms or 0, row.end_ms or 0, f"{row.by}, {phrases.day(row.at)}"
    )


def _agreement(connection: Connection, viewer: Viewer, code: str) -> Found[Any] | None:
    """An agreement by code; None for none, and for one of somebody who is not to be opened by this account."""
    row = papers.agreement_row(connection, code)
    return row if row is not None and row.person_id not in reach.of(connection, viewer).people else None


def _choice(text: str, kind: Any, called: str) -> Any:
    """One of a list, or None where nothing is named. Raises BadInput with the list."""
    if not text:
        return None
    try:
        return kind(text.lower())
    except ValueError:
        raise BadInput(f"There is no such {called}.", f"Use one of: {', '.join(kind)}.") from None

