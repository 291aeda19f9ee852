"""What agrees, overlaps or differs between tellings. Dates: EDTF intervals by their bounds (Library of Congress, 4 Feb 2019); the
relations "within" of places and "broader" of themes are transitive (SKOS Reference, W3C 2009, §8.1)."""

from __future__ import annotations

import pytest

from archive.domain.beside import Agrees, compare, same_time, within
from archive.domain.phrases import agrees

PLACES = within({"Net Row": "Lower Quay", "Lower Quay": "Tarnwick", "Beacon Hill": "Tarnwick", "A": "B", "B": "A"})


@pytest.mark.parametrize(
    ("sides", "expected", "apart"),
    [
        ([["1968"], ["1968"]], Agrees.SAME, ()),
        ([["1968-01"], ["1968"]], Agrees.OVERLAPS, ()),
        ([["1968-01-14/1968-01-16"], ["1968-01", "1970"]], Agrees.OVERLAPS, ()),
        ([["1968"], ["1969"]], Agrees.DIFFERS, ((1, 2),)),
        ([["1962-12/1963-02"], ["1963"], ["1968"]], Agrees.DIFFERS, ((1, 3), (2, 3))),
        ([["196X"], [], ["1968"]], Agrees.OVERLAPS, ()),
        ([["1968"], []], Agrees.ONE, ()),
        ([[], []], Agrees.NOTHING, ()),
        ([], Agrees.NOTHING, ()),
    ],
)
def test_dates(sides: list[list[str]], expected: Agrees, apart: tuple[tuple[int, int], ...]) -> None:
    found = compare("date", sides, same_time)
    assert (found.agrees, found.apart) == (expected, apart) and agrees(found)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (["Net Row"], ["Net Row"], Agrees.SAME), (["Net Row"], ["Tarnwick"], Agrees.OVERLAPS), (["Net Row"], ["Beacon Hill"], Agrees.DIFFERS),
        (["Net Row", "Beacon Hill"], ["Beacon Hill"], Agrees.OVERLAPS), (["A"], ["B"], Agrees.OVERLAPS), (["A"], ["Net Row"], Agrees.DIFFERS),
    ],
)  # fmt: skip
def test_places_one_within_another_and_a_ring_that_never_ends(one: list[str], other: list[str], expected: Agrees) -> None:
    assert compare("place", [one, other], PLACES).agrees == compare("place", [other, one], PLACES).agrees == expected
