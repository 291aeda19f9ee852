"""Quotes that go to their speaker first: the sheet on which they are put, and what comes back."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from archive.db import audit, consent_rows, contacts, excerpts, reviews, uses
from archive.db.session import Connection, Row
from archive.domain import languages, phrases
from archive.domain.cleared import ClearedReview
from archive.domain.printed import Size, Written
from archive.domain.quoting import wording_of_later
from archive.domain.sheetcode import Coded, read_code
from archive.domain.values import Answer, Viewer, Way
from archive.errors import BadInput, Clash, NotFound, Refused, ScanRefused
from archive.gate.beyond import excerpt_named
from archive.gate.in_translation import to_approve
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.gate.reviewed import (
    Put,
    changed_since,
    holds_a_name_of_others,
    lacks_their_yes,
    put,
    show_later,
    speaks_in,
)
from archive.gate.scan import matcher_for, scan_with
from archive.services.letters import full_name, new_code, words_of
from archive.services.reaching import codes_beyond, person_named
from archive.services.review_rows import QuestionRow, ReviewRow
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.spokespeople import speaker_for
from archive.services.work import STAGING

DAYS_TO_ANSWER = 28  # project choice
MOST_QUOTES = 60
MOST_LETTERS = 4000  # of a later wording
CHANGE = "change"
ERASED = "erased"  # what was asked about is gone, and so is the answer
ANSWERS = (Answer.YES.value, Answer.NO.value, CHANGE)
NOT_OURS = ("No sheet of this archive has that code.", "Look at the paper again; it may belong to another archive. Nothing was kept.")
CAUTION = "No answer is no. Not legal advice: local law and your institution's own counsel decide."
TOLD = "What they wrote is not lost: the paper stays theirs, and nothing that is on record changed."


class Reviews:
    """Sheets of quotes of one archive, and their answers."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- the sheet ---------------------------------------------------------------------------------------------
    def sheet(
        self, viewer: Viewer, person: str, codes: Sequence[str] = (), answer_by: date | None = None, size: str = Size.A4,
        large: bool | None = None, language: str = "",
    ) -> Written:  # fmt: skip
        """A sheet for a speaker with these quotes as they will stand, to be answered by a day; from now on each of them waits, and no answer is
        no. `codes` (): every chosen quote that lacks nothing but their yes. `language` "" and `large` None: as they read.

        Raises NotFound; BadInput for a day that is over; Refused where nothing can be asked, with every reason; ScanRefused.
        """
        need(viewer, *EDITORS)
        today = self._rooms.today()
        by = answer_by or today + timedelta(days=DAYS_TO_ANSWER)
        if by <= today:
            raise BadInput("They have to have time to answer: that day is today, or over. Nothing was printed.", "Name a later day.")
        if size not in set(Size):
            raise BadInput("That is no size of paper that we print on.", f"Use one of: {', '.join(Size)}.")
        with self._rooms.db.write() as connection:
            who = person_named(connection, viewer, person)
            made = put(Readings(connection, self._rooms.context()), who.id, self._rows(connection, who, codes))
            if not made.questions:
                raise Refused("None of these quotes can be put to them.", _told(made) or ("No chosen quote of theirs waits for their yes.",), "Nothing was printed.")
            contact = contacts.of(connection, who.id)
            wording = words_of(self._rooms, language or contact.language)
            code = _new_code(connection, made.review)
            name = contact.called or full_name(connection, who.id)
            data = self._printed(connection, made.review, code, name, by, wording, Size(size), contact.large if large is None else large)
            number = reviews.add_sheet(
                connection, [_kept(q) for q in made.questions], code=code, person_id=who.id, language=wording.language, answer_by=by,
                by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
            audit.record(connection, viewer.name, "quotes put to their speaker", f"review {number}", self._rooms.now(), person=who.id, questions=len(made.questions), reference=code)
        return Written(f"review-{code}.pdf", data, (*contact.notes(), *(f"Not on the sheet: {why}" for why in _told(made)), CAUTION), code)

    def _rows(self, connection: Connection, who: Row[Any], codes: Sequence[str]) -> list[Row[Any]]:
        if codes:
            if len(codes) > MOST_QUOTES:
                raise BadInput(f"At most {MOST_QUOTES} quotes fit on one sheet. Nothing was printed.", "Make two.")
            rows = [excerpts.named(connection, code) for code in dict.fromkeys(codes)]
            aside = [row.code for row in rows if row.set_aside_at is not None]
            if aside:
                raise Clash(f"{', '.join(aside)}: set aside. Nothing was printed.", "Put it on the list again first.")
            return rows
        readings = Readings(connection, self._rooms.context())
        mine = [row for row in excerpts.chosen(connection) if who.id in speaks_in(readings, row)]
        return [row for row in mine if any(lacks_their_yes(readings, row, who.code, way) for way in (Way.WORDS, Way.VOICE))][:MOST_QUOTES]

    def _printed(self, connection: Connection, review: ClearedReview, code: str, name: str, by: date, wording: Any, size: Size, large: bool) -> bytes:
        """The paper, read back like all that leaves. Raises ScanRefused."""
        from archive.render.review import (  # a fifth of a second, which every start of a worker would wait for
            Head,
            review_pdf,
        )

        head = Head(code, self._rooms.options.name, name, by, self._rooms.today())
        data = review_pdf(review, head, uses.every_use(connection), wording, size, large)
        allowed = (*review.allowed, name, self._rooms.options.name, self._rooms.options.exhibition)
        staging = self._rooms.folder / STAGING
        staging.mkdir(exist_ok=True)
        with tempfile.TemporaryDirectory(dir=staging) as folder:
            path = Path(folder) / "review.pdf"
            path.write_bytes(data)
            os.chmod(path, 0o600)
            findings = scan_with(matcher_for(review.forbidden, allowed), path)
        if findings:
            raise ScanRefused(
                "The last look at the sheet found something that must not leave. Nothing was printed.", tuple(f.sentence() for f in findings)
            )
        return data

    # -- what came back ------------------------------------------------------------------------------------------
    def list(self, viewer: Viewer, person: str = "") -> tuple[ReviewRow, ...]:
        """Every sheet, or those put to one person, the newest first. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = reviews.sheets(connection, person_named(connection, viewer, person).id if person else None)
            readings, shut = Readings(connection, self._rooms.context()), codes_beyond(connection, viewer)
            return tuple(self._row(readings, viewer, row) for row in rows if row.person not in shut)

    def found(self, viewer: Viewer, typed: str) -> ReviewRow:
        """The sheet of a code, as it was typed or scanned. Raises BadInput, NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return self._row(Readings(connection, self._rooms.context()), viewer, _sheet(connection, viewer, typed))

    def _row(self, readings: Readings, viewer: Viewer, sheet: Row[Any]) -> ReviewRow:
        connection = readings.connection
        items = reviews.questions(connection, sheet.id)
        said = reviews.answers(connection, [item.id for item in items])
        questions = tuple(_question(readings, viewer, item, excerpts.by_code(connection, item.excerpt), said.get(item.id)) for item in items)
        return ReviewRow(
            sheet.code, sheet.person, date.fromisoformat(sheet.at[:10]), sheet.answer_by, languages.name(sheet.language), questions,
            sheet.answer_by < self._rooms.today(),
        )  # fmt: skip

    def answer(self, viewer: Viewer, typed: str, number: int, answer: str, later: str = "", given_by: str = "", language: str = "") -> str:
        """Put an answer to a question on record: yes, no, or change with the speaker's later wording, which is kept apart. The newest answer
        counts. `given_by`: who answered for them, on record as speaking for them; `language`: in which it was put to them. Returns what it means.

        Raises BadInput, NotFound; Clash where a yes is for something that stands otherwise now: then nothing was kept.
        """
        need(viewer, *EDITORS)
        if answer not in ANSWERS:
            raise BadInput("That is no answer to a quote.", f"Use one of: {', '.join(ANSWERS)}.")
        later = " ".join(later.split())
        if (answer == CHANGE) is not bool(later) or len(later) > MOST_LETTERS:
            raise BadInput(f"“Change” comes with the words that they wrote, in at most {MOST_LETTERS} letters; yes and no come without. Nothing was kept.")
        with self._rooms.db.write() as connection:
            sheet = _sheet(connection, viewer, typed)
            item = next((i for i in reviews.questions(connection, sheet.id) if i.number == number), None)
            if item is None:
                raise NotFound(f"{sheet.code} has no question {number}.", "The number stands before each question. Nothing was kept.")
            if later and Way(item.way) != Way.WORDS:
                raise BadInput("A later wording stands in words only.", "Record it with the question about the words, and this one as no. Nothing was kept.")
            giver = speaker_for(connection, sheet.person_id, given_by, self._rooms.today()) if given_by not in ("", sheet.person) else None
            row = excerpts.named(connection, item.excerpt)
            if answer == Answer.YES:
                self._must_stand(connection, item, row)
            approval = self._approved(connection, viewer, sheet, item, row, Answer.YES if answer == Answer.YES else Answer.NO, giver, language)
            if later:
                self._say_later(connection, viewer, sheet, item, row, later, giver, language)
            kept = reviews.add_answer(
                connection, item_id=item.id, answer=answer, later=later, given_by_id=giver, approval_id=approval, by=viewer.name, at=self._rooms.now()
            )
            audit.record(
                connection, viewer.name, "quote answered", f"review {sheet.id}", self._rooms.now(), answer=answer, question=number, entry=kept,
                person=sheet.person_id, given_by=giver or sheet.person_id,
            )  # fmt: skip
            named = later and holds_a_name_of_others(Readings(connection, self._rooms.context()), row, later)
        return self._means(sheet, item, answer, bool(named))

    def _must_stand(self, connection: Connection, item: Row[Any], row: Row[Any]) -> None:
        """Raises Clash where a yes would be for something that was not on the sheet."""
        if row.set_aside_at is not None:
            raise Clash(f"{row.code} was set aside since the sheet was printed, so the yes was not kept.", TOLD)
        readings = Readings(connection, self._rooms.context())
        new = changed_since(readings, row, Way(item.way), item.wording_sha256, frozenset(item.stands))
        if new:
            raise Clash(f"{row.code} stands otherwise now than on this sheet: {', '.join(new)} came or changed. The yes was not kept.", f"Print a new sheet and ask again. {TOLD}")

    def _approved(
        self, connection: Connection, viewer: Viewer, sheet: Row[Any], item: Row[Any], row: Row[Any], answer: Answer, giver: int | None, language: str
    ) -> int:
        """The word on exactly what was on the sheet; a yes to a quote with its translation is one to being translated."""
        _, asked = to_approve(Pinned(Readings(connection, self._rooms.context()), row))
        numbers = [
            consent_rows.add_approval(
                connection, person_id=sheet.person_id, wording_sha256=item.wording_sha256, use=use, way=Way(item.way), answer=answer,
                from_on=self._rooms.today(), given_by_id=giver, language=languages.tag(language) if language else "", by=viewer.name, at=self._rooms.now(),
            )
            for use in (item.use, *(u for u in asked[1:] if Way(item.way) == Way.WORDS))
        ]  # fmt: skip
        return numbers[0]

    def _say_later(
        self, connection: Connection, viewer: Viewer, sheet: Row[Any], item: Row[Any], row: Row[Any], later: str, giver: int | None, language: str
    ) -> None:
        """What they wrote in place of it they wish to stand: their own word on exactly that, in words."""
        consent_rows.add_approval(
            connection, person_id=sheet.person_id, wording_sha256=wording_of_later(row.wording_sha256, later), use=item.use, way=Way.WORDS, answer=Answer.YES,
            from_on=self._rooms.today(), given_by_id=giver, language=languages.tag(language) if language else "", by=viewer.name, at=self._rooms.now(),
        )  # fmt: skip

    def _means(self, sheet: Row[Any], item: Row[Any], answer: str, named: bool) -> str:
        late = f" It came after {phrases.day(sheet.answer_by)}, until when no answer counted as no; from today it counts." if sheet.answer_by < self._rooms.today() else ""
        what = "in words" if Way(item.way) == Way.WORDS else "with the voice heard"
        if answer == CHANGE:
            hint = " It holds a name that must not stand there, so it does not leave: ask them for other words." if named else ""
            return f"On record. {item.excerpt} does not leave as it was said. Their later wording is kept apart; to show it: `toldhere review later {item.excerpt}`.{hint}{late}"
        if answer == Answer.NO:
            return f"On record. {item.excerpt} does not leave {what}, as it stands.{late}"
        return f"On record: yes to exactly this, {what}, for {item.use}. Any change of it voids the yes.{late}"

    def stand(self, viewer: Viewer, excerpt: str, later: bool) -> str:
        """Let an excerpt stand in the newest later wording of its speaker, marked as such and in words only, or in its own words again. Ticks of
        before do not count for it. Raises NotFound, and Refused where it holds a name that must not stand there."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = excerpt_named(Readings(connection, self._rooms.context()), viewer, excerpt)
            known = reviews.laters(connection, row.id)
            if later and not known:
                raise NotFound(f"The speaker of {row.code} gave no later wording.", "It comes back on a sheet: `toldhere review answer`.")
            if later and holds_a_name_of_others(Readings(connection, self._rooms.context()), row, known[-1].later):
                raise Refused("The later wording holds a name that must not stand there.", (), "Ask them for other words. Nothing was changed.")
            reviews.stand_in(connection, row.id, known[-1].id if later else None)
            audit.record(connection, viewer.name, "excerpt stands in", f"excerpt {row.id}", self._rooms.now(), later=known[-1].id if later else None)
        if later:
            return f"{row.code} stands in the speaker's later wording, and says so. No sound goes with it. Compare it with their paper before you tick it."
        return f"{row.code} stands as it was said."


def _sheet(connection: Connection, viewer: Viewer, typed: str) -> Row[Any]:
    row = reviews.by_code(connection, read_code(typed, Coded.REVIEW))
    if row is None or row.person in codes_beyond(connection, viewer):
        raise NotFound(*NOT_OURS)
    return row


def _new_code(connection: Connection, review: ClearedReview) -> str:
    """A code that no other sheet has, and in which whoever reads the paper back does not see anybody's initials."""
    matcher = matcher_for(review.forbidden)
    while True:
        code = new_code(Coded.REVIEW)
        if reviews.by_code(connection, code) is None and matcher.first_hit(code, any_case=True) is None:
            return code


def _told(made: Put) -> tuple[str, ...]:
    return tuple(f"{code}: {' '.join(why)}" for code, why in made.left_out)


def _kept(question: Any) -> dict[str, Any]:
    return {
        "number": question.number, "excerpt_id": question.excerpt_id, "use": question.use, "way": question.way.value,
        "wording_sha256": question.wording_sha256, "stands": list(question.stands),
    }  # fmt: skip


def _question(readings: Readings, viewer: Viewer, item: Row[Any], row: Row[Any] | None, said: Row[Any] | None) -> QuestionRow:
    if row is None or not row.spans:
        return QuestionRow(item.number, item.excerpt, item.use, item.way, ERASED, "", "", "", ())
    changed = changed_since(readings, row, Way(item.way), item.wording_sha256, frozenset(item.stands))
    return QuestionRow(
        item.number, item.excerpt, item.use, item.way, said.answer if said is not None else "", show_later(readings, viewer, row, said.later) if said is not None and said.later else "",
        phrases.day(said.at) if said is not None else "", (said.given_by or "") if said is not None else "",
        ("set aside",) if row.set_aside_at is not None else changed,
    )  # fmt: skip
