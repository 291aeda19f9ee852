"""Memory beside the record (issue 6): what does not agree is said beside the told date, never corrected, and tells nobody what they may not know."""

from __future__ import annotations

import json
from pathlib import Path

import docx
import pytest

from archive.app import Archive
from archive.db import consent_rows, people
from archive.domain.cleared import ShownTag
from archive.domain.values import Answer, Attribution, Review, Viewer, VoiceWish
from archive.errors import BadInput
from archive.services.rows import Asked, ExcerptRow
from tests import cast
from tests.cast import EDITOR, KEEPER, READER, VIEWERS
from tests.gate.conftest import AddInterview

CALENDAR = "the calendar has 14 January 1968 to 16 January 1968 for the Sallow flood"


def dates(archive: Archive, viewer: Viewer, code: str) -> dict[str, ShownTag]:
    """The dates of a recording as this viewer is shown them, by value."""
    return {t.value: t for t in archive.recordings.page(viewer, code).tags if t.kind == "date"}


def beside(archive: Archive, viewer: Viewer, code: str, value: str) -> list[str]:
    return [line.words for line in dates(archive, viewer, code)[value].beside]


@pytest.fixture
def two(cast_archive: Archive, add_interview: AddInterview) -> Archive:
    """Two people tell of the flood, neither as the calendar has it."""
    add_interview(cast_archive, 91, ["N-21:narrator"], [("N-21", cast.words_of("The flood was in sixty-seven and nobody slept."))])
    add_interview(cast_archive, 92, ["N-28:narrator"], [("N-28", cast.words_of("That was sixty-nine, the flood."))])
    return cast_archive


def test_the_calendar_and_another_telling_stand_beside_a_told_date(two: Archive) -> None:
    for viewer in VIEWERS:
        assert beside(two, viewer, "IV-91.1", "1967") == [CALENDAR, "IV-92.1 at 0:01 tells 1969"]
        assert beside(two, viewer, "IV-92.1", "1969") == [CALENDAR, "IV-91.1 at 0:00 tells 1967"]
        [hit] = two.finding.ask(viewer, Asked("nobody", speaker="N-21")).hits
        assert [line.words for t in hit.tags for line in t.beside][0] == CALENDAR
    assert dates(two, KEEPER, "IV-91.1")["1967"].value == "1967", "what was told stays as it was told"


@pytest.mark.parametrize("held", ["withdrawn", "sealed", "rejected"])
def test_a_telling_that_may_not_be_known_is_told_to_nobody(two: Archive, held: str) -> None:
    other = dates(two, EDITOR, "IV-92.1")["1969"]
    if held == "withdrawn":
        two.consent.withdraw(KEEPER, "N-28", how="letter")
    elif held == "sealed":
        two.consent.seal(KEEPER, "IV-92.1", other.start_ms, other.end_ms, "asked for")
    else:
        two.describing.decide(EDITOR, other.tag_id, "rejected")
    for viewer in VIEWERS:
        assert beside(two, viewer, "IV-91.1", "1967") == [CALENDAR]


def test_where_a_person_said_that_it_is_another_flood_nothing_is_said(two: Archive) -> None:
    [event] = [t for v, t in dates(two, EDITOR, "IV-91.1").items() if v.startswith("1968-01-14")]
    two.describing.decide(EDITOR, event.tag_id, "rejected")
    assert beside(two, EDITOR, "IV-91.1", "1967") == []


def test_birth_dates_stand_beside_for_those_who_see_names_alone(cast_archive: Archive, add_interview: AddInterview) -> None:
    """The cast is born in 1940: ten in 1950 or 1951."""
    told = "I was born on Net Row in nineteen forty-three. I was ten in 1957. I was ten in 1950 as well."
    code = add_interview(cast_archive, 93, ["N-21:narrator"], [("N-21", cast.words_of(told))])
    for viewer in (KEEPER, EDITOR):
        assert beside(cast_archive, viewer, code, "1943") == ["on record as born 1940"]
        assert beside(cast_archive, viewer, code, "1957") == ["by the birth date on record that age was 1950 to 1951"]
        assert beside(cast_archive, viewer, code, "1950") == []
    assert [t.beside for t in dates(cast_archive, READER, code).values() if t.beside] == []


def test_what_is_counted_from_closed_words_is_closed_with_them(cast_archive: Archive, add_interview: AddInterview) -> None:
    """ "The year after" tells when the closed sentence was: neither shown nor found by its decade while that is closed."""
    told = "They took him away in 1974. The year after, we sold the rope and the barrel."
    code = add_interview(cast_archive, 94, ["N-21:narrator"], [("N-21", cast.words_of(told))])
    for viewer in VIEWERS:
        assert {"1974", "1975"} <= dates(cast_archive, viewer, code).keys()
    year = dates(cast_archive, EDITOR, code)["1974"]
    cast_archive.consent.seal(KEEPER, code, year.start_ms, year.end_ms, "asked for")
    for viewer in VIEWERS:
        assert not {"1974", "1975"} & dates(cast_archive, viewer, code).keys()
        assert [h.recording for h in cast_archive.finding.ask(viewer, Asked("barrel")).hits] == [code]
        assert [h.recording for h in cast_archive.finding.ask(viewer, Asked("barrel", decade="1970")).hits] == []


def test_on_a_wall_text_the_calendar_is_an_offered_note(two: Archive, tmp_path: Path) -> None:
    """ "… in sixty-seven." [1968]: a person puts it there, nobody else's words are changed, and whoever listened listens again."""
    quote = "The flood was in sixty-seven and nobody slept."
    code = two.excerpts.choose(EDITOR, "IV-91.1", quote, "exhibition")
    agreeing = two.excerpts.choose(EDITOR, cast.recording_of("N-21"), "We carried the lantern", "exhibition")

    def row(wanted: str) -> ExcerptRow:
        return next(r for r in two.excerpts.list(EDITOR) if r.code == wanted)

    assert row(code).dates_offered == ("1968",) and row(agreeing).dates_offered == ()
    two.excerpts.tick_heard(EDITOR, code)
    assert not row(code).draft_reason
    for wrong in ("1969", "1968-01-14", "yesterday"):
        with pytest.raises(BadInput):
            two.excerpts.note_date(EDITOR, code, wrong)
    two.excerpts.note_date(EDITOR, code, "1968")
    assert row(code).draft_reason and row(code).leaving and row(code).leaving.words == quote and row(code).leaving.dated == "[1968]"
    two.excerpts.tick_heard(EDITOR, code)
    files = two.exports.make(EDITOR, [code], "exhibition", tmp_path / "wall").files
    assert any(f.endswith("wall-text.docx") for f in files)
    said = [p.text for p in docx.Document(str(tmp_path / "wall" / "wall-text.docx")).paragraphs]
    assert f"“{quote}” [1968]" in said
    [given] = json.loads((tmp_path / "wall" / "quotes.json").read_text(encoding="utf-8"))["quotes"]
    assert given["words"] == quote and given["editorial_note"] == "[1968]"
    two.excerpts.note_date(EDITOR, code, "")
    assert not row(code).draft_reason, "without the note the first tick stands again"


def test_who_looks_quotes_over_approves_the_note_with_them(two: Archive) -> None:
    code = two.excerpts.choose(EDITOR, "IV-91.1", "The flood was in sixty-seven", "exhibition")
    with two.rooms.db.write() as connection:
        person = people.by_code(connection, "N-21")
        assert person is not None
        consent_rows.add_wish(
            connection, person_id=person.id, attribution=Attribution.FULL, voice=VoiceWish.AS_RECORDED, review=Review.WANTED,
            from_on=cast.SIGNED, by="K-01", at=two.rooms.now(),
        )  # fmt: skip
    two.consent.approve(EDITOR, code, "N-21", Answer.YES)
    assert two.excerpts.list(EDITOR)[0].words_may.allowed
    two.excerpts.note_date(EDITOR, code, "1968")
    assert not two.excerpts.list(EDITOR)[0].words_may.allowed
    two.consent.approve(EDITOR, code, "N-21", Answer.YES)
    assert two.excerpts.list(EDITOR)[0].words_may.allowed
