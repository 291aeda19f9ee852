"""Quotes that go to their speaker first: the sheet is read back by pypdf and zxing, which did not write it; what a yes holds for, and what ends it.

That narrators see their words before they are shown: Oral History Association best practices (CHECKS §8). That silence is no yes: Oral History
Society (UK) legal and ethical advice (CHECKS §8). All else that is expected is the issue's own text.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pypdf
import pytest

from archive.app import Archive
from archive.db import consent_rows, erasing, people, reach
from archive.db.tables import metadata
from archive.domain.cleared import ForbiddenName
from archive.domain.printed import Size
from archive.domain.sheetcode import Coded, code_of
from archive.domain.values import Answer, Attribution, Review, VoiceWish, Way
from archive.errors import BadInput, Clash, NotAllowed, NotFound, Refused
from archive.gate.clear import clear
from archive.gate.scan import matcher_for, scan_with
from archive.render.boxes import names_whole
from archive.render.paper import Paper
from tests import cast
from tests.cast import CAST, EDITOR, KEEPER, READER
from tests.conftest import copy_of
from tests.services.test_papers import read, symbol

EDITH, OTTILIE, GRETA = (next(m for m in CAST if m.code == code) for code in ("N-21", "N-28", "N-27"))
LATER = "We carried that lantern down Net Row together, and somebody held the rope."


class Days:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.moment = cast.TODAY

    def __call__(self) -> datetime:
        return self.moment


@pytest.fixture
def days() -> Days:
    return Days()


@pytest.fixture
def town(made_cast: Path, tmp_path: Path, days: Days) -> Iterator[Archive]:
    """The cast; Edith Quill sees quotes first, and one of hers is chosen for a panel."""
    archive = cast.in_a_hurry(Archive.open(copy_of(made_cast, tmp_path / "archive"), {}, days))
    wishes(archive, EDITH.code, review=Review.WANTED)
    assert archive.excerpts.choose(EDITOR, cast.recording_of(EDITH.code), EDITH.text, "exhibition", "Harbour") == "EX-1"
    yield archive
    archive.close()


def wishes(archive: Archive, code: str, attribution: Attribution = Attribution.FULL, review: Review = Review.NOT_WANTED) -> None:
    with archive.rooms.db.write() as connection:
        person = people.ids_by_code(connection)[code]
        consent_rows.add_wish(
            connection, person_id=person, attribution=attribution, voice=VoiceWish.AS_RECORDED, review=review, from_on=archive.today(), by="K-01", at=archive.rooms.now()
        )


def may(archive: Archive, code: str = "EX-1") -> tuple[bool, bool]:
    """Whether an excerpt leaves as words, and with its clip; the gate's answer is what every page explains."""
    with archive.rooms.db.read() as connection:
        found = clear(connection, [code], "exhibition", archive.rooms.context(), "Tarnwick Voices", 120, "OUT-1")
    left = bool(found.export.quotes), bool(found.export.clips)
    row = next(r for r in archive.excerpts.list(EDITOR) if r.code == code)
    line = next(line for line in next(g for g in archive.deciding.table(KEEPER, code).groups if not g.about).lines if line.use == "exhibition")
    assert line.cells[0].allowed == row.words_may.allowed == left[0]
    assert (left[0] and line.cells[1].allowed) == left[1]
    return left


def why(archive: Archive, code: str = "EX-1") -> str:
    return " ".join(next(r for r in archive.excerpts.list(EDITOR) if r.code == code).words_may.sentences)


@pytest.mark.parametrize(("language", "size", "large"), [("en", "a4", False), ("pl", "letter", True)])
def test_a_sheet_has_each_quote_as_it_will_stand(town: Archive, language: str, size: str, large: bool) -> None:
    """Words with what is hidden, the line under them, panel, use, sound; what may not leave of others is not on it; the code is read by a QR reader."""
    town.excerpts.choose(EDITOR, cast.recording_of(OTTILIE.code), OTTILIE.text, "exhibition", "harbour ")
    town.excerpts.choose(EDITOR, cast.recording_of(GRETA.code), GRETA.text, "exhibition", "Harbour")  # her words are not allowed for it
    town.letters.say(KEEPER, EDITH.code, {"called": "Mrs Quill", "address": "4 Gull Steps"}, ["plain_envelope"], False)
    made = town.reviews.sheet(EDITOR, EDITH.code, size=size, large=large, language=language)
    told = read(made.data)
    assert "Mrs Quill" in told and "Edith Quill" in told and "[name withheld] held the rope for us" in told and "Harbour" in told
    assert OTTILIE.text in told and GRETA.secret not in told and "Brine" not in told and "Gull Steps" not in told
    assert "IV-21.1" in told and ("29 June 2026" in told or "29 czerwca 2026" in told)
    assert made.name == f"review-{made.reference}.pdf" and symbol(made.data) == made.reference
    assert town.reviews.found(KEEPER, made.reference.lower()).person == EDITH.code
    assert any("Plain envelope" in note for note in made.notes)
    page = pypdf.PdfReader(io.BytesIO(made.data)).pages[0]
    assert round(float(page.mediabox.width)) == (595 if size == "a4" else 612)  # ISO 216 A4 and US Letter, in points


def test_no_answer_is_no_on_the_day_itself_and_ever_after(town: Archive, days: Days) -> None:
    assert may(town) == (False, False) and "has not been approved" in why(town)
    sheet = town.reviews.sheet(EDITOR, EDITH.code, answer_by=date(2026, 6, 30))
    for day in (1, 29, 30, 31, 400):
        days.moment = cast.TODAY + timedelta(days=day)
        assert may(town) == (False, False) and "no answer by 30 June 2026 is no" in why(town)
    found = town.reviews.found(EDITOR, sheet.reference)
    assert found.late and found.open == 2
    due = [row for row in town.due.list(EDITOR) if row.kind == "review out"]
    assert [(row.person, row.on) for row in due] == [(EDITH.code, date(2026, 6, 1))]
    assert "counts" in town.reviews.answer(EDITOR, sheet.reference, 1, "yes") and may(town) == (True, False)


def test_a_yes_to_the_words_is_none_to_the_clip(town: Archive) -> None:
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    assert [q.way for q in town.reviews.found(EDITOR, code).questions] == ["words", "voice"]
    town.reviews.answer(EDITOR, code, 1, "yes")
    assert may(town) == (True, False)
    town.reviews.answer(EDITOR, code, 2, "yes")
    assert may(town) == (True, True)
    town.reviews.answer(EDITOR, code, 1, "no")  # the newest answer counts
    assert may(town) == (False, False) and "said no to it" in why(town)
    assert not [row for row in town.due.list(EDITOR) if row.kind == "review out"]


def test_who_does_not_want_to_see_quotes_and_is_asked_all_the_same(town: Archive) -> None:
    """Their papers allow it; asked about exactly this, they are waited for, and their no counts."""
    quoted = town.excerpts.choose(EDITOR, cast.recording_of(OTTILIE.code), OTTILIE.text, "exhibition")
    assert may(town, quoted)[0]
    with pytest.raises(Refused, match="None of these"):
        town.reviews.sheet(EDITOR, OTTILIE.code)  # nothing of theirs waits
    sheet = town.reviews.sheet(EDITOR, OTTILIE.code, [quoted]).reference
    assert may(town, quoted) == (False, False) and sheet in why(town, quoted)
    town.consent.approve(EDITOR, quoted, OTTILIE.code, Answer.YES)  # by telephone
    assert may(town, quoted)[0]
    town.reviews.answer(EDITOR, sheet, 1, "no")
    assert may(town, quoted) == (False, False)


def test_what_came_or_changed_since_the_sheet(town: Archive) -> None:
    """A quote beside it, another name under it: the yes is kept for neither. What is gone changes nothing."""
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    beside = town.excerpts.choose(EDITOR, cast.recording_of(OTTILIE.code), OTTILIE.text, "exhibition", "HARBOUR")
    with pytest.raises(Clash, match="what stands beside it came or changed") as told:
        town.reviews.answer(EDITOR, code, 1, "yes")
    assert "not lost" in told.value.remedy and may(town) == (False, False)
    town.excerpts.set_aside(EDITOR, beside)
    town.reviews.answer(EDITOR, code, 1, "yes")
    assert may(town)[0]
    town.excerpts.take_back(EDITOR, beside)
    assert may(town) == (False, False) and town.reviews.found(EDITOR, code).questions[0].changed == ("what stands beside it",)
    again = town.reviews.sheet(EDITOR, EDITH.code).reference
    assert town.reviews.answer(EDITOR, again, 1, "yes") and may(town)[0]
    town.excerpts.set_aside(EDITOR, beside)
    assert may(town)[0]
    wishes(town, EDITH.code, Attribution.INITIALS, Review.WANTED)
    assert may(town) == (False, False) and town.reviews.found(EDITOR, again).questions[0].changed == ("the line under it",)


def test_a_later_wording_is_shown_as_such_and_has_no_sound(town: Archive, tmp_path: Path) -> None:
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    town.reviews.answer(EDITOR, code, 2, "yes")
    told = town.reviews.answer(EDITOR, code, 1, "change", f"  {LATER}\n")
    assert "kept apart" in told and may(town) == (False, False)
    assert town.reviews.found(EDITOR, code).questions[0].later == LATER
    assert "no sound" in town.reviews.stand(EDITOR, "EX-1", True).lower()
    assert may(town) == (True, False)
    row = next(r for r in town.excerpts.list(EDITOR) if r.code == "EX-1")
    assert row.leaving is not None and row.leaving.words == LATER and row.leaving.attribution == "Edith Quill, in later wording" and not row.heard
    report = town.exports.make(EDITOR, ["EX-1"], "exhibition", tmp_path / "out")
    assert {Path(f).suffix for f in report.files} == {".docx", ".json"} and report.draft and any("words only" in w for w in report.withheld)
    quotes = json.loads(next(Path(f) for f in report.files if f.endswith(".json")).read_text(encoding="utf-8"))
    assert LATER in str(quotes) and "in later wording" in str(quotes) and EDITH.text not in str(quotes)
    town.exports.file(EDITOR, report.code, "DRAFT-quotes.json")
    town.reviews.stand(EDITOR, "EX-1", False)
    assert may(town) == (False, False), "as it was said, they said no to it"
    with pytest.raises(Refused):
        town.exports.file(EDITOR, report.code, "DRAFT-quotes.json")


def test_a_later_wording_with_a_hidden_name_does_not_stand(town: Archive) -> None:
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    assert "does not leave" in town.reviews.answer(EDITOR, code, 1, "change", "It was Walter Brine who held the rope.")
    with pytest.raises(Refused) as told:
        town.reviews.stand(EDITOR, "EX-1", True)
    assert "Brine" not in str(told.value.message) and may(town) == (False, False)


def test_after_a_withdrawal_nobody_is_asked_and_nothing_is_read(town: Archive) -> None:
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    town.reviews.answer(EDITOR, code, 1, "change", LATER)
    town.reviews.stand(EDITOR, "EX-1", True)
    town.consent.withdraw(KEEPER, EDITH.code, how="letter")
    assert may(town) == (False, False) and town.reviews.found(EDITOR, code).questions[0].later == ""
    with pytest.raises(Refused) as told:
        town.reviews.sheet(EDITOR, EDITH.code, ["EX-1"])
    assert "withdr" not in " ".join(told.value.reasons)


def test_who_answers_for_somebody_is_on_record(town: Archive) -> None:
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    with pytest.raises(BadInput, match="not on record as speaking for N-21"):
        town.reviews.answer(EDITOR, code, 1, "yes", given_by=OTTILIE.code)
    assert town.reviews.found(EDITOR, code).open == 2 and may(town) == (False, False)


def test_what_is_not_ours_or_cannot_be(town: Archive) -> None:
    """Bad input of the issue: a code that is not ours, a sheet for a quote that is gone; nothing is lost."""
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    wrong = code[:-1] + ("2" if code[-1] != "2" else "3")
    for typed, error in ((code_of((0, 1, 2, 3), Coded.REVIEW), NotFound), (wrong, BadInput), (code_of((0, 1, 2, 3), Coded.FORM), BadInput), ("", BadInput)):
        with pytest.raises(error):
            town.reviews.answer(EDITOR, typed, 1, "yes")
    for number, answer, words, error in ((9, "yes", "", NotFound), (1, "perhaps", "", BadInput), (1, "yes", "words", BadInput), (1, "change", " ", BadInput), (2, "change", LATER, BadInput)):
        with pytest.raises(error):
            town.reviews.answer(EDITOR, code, number, answer, words)
    with pytest.raises(BadInput, match="time to answer"):
        town.reviews.sheet(EDITOR, EDITH.code, answer_by=town.today())
    with pytest.raises(Refused, match="None"):
        town.reviews.sheet(EDITOR, OTTILIE.code, ["EX-1"])  # not theirs
    with pytest.raises(NotFound):
        town.reviews.stand(EDITOR, "EX-1", True)
    for ask in (lambda: town.reviews.list(READER), lambda: town.reviews.sheet(READER, EDITH.code), lambda: town.reviews.answer(READER, code, 1, "yes")):
        with pytest.raises(NotAllowed):
            ask()
    town.excerpts.set_aside(EDITOR, "EX-1")
    with pytest.raises(Clash, match="set aside"):
        town.reviews.answer(EDITOR, code, 1, "yes")
    assert not re.search("Quill|Brine", str(town.reviews.list(EDITOR)))
    assert Way.VOICE in {q.way for q in town.reviews.found(EDITOR, code).questions}


def test_an_erasure_leaves_nothing_of_what_was_put_and_answered(town: Archive) -> None:
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    town.reviews.answer(EDITOR, code, 2, "yes")
    town.reviews.answer(EDITOR, code, 1, "change", LATER)
    town.reviews.stand(EDITOR, "EX-1", True)
    with town.rooms.db.write() as connection, erasing.guards_open(connection):
        erasing.excerpts_gone(connection, [1], town.rooms.now())
    with town.rooms.db.read() as connection:
        left = {name: [tuple(r) for r in connection.execute(metadata.tables[name].select())] for name in ("review_answer", "review_item", "approval", "excerpt")}
    assert not left["review_answer"] and not left["approval"] and len(left["review_item"]) == 2
    assert LATER not in str(left) and all(row.count("0" * 64) == 1 and [] in row for row in left["review_item"])
    assert [q.answer for q in town.reviews.found(EDITOR, code).questions] == ["erased", "erased"]
    assert not [row for row in town.due.list(EDITOR) if row.kind == "review out"]


def test_a_name_that_may_stand_is_never_broken_over_two_lines(tmp_path: Path) -> None:
    """Whoever reads the paper back takes a name that is broken for two words, of which each alone may not stand."""
    name = ForbiddenName("Joseph Tandy", False)
    pdf = Paper(Size.A4, True, "Letter", "en", date(2026, 6, 1))
    for length in range(20, 70):
        pdf.put(names_whole(f"{'a' * (length % 7 + 1)} {'so ' * (length // 3)}said Joseph Tandy.", [name]))
    path = tmp_path / "names.pdf"
    path.write_bytes(bytes(pdf.output()))
    assert not scan_with(matcher_for([name, ForbiddenName("Joseph", False), ForbiddenName("Tandy", False)], ["Joseph Tandy"]), path)
    assert scan_with(matcher_for([name]), path)


def test_whoever_may_not_open_somebody_finds_neither_their_sheets_nor_a_copy(town: Archive) -> None:
    code = town.reviews.sheet(EDITOR, EDITH.code).reference
    with town.rooms.db.write() as connection:
        reach.say(connection, EDITOR.name, person_id=people.ids_by_code(connection)[EDITH.code], in_force=True, by="K-01", at=town.rooms.now())
    assert town.reviews.list(EDITOR) == () and len(town.reviews.list(KEEPER)) == 1
    closed = (
        lambda: town.reviews.found(EDITOR, code), lambda: town.reviews.answer(EDITOR, code, 1, "yes"), lambda: town.reviews.list(EDITOR, EDITH.code),
        lambda: town.reviews.sheet(EDITOR, EDITH.code), lambda: town.reviews.stand(EDITOR, "EX-1", False),
        lambda: town.own_copies.make(EDITOR, EDITH.code, cast.recording_of(EDITH.code)),
    )  # fmt: skip
    for ask in closed:
        with pytest.raises(NotFound):
            ask()
