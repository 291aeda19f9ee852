"""What comes due, day by day: the clock is moved over every boundary. Birthdays and leap days as the calendar has them (date.fromisoformat)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from archive.app import Archive
from archive.domain.agreements import Release, ReleaseKind, Restraint
from archive.domain.due import look_on
from archive.domain.values import RestraintKind
from archive.errors import BadInput, NotAllowed, NotFound
from archive.services.ending_rows import DueRow
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import copy_of
from tests.services.test_exports import choose

At = Callable[[int, int, int], Archive]


@pytest.fixture(scope="module")
def dated(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cast with a minor, an answer that ends, a seal that ends, one that an event ends, a note of risk, a recording without an agreement."""
    base = tmp_path_factory.mktemp("dated")
    archive = Archive.open(copy_of(made_cast, base / "archive"), {}, cast.clock)
    archive.people.add(KEEPER, {"code": "N-31", "full": "Ada Marl", "born": "2010-02-28", "attribution": "full", "review": "not_wanted"})
    archive.people.add(KEEPER, {"code": "N-32", "full": "Bo Marl", "attribution": "full", "review": "not_wanted"})
    archive.consent.add(KEEPER, {"code": "A-32", "person": "N-32", "signed_on": "2026-01-01"}, [])
    archive.consent.add(
        KEEPER, {"code": "A-31", "person": "N-31", "signed_on": "2026-02-01", "spoken_for_by": "N-32", "relation": "guardian", "minor": "yes", "assent": "yes"},
        [{"use": "exhibition", "way": "words", "answer": "yes", "until_on": "2027-03-31"}, {"use": "web", "way": "words", "answer": "no", "until_on": "2027-03-31"}],
    )
    archive.consent.seal(EDITOR, "IV-21.1", 500, 2000, "asked", date(2029, 12, 31))
    archive.consent.seal(EDITOR, "IV-26.1", 500, 2000, "asked", None, "the life of N-26 and five years")
    archive.due.note_risk(KEEPER, "N-21", "Her brother-in-law might find out.", date(2026, 9, 1))
    with archive.rooms.db.write() as connection:
        from archive.db import people, recordings

        row = people.by_code(connection, "N-27")
        assert row is not None
        people.take_part(connection, recordings.named(connection, "IV-28.1").interview_id, row.id, "interviewer")
        other = people.by_code(connection, "P-41")
        assert other is not None
        people.take_part(connection, recordings.named(connection, "IV-28.1").interview_id, other.id, "companion")
    choose(archive, "N-21")
    archive.close()
    return base / "archive"


@pytest.fixture(scope="module")
def at(dated: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[At]:
    """The same archive, opened on another day."""
    opened: list[Archive] = []
    folder = copy_of(dated, tmp_path_factory.mktemp("at") / "archive")

    def on(year: int, month: int, day: int) -> Archive:
        opened.append(Archive.open(folder, {}, lambda: datetime(year, month, day, 12, tzinfo=UTC)))
        return opened[-1]

    yield on
    for archive in opened:
        archive.close()


def of(rows: tuple[DueRow, ...], kind: str) -> list[DueRow]:
    return [r for r in rows if r.kind == kind]


def test_what_is_due_is_listed_once_by_its_day(at: At) -> None:
    rows = at(2026, 6, 1).due.list(KEEPER, 90)
    assert not of(rows, "permission") and not of(rows, "18th birthday") and not of(rows, "note of risk")
    assert [r.person for r in of(rows, "no agreement")] == ["P-41"] and "IV-28.1" in of(rows, "no agreement")[0].words
    assert {"A-31", "A-N-21"} <= {r.words.split(":")[0] for r in of(rows, "paper without a scan")}
    assert list(rows) == sorted(rows, key=lambda r: (r.kind == "paper without a scan", r.on)), "the longest first, and papers last"
    far = at(2026, 6, 1).due.list(KEEPER, 400)
    (permission,) = of(far, "permission")
    assert permission.on == date(2027, 3, 31) and "exhibition as words" in permission.words and "web" not in permission.words, "a no that ends is no loss"
    assert [r.on for r in of(far, "note of risk")] == [date(2026, 9, 1)]


@pytest.mark.parametrize(("day", "there"), [((2027, 3, 30), True), ((2027, 3, 31), True), ((2027, 4, 1), False)])
def test_a_permission_is_due_through_its_last_day(at: At, day: tuple[int, int, int], there: bool) -> None:
    assert bool(of(at(*day).due.list(EDITOR, 0 if day[2] == 31 else 5), "permission")) is there


def test_a_minor_turns_18_on_the_day_itself(at: At) -> None:
    """Born on 28 February 2010: 18 on 28 February 2028, a leap year."""
    before = of(at(2028, 2, 27).due.list(EDITOR, 1), "18th birthday")
    assert [(r.on, r.person) for r in before] == [(date(2028, 2, 28), "N-31")] and "turns 18" in before[0].words
    assert not of(at(2028, 2, 27).due.list(EDITOR, 0), "18th birthday")
    assert "is 18" in of(at(2028, 2, 28).due.list(EDITOR, 0), "18th birthday")[0].words


def test_a_seal_s_end_is_a_look_and_opens_nothing(at: At) -> None:
    assert not of(at(2029, 12, 31).due.list(EDITOR, 0), "seal")
    on_the_day = at(2030, 1, 1)
    (row,) = of(on_the_day.due.list(EDITOR, 0), "seal")
    assert row.on == date(2030, 1, 1) and "IV-21.1@0:00.5-" in row.words and "closed through 31 December 2029" in row.words
    assert next(r.holds for r in on_the_day.consent.closed(KEEPER) if r.hold == row.hold), "open only when a keeper says so"


def test_what_an_event_ends_is_looked_at_every_five_years(at: At) -> None:
    (row,) = of(at(2031, 6, 1).due.list(EDITOR, 0), "seal")[1:]
    assert row.on == date(2031, 6, 1) and "the life of N-26 and five years" in row.words


DAY = date(2024, 2, 29)


@pytest.mark.parametrize(
    ("until", "event", "kept", "wanted"),
    [
        (None, "", None, None),
        (date(2040, 1, 1), "", None, date(2040, 1, 1)),
        (None, "a death", None, date(2029, 3, 1)),  # five years after 29 February
        (None, "a death", date(2028, 5, 5), date(2033, 5, 5)),
        (date(2026, 1, 1), "a death", None, date(2026, 1, 1)),
        (date(2040, 1, 1), "", date(2041, 1, 1), date(2046, 1, 1)),  # looked at after its end, and it stayed closed
        (date(2040, 1, 1), "", date(2030, 1, 1), date(2040, 1, 1)),
    ],
)
def test_when_a_hold_is_looked_at(until: date | None, event: str, kept: date | None, wanted: date | None) -> None:
    releases = (Release(ReleaseKind.KEPT, kept),) if kept else ()
    assert look_on(Restraint(1, RestraintKind.SEALED, DAY, until, True, event=event, releases=releases)) == wanted


def test_notes_of_risk_are_for_keepers_alone(at: At) -> None:
    archive = at(2026, 9, 1)
    assert "brother-in-law" in str(archive.due.list(KEEPER)) and "brother-in-law" not in str(archive.due.list(EDITOR))
    for viewer in (EDITOR, READER):
        with pytest.raises(NotAllowed):
            archive.due.risks(viewer, "N-21")
    with pytest.raises(NotAllowed):
        archive.due.list(READER)
    with pytest.raises(BadInput):
        archive.due.note_risk(KEEPER, "N-21", "x", date(2026, 8, 31))
    with pytest.raises(NotFound):
        archive.due.end_risk(KEEPER, 99)
    number = archive.due.note_risk(KEEPER, "N-21", "A second one.", None)
    archive.due.end_risk(KEEPER, number)
    assert [r.words for r in archive.due.risks(KEEPER, "N-21")] == ["Her brother-in-law might find out."]
