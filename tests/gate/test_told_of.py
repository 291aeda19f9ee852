"""Memory beside the record (issue 6): what does not agree is said beside the told date, never corrected, and tells nobody what they may not know."""

from __future__ import annotations

import pytest

from archive.app import Archive
from archive.domain.cleared import ShownTag
from archive.domain.values import Viewer
from archive.services.rows import Asked
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
