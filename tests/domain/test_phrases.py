"""Times, days and numbers as they are said on the pages (project choice)."""

from __future__ import annotations

from datetime import date

import pytest

from archive.domain.phrases import (
    begin,
    clock,
    clock_ms,
    day,
    exact,
    from_to,
    lasting,
    many,
    stretch,
    told,
    told_in,
    wish,
)
from archive.errors import BadInput


@pytest.mark.parametrize(
    ("ms", "said"), [(0, "0:00"), (999, "0:00"), (7000, "0:07"), (725_000, "12:05"), (3_725_000, "1:02:05"), (-5, "0:00")]
)
def test_clock(ms: int, said: str) -> None:
    assert clock(ms) == said


@pytest.mark.parametrize(
    ("text", "ms"),
    [("1:16", 76_000), ("0:00", 0), ("1:16.5", 76_500), ("1:16.567", 76_567), ("1:02:05", 3_725_000), ("76567", 76_567), ("90:00", 5_400_000)],
)
def test_times_as_people_write_them(text: str, ms: int) -> None:
    assert clock_ms(text) == ms
    assert clock_ms(exact(ms)) == ms, "what is printed can be typed"


@pytest.mark.parametrize("text", ["", "1:6", "1:60", "1:75:00", "-1", "16.5", "1:16.5555", "x", "9" * 20, "1:²6", "999:59:59"])
def test_what_is_no_time_is_told(text: str) -> None:
    with pytest.raises(BadInput):
        clock_ms(text)


def test_a_stretch_as_people_write_it() -> None:
    assert stretch("TW-01.1@1:16-1:25") == ("TW-01.1", 76_000, 85_000)
    assert stretch("TW-01.1@76567-85896") == ("TW-01.1", 76_567, 85_896)
    assert stretch(f"TW-01.1@{from_to(76_567, 85_896)}") == ("TW-01.1", 76_567, 85_896)
    for odd in ("TW-01.1", "TW-01.1@1:16", "TW-01.1@1:25-1:16", "@1:16-1:25", "TW-01.1@1:16-x"):
        with pytest.raises(BadInput):
            stretch(odd)


@pytest.mark.parametrize(
    ("ms", "said"), [(1000, "1 second"), (48_000, "48 seconds"), (200_000, "3 min 20 s"), (3_900_000, "1 h 05 min")]
)
def test_lasting(ms: int, said: str) -> None:
    assert lasting(ms) == said


def test_day_and_numbers() -> None:
    assert day(date(2026, 5, 2)) == "2 May 2026"
    assert day("2026-05-02T10:00:00+00:00") == "2 May 2026"
    assert day(None) == day("") == ""
    assert [many(n, "word") for n in (0, 1, 1200)] == ["no words", "1 word", "1,200 words"]
    assert many(2, "person", "people") == "2 people"
    assert begin("heard by E-01") == "Heard by E-01"
    assert begin("") == ""


@pytest.mark.parametrize(
    ("edtf", "said"),
    [  # EDTF of CHECKS §1 (Library of Congress, 4 Feb 2019); the words are a project choice
        ("1968", "1968"), ("196X", "the 1960s"), ("1984~", "about 1984"), ("1984?", "perhaps 1984"),
        ("1968-01-14/1968-01-16", "14 January 1968 to 16 January 1968"), ("1962-12/1963-03", "December 1962 to March 1963"),
        ("2001-21", "spring 2001"), ("1974~/1976~", "about 1974 to about 1976"),
        ("../2006", "until 2006"), ("2004-01-01/..", "from 1 January 2004"), ("../1983~", "until about 1983"), ("[1667, 1668, 1670..1672]", "[1667, 1668, 1670..1672]"), ("1985-13", "1985-13"),
    ],
)  # fmt: skip
def test_told_dates(edtf: str, said: str) -> None:
    assert told(edtf) == said


def test_dates_inside_a_sentence() -> None:
    assert told_in("the Sallow flood = 1968-01-14/1968-01-16; born 1938") == "the Sallow flood = 14 January 1968 to 16 January 1968; born 1938"
    assert told_in("") == "" and told_in("aged 12, ...") == "aged 12, ..."


def test_wishes_are_words() -> None:
    assert wish("not_heard") == "not to be heard"
    assert wish("something_new") == "something new"
