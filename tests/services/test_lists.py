"""Lists: what is kept, in which order, for whom; and what becomes of it when something may not be read any more.

What a list may hold follows DESIGN §4 and §6 (nothing durable points at words of a passage; the gate decides at each reading). The rest is
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import func, select

from archive.app import Archive
from archive.db import tables as t
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, Clash, NotFound, ToldHereError
from archive.services.lists import KEPT_DAYS, MOST_NAME, MOST_NOTE
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import Opener, copy_of

OTHER_READER = Viewer("R-02", Role.READER)
OPEN = [m for m in cast.CAST if not m.held]


@pytest.fixture
def wall(cast_archive: Archive) -> int:
    """A list of the team's with a stretch of everybody who is not held back."""
    number = cast_archive.lists.make(EDITOR, "The wall")
    for member in OPEN:
        assert cast_archive.lists.keep(EDITOR, number, cast.recording_of(member.code), 0, 3500, f"about {member.secret}")
    return number


def order_of(archive: Archive, number: int, viewer: Viewer = EDITOR) -> list[str]:
    return [item.shown.recording if item.shown else "–" for item in archive.lists.page(viewer, number).items]


def test_what_is_kept_is_a_stretch_with_a_note_and_who_put_it_there(cast_archive: Archive, wall: int) -> None:
    page = cast_archive.lists.page(KEEPER, wall)
    assert order_of(cast_archive, wall) == [cast.recording_of(m.code) for m in OPEN]
    first = page.items[0]
    assert first.shown is not None and first.shown.words[0].text == "We" and (first.shown.start_ms, first.shown.end_ms) == (0, 3500)
    assert (first.note, first.by, page.row.name, page.row.team) == ("about lantern", "E-01", "The wall", True)
    assert not cast_archive.lists.keep(EDITOR, wall, "IV-21.1", 0, 3500), "the very same is kept once"
    held = {c.name for table in (t.kept_list, t.kept_item, t.question_seen) for c in table.columns}
    assert not {name for name in held if "word" in name or "text" in name or "evidence" in name}, "no column for what was said"


def test_moved_taken_off_put_back(cast_archive: Archive, wall: int) -> None:
    lists, before = cast_archive.lists, order_of(cast_archive, wall)
    ids = [i.id for i in lists.page(EDITOR, wall).items]
    lists.move(EDITOR, ids[0], 1)
    assert order_of(cast_archive, wall) == [before[1], before[0], *before[2:]]
    lists.move(KEEPER, ids[0], -1)
    lists.move(KEEPER, ids[0], -1)  # as far as it goes
    lists.move(KEEPER, ids[-1], 1)
    assert order_of(cast_archive, wall) == before
    lists.take_off(EDITOR, ids[1])
    assert order_of(cast_archive, wall) == [before[0], *before[2:]]
    assert [i.id for i in lists.page(EDITOR, wall).taken_off] == [ids[1]]
    lists.put_item_back(EDITOR, ids[1])
    assert order_of(cast_archive, wall) == before and not lists.page(EDITOR, wall).taken_off
    lists.write_note(EDITOR, ids[0], "  first of all\n")
    assert lists.page(EDITOR, wall).items[0].note == "first of all"


def test_a_list_is_renamed_deleted_and_put_back(cast_archive: Archive, wall: int) -> None:
    lists = cast_archive.lists
    lists.rename(EDITOR, wall, "Gallery  2")
    assert [r.name for r in lists.list(EDITOR)] == ["Gallery 2"]
    lists.delete(EDITOR, wall)
    assert lists.list(EDITOR) == () and [r.id for r in lists.list(EDITOR, deleted=True)] == [wall]
    with pytest.raises(Clash):
        lists.keep(EDITOR, wall, "IV-21.1", 0, 900)
    lists.put_back(EDITOR, wall)
    assert lists.page(EDITOR, wall).row.items == len(OPEN)


def test_what_was_deleted_goes_for_good_after_a_month(open_cast: Opener) -> None:
    archive = open_cast()
    number = archive.lists.make(EDITOR, "Old")
    archive.lists.keep(EDITOR, number, "IV-21.1", 0, 900)
    archive.lists.delete(EDITOR, number)
    later = Archive.open(archive.folder, {}, lambda: cast.TODAY + timedelta(days=KEPT_DAYS + 1))
    later.lists.make(EDITOR, "New")
    with later.rooms.db.read() as connection:
        assert connection.execute(select(func.count()).select_from(t.kept_item)).scalar_one() == 0
    later.close()


@pytest.mark.parametrize("viewer", [KEEPER, EDITOR])
def test_what_may_not_be_read_is_not_available_and_comes_back(cast_archive: Archive, wall: int, viewer: Viewer) -> None:
    """A pause of the person: no words, no place, no note, and no reason; in the next request after it is lifted all is there again."""
    before = cast_archive.lists.page(viewer, wall)
    cast_archive.consent.pause(KEEPER, "N-21", "telephoned")
    item = cast_archive.lists.page(viewer, wall).items[0]
    assert item.shown is None and item.note == "" and item.excerpts == () and item.by == "E-01"
    with pytest.raises(Clash):
        cast_archive.lists.write_note(viewer, item.id, "still here")
    (hold,) = [h.id for h in cast_archive.people.page(KEEPER, "N-21").restraints if h.holds]
    cast_archive.consent.lift(KEEPER, hold, "goes on")
    assert cast_archive.lists.page(viewer, wall) == before


def test_part_of_an_item_is_sealed(cast_archive: Archive) -> None:
    """What is open of it stays, with a mark where words are closed, and its sound has a hole there."""
    number = cast_archive.lists.make(EDITOR, "Sealed in part")
    cast_archive.lists.keep(EDITOR, number, "IV-21.1", 0, 5000)
    cast_archive.consent.seal(EDITOR, "IV-21.1", 1300, 2080, "asked for")
    (item,) = cast_archive.lists.page(EDITOR, number).items
    assert item.shown is not None
    words = [w.text for w in item.shown.words]
    assert words[:3] == ["We", "carried", "[closed]"] and "lantern" not in words and "Net" in words
    assert len(item.shown.playable) == 2 and item.shown.playable[0].end_ms <= 1300
    cast_archive.consent.seal(EDITOR, "IV-21.1", 0, 5000, "asked for")
    assert cast_archive.lists.page(EDITOR, number).items[0].shown is None


def test_a_reader_has_own_lists_alone_and_reads_the_shown_wording(cast_archive: Archive, wall: int) -> None:
    lists = cast_archive.lists
    own = lists.make(READER, "Mine")
    assert lists.keep(READER, own, "IV-25.1", 0, 6000)
    assert [r.name for r in lists.list(READER)] == ["Mine"] and [r.name for r in lists.list(EDITOR)] == ["The wall"]
    shown = lists.page(READER, own).items[0].shown
    assert shown is not None and "withheld]" in " ".join(w.text for w in shown.words) and "Lena" not in str(shown)
    theirs = lists.page(EDITOR, wall).items[0].id
    for viewer, number in ((READER, wall), (OTHER_READER, own), (EDITOR, own), (KEEPER, own), (READER, 999)):
        for act in (lambda v, n: lists.page(v, n), lambda v, n: lists.rename(v, n, "x"), lambda v, n: lists.delete(v, n), lambda v, n: lists.put_back(v, n), lambda v, n: lists.keep(v, n, "IV-21.1", 0, 900)):
            with pytest.raises(NotFound):
                act(viewer, number)
    for act_on in (lists.take_off, lists.put_item_back, lambda v, i: lists.move(v, i, 1), lambda v, i: lists.write_note(v, i, "x")):
        with pytest.raises(NotFound):
            act_on(READER, theirs)
    assert [r.team for r in lists.list(EDITOR)] == [True] and lists.page(EDITOR, wall).row.items == len(OPEN)


def test_an_own_list_of_an_editor_is_nobody_elses(cast_archive: Archive) -> None:
    own = cast_archive.lists.make(EDITOR, "For me", own=True)
    assert cast_archive.lists.list(KEEPER) == () and cast_archive.lists.page(EDITOR, own).row.team is False


@pytest.mark.parametrize(
    ("act", "error"),
    [
        (lambda a, n: a.lists.make(EDITOR, " \n "), BadInput),
        (lambda a, n: a.lists.make(EDITOR, "x" * (MOST_NAME + 1)), BadInput),
        (lambda a, n: a.lists.make(EDITOR, "the WALL"), Clash),
        (lambda a, n: a.lists.keep(EDITOR, n, "IV-99.1", 0, 900), NotFound),
        (lambda a, n: a.lists.keep(EDITOR, n, "IV-21.1", 900, 900), BadInput),
        (lambda a, n: a.lists.keep(EDITOR, n, "IV-21.1", 0, 99_999_999), BadInput),
        (lambda a, n: a.lists.keep(EDITOR, n, "IV-21.1", 0, 900, "x" * (MOST_NOTE + 1)), BadInput),
        (lambda a, n: a.lists.move(EDITOR, 999, 1), NotFound),
    ],
)
def test_bad_input_is_told_and_changes_nothing(cast_archive: Archive, wall: int, act: object, error: type[ToldHereError]) -> None:
    before = cast_archive.lists.page(EDITOR, wall)
    with pytest.raises(error) as told:
        act(cast_archive, wall)  # type: ignore[operator]
    assert told.value.message and cast_archive.lists.page(EDITOR, wall) == before


def test_the_exhibition_sees_what_was_chosen_from_an_item(cast_archive: Archive, wall: int) -> None:
    code = cast_archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern down Net Row", "exhibition")
    assert [i.excerpts for i in cast_archive.lists.page(EDITOR, wall).items][:2] == [(code,), ()]


@pytest.fixture(scope="module")
def at_leisure(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """An archive to look at, shared."""
    archive = Archive.open(copy_of(made_cast, tmp_path_factory.mktemp("leisure") / "archive"), {}, cast.clock)
    yield archive
    archive.close()


def test_tellings_of_one_event_side_by_side(at_leisure: Archive) -> None:
    """1968 in IV-21 and the flood in IV-25 are told of different people; who is closed is in none of it."""
    event = next(n for n, text in at_leisure.overview.choices(EDITOR)["events"] if "flood" in text)
    found = at_leisure.overview.beside(EDITOR, event=event)
    assert {h.recording for h in found.hits} == {"IV-25.1"} and found.passages[0] is not None
    row = next(n for n, name in at_leisure.overview.choices(EDITOR)["places"] if name == "Tarnwick")
    both = at_leisure.overview.beside(EDITOR, place=row, decade="1960")
    assert {h.recording for h in both.hits} >= {"IV-21.1", "IV-25.1", "IV-26.1"} and not {"IV-22.1", "IV-24.1"} & {h.recording for h in both.hits}
    when = next(c for c in both.compared if c.kind == "date")
    assert when.agrees == "differs", "1968 and the winter of 1962 have no day in common"
    reader = at_leisure.overview.beside(READER, place=row, decade="1960")
    unnamed = [h for h in reader.hits if h.speakers == ("Name withheld",)]
    assert len(unnamed) <= 1, "a reader is not told that there are two without a name"
    for asked in ({"event": 999}, {"place": 999, "decade": "1960"}):
        with pytest.raises(NotFound):
            at_leisure.overview.beside(EDITOR, **asked)  # type: ignore[arg-type]
    with pytest.raises(BadInput):
        at_leisure.overview.beside(EDITOR, place=row)
