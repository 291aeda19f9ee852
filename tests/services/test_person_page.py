"""One person's page: whose holds stand there and may be lifted there, and what was allowed interview by interview."""

from __future__ import annotations

import pytest

from archive.app import Archive
from archive.db import people, recordings
from archive.domain.values import RestraintKind, Way
from archive.errors import BadInput, NotFound
from archive.services.rows import Allowed, HoldLine
from tests.cast import KEEPER


def take_part(archive: Archive, code: str, interview: str, role: str = "narrator") -> None:
    with archive.rooms.db.write() as connection:
        row = people.by_code(connection, code)
        assert row is not None
        people.take_part(connection, recordings.interview_id(connection, interview, "", None, "en"), row.id, role)


def holds(archive: Archive, code: str) -> tuple[HoldLine, ...]:
    return archive.people.page(KEEPER, code).restraints


def test_a_hold_is_lifted_only_where_it_stands(cast_archive: Archive) -> None:
    (withdrawal,) = holds(cast_archive, "N-24")
    assert withdrawal.kind == RestraintKind.WITHDRAWN and withdrawal.holds
    for stranger in ("N-21", "N-23", "N-99"):
        with pytest.raises(NotFound):
            cast_archive.consent.lift(KEEPER, withdrawal.id, "a slip of the hand", person=stranger)
    assert holds(cast_archive, "N-24")[0].holds
    with pytest.raises(BadInput):
        cast_archive.consent.lift(KEEPER, withdrawal.id, "  ", person="N-24")
    cast_archive.consent.lift(KEEPER, withdrawal.id, "wrote on 30 May that it may be used again", person="N-24")
    assert not holds(cast_archive, "N-24")[0].holds


def test_what_is_anothers_is_not_lifted_in_a_shared_interview(cast_archive: Archive) -> None:
    """Who sits in the same interview may not end somebody else's withdrawal of it, but sees the seal that names nobody."""
    take_part(cast_archive, "N-21", "IV-23", "interviewer")
    take_part(cast_archive, "N-21", "IV-24", "interviewer")
    cast_archive.consent.withdraw(KEEPER, "N-24", interview="IV-24", how="letter")
    for hold in holds(cast_archive, "N-24"):
        with pytest.raises(NotFound):
            cast_archive.consent.lift(KEEPER, hold.id, "so", person="N-21")
    (seal,) = holds(cast_archive, "N-21")
    assert seal.kind == RestraintKind.SEALED and "IV-23.1, 0:00 to" in seal.words
    cast_archive.consent.lift(KEEPER, seal.id, "both agreed", person="N-21")
    assert not holds(cast_archive, "N-23")[0].holds


def test_seals_are_told_by_interview_and_not_by_how_a_code_begins(cast_archive: Archive) -> None:
    take_part(cast_archive, "N-25", "IV-2")
    assert holds(cast_archive, "N-25") == ()
    assert [h.kind for h in holds(cast_archive, "N-23")] == [RestraintKind.SEALED]


def answer(allowed: Allowed, use: str) -> str:
    return next(line.words for line in allowed.lines if line.use == use)


def test_what_was_allowed_is_told_for_every_interview(cast_archive: Archive) -> None:
    (everywhere,) = cast_archive.people.page(KEEPER, "N-21").allowed
    assert everywhere.interviews == ("IV-21",) and answer(everywhere, "exhibition") == "yes"
    take_part(cast_archive, "N-21", "IV-210")
    (everywhere,) = cast_archive.people.page(KEEPER, "N-21").allowed
    assert everywhere.interviews == ("IV-21", "IV-210"), "the same answers stand together"
    cast_archive.consent.withdraw(KEEPER, "N-21", interview="IV-210", how="letter")
    page = cast_archive.people.page(KEEPER, "N-21")
    first, second = page.allowed
    assert first.interviews == ("IV-21",) and answer(first, "exhibition") == "yes"
    assert second.interviews == ("IV-210",) and answer(second, "exhibition").startswith("no: N-21 withdrew this interview")
    assert [h.words for h in page.restraints] == ["withdrawn: interview IV-210, from 1 June 2026"]


def test_an_agreement_for_an_interview_that_is_still_to_come_counts_there(cast_archive: Archive) -> None:
    cast_archive.consent.withdraw(KEEPER, "N-21", interview="IV-21", how="letter")
    assert [a.interviews for a in cast_archive.people.page(KEEPER, "N-21").allowed] == [("IV-21",)]
    nobody = cast_archive.people.page(KEEPER, "P-41").allowed
    assert [a.interviews for a in nobody] == [()] and all(line.words.startswith("no: ") for line in nobody[0].lines)


@pytest.mark.parametrize(
    ("interview", "stretch"),
    [("", "IV-22.1@0:01-0:02"), ("IV-22", ""), ("IV-21", "IV-22.1@0:01-0:02"), ("", "IV-22.1@500-900")],
)
def test_a_withdrawal_that_would_have_no_effect_is_refused(cast_archive: Archive, interview: str, stretch: str) -> None:
    with pytest.raises(BadInput, match="Nothing was changed"):
        cast_archive.consent.withdraw(KEEPER, "N-21", interview=interview, stretch=stretch, how="letter")
    assert holds(cast_archive, "N-21") == ()


def test_a_stretch_is_written_in_minutes_or_in_ms(cast_archive: Archive) -> None:
    for stretch in ("IV-21.1@0:01-0:02", "IV-21.1@1000-2000"):
        cast_archive.consent.withdraw(KEEPER, "N-21", stretch=stretch, how="letter")
    first, second = holds(cast_archive, "N-21")
    assert first.words == second.words and "IV-21.1, 0:00 to 0:02" in first.words, "rounded outwards to whole words"


def test_past_the_end_there_is_nothing(cast_archive: Archive) -> None:
    for target in ("IV-21.1@500000-600000", "IV-21.1@0:00-59:00", f"IV-21.1@0-{2**31 - 1}"):
        with pytest.raises(NotFound, match="ends before that"):
            cast_archive.deciding.may(KEEPER, target, "exhibition", Way.WORDS)
        with pytest.raises(NotFound, match="ends before that"):
            cast_archive.consent.withdraw(KEEPER, "N-21", stretch=target, how="letter")
    with pytest.raises(NotFound, match="ends before that"):
        cast_archive.consent.seal(KEEPER, "IV-21.1", 500_000, 600_000, "asked")
    assert cast_archive.deciding.may(KEEPER, "IV-21.1@0:01-0:02", "exhibition", Way.WORDS).allowed
