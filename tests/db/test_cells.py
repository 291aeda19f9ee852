"""The grid of places and decades = what Find answers, cell by cell; and a slow count in plain Python over the same rows.

Random tags on the cast, with closed speech, masks and partial answers. Equality of counted and filtered: DESIGN §4, 4.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import select

from archive.app import Archive, Asked
from archive.db import describing, recordings, units
from archive.db import tables as t
from archive.domain.values import Viewer
from archive.gate.indexing import index_recording
from archive.gate.reading import Readings
from archive.rules.suggestion import Suggestion
from archive.services.list_rows import Grid
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import copy_of

PLACES = ("Tarnwick", "Net Row", "Lower Quay", "Ferry Slip", "Beacon Hill")
YEARS = (1948, 1962, 1968, 1974)


@pytest.fixture(scope="module")
def told(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """The cast, whose recordings are cut by seals and told of places and years at random (seeded)."""
    archive = Archive.open(copy_of(made_cast, tmp_path_factory.mktemp("told") / "archive"), {}, cast.clock)
    rng = np.random.default_rng(7)
    for member in cast.CAST:
        if member.code not in ("N-23", "N-24"):
            archive.consent.seal(EDITOR, cast.recording_of(member.code), 2000, 2600, "cut")
        with archive.rooms.db.write() as connection:
            row = recordings.named(connection, cast.recording_of(member.code))
            found = []
            for _ in range(6):
                at = int(rng.integers(0, 4000))
                year = int(rng.choice(YEARS))
                found.append(Suggestion("place", str(rng.choice(PLACES)), 0, 0, at, at + 300, "x", "given", "", 1.0))
                found.append(Suggestion("date", str(year), 0, 0, at + 100, at + 500, "x", "given", "", 1.0, (year // 10 * 10,)))
            describing.suggest(connection, row.id, found, "test", archive.rooms.now())
            index_recording(connection, row.id, archive.rooms.context())
    yield archive
    archive.close()


def slowly(archive: Archive, viewer: Viewer, asked: Asked) -> tuple[int, int, set[str]]:
    """(passages, ms, narrators) of a question, by Find."""
    with archive.rooms.db.read() as connection:
        found = archive.finding.every(Readings(connection, archive.rooms.context()), viewer, asked)
        heard = units.narrators_of(connection, [u.id for u in found])
    return len(found), sum(u.end_ms - u.start_ms for u in found), {str(p) for u in found for p in heard.get(u.id, ())}


def compared(archive: Archive, viewer: Viewer, grid: Grid) -> int:
    """How many cells have something; each is what Find answers."""
    full = 0
    for row in (r for r in grid.rows if r.name in (*PLACES, "River Sallow", "Mission Hall")):
        assert [c.decade for c in row.cells] == list(grid.decades)
        for cell in row.cells:
            passages, ms, people = slowly(archive, viewer, Asked(place=row.name, decade=str(cell.decade)))
            usable, usable_ms, _ = slowly(archive, viewer, Asked(place=row.name, decade=str(cell.decade), usable_for=grid.use))
            assert (cell.passages, cell.ms, cell.usable, cell.usable_ms) == (passages, ms, usable, usable_ms), (row.name, cell.decade)
            assert cell.people + cell.others <= len(people) and (cell.others or cell.people == len(people)), (row.name, cell.decade)
            full += cell.passages > 0
    return full


@pytest.mark.parametrize(("viewer", "use"), [(KEEPER, "exhibition"), (READER, "listening_post")])
def test_each_cell_is_what_find_answers(told: Archive, viewer: Viewer, use: str) -> None:
    grid = told.overview.grid(viewer, use)
    assert compared(told, viewer, grid) >= 8 and grid.empty > 0
    assert {r.name: r.depth for r in grid.rows}["Tarnwick"] == 0 and {r.name: r.depth for r in grid.rows}["Net Row"] >= 1


def test_a_cell_against_a_slow_count(told: Archive) -> None:
    """In plain Python over unit_tag itself, of what the same question without a place and decade may find."""
    with told.rooms.db.read() as connection:
        tags = list(connection.execute(select(t.unit_tag)))
        may = {u.id for u in told.finding.every(Readings(connection, told.rooms.context()), KEEPER, Asked())}
    of = {kind: {(x.unit_id, x.value) for x in tags if x.kind == kind and x.unit_id in may} for kind in ("place", "decade")}
    rows = [r for r in told.overview.grid(KEEPER).rows if r.name in ("Beacon Hill", "Ferry Slip")]
    assert len(rows) == 2 and any(c.passages for r in rows for c in r.cells)
    for row in rows:
        for cell in row.cells:
            assert cell.passages == len({u for u, name in of["place"] if name == row.name} & {u for u, d in of["decade"] if d == str(cell.decade)})


def test_a_withdrawal_is_seen_in_the_next_request_and_a_lifted_hold_too(cast_archive: Archive) -> None:
    def lower() -> int:
        return max(c.passages for r in cast_archive.overview.grid(EDITOR).rows if r.name == "Tarnwick" for c in r.cells)

    before = lower()
    cast_archive.consent.pause(EDITOR, "N-21", "telephoned")
    assert lower() == before - 1
    hold = next(h.id for h in cast_archive.people.page(KEEPER, "N-21").restraints if h.holds)
    cast_archive.consent.lift(KEEPER, hold, "goes on")
    assert lower() == before


def test_fewer_than_three_without_a_name_are_not_counted_apart(cast_archive: Archive) -> None:
    """To a reader a cell with one unnamed narrator says "others"; an editor, who knows the codes, has the number."""
    for viewer, people, others in ((READER, 0, True), (EDITOR, 1, False)):
        row = next(r for r in cast_archive.overview.grid(viewer).rows if r.name == "Ropewalk")
        cell = next(c for c in row.cells if c.passages)
        assert (cell.people, cell.others) == (people, others)


def test_an_empty_archive_has_no_grid(tmp_path: Path) -> None:
    archive = Archive.create(tmp_path / "new", KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock)
    grid = archive.overview.grid(EDITOR)
    assert (grid.decades, grid.rows, grid.passages) == ((), (), 0)
    assert archive.questions.list(EDITOR) == () and archive.lists.list(EDITOR) == ()
    archive.close()
