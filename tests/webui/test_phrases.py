"""Times, days and numbers as they are said on the pages (project choice)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pytest

from webui.phrases import begin, clock, day, lasting, many, told, wish
from webui.testimony import stretches, words


@pytest.mark.parametrize(
    ("ms", "said"), [(0, "0:00"), (999, "0:00"), (7000, "0:07"), (725_000, "12:05"), (3_725_000, "1:02:05"), (-5, "0:00")]
)
def test_clock(ms: int, said: str) -> None:
    assert clock(ms) == said


@pytest.mark.parametrize(
    ("ms", "said"), [(1000, "1 second"), (48_000, "48 seconds"), (200_000, "3 min 20 s"), (3_900_000, "1 h 05 min")]
)
def test_lasting(ms: int, said: str) -> None:
    assert lasting(ms) == said


def test_day_and_numbers() -> None:
    assert day(date(2026, 5, 2)) == "2 May 2026"
    assert day(None) == ""
    assert [many(n, "word") for n in (0, 1, 1200)] == ["no words", "1 word", "1,200 words"]
    assert many(2, "person", "people") == "2 people"
    assert begin("heard by E-01") == "Heard by E-01"
    assert begin("") == ""


@dataclass
class Spoken:
    text: str
    start_ms: int = 0
    end_ms: int = 200
    doubtful: bool = False
    masked: bool = False
    closed: bool = False
    index: int = 0


def test_words_are_escaped_whoever_said_them() -> None:
    made = words([Spoken('<script>alert("x")</script>', 10), Spoken("a&b", 20, doubtful=True), Spoken("<i>", 30, masked=True)])
    assert "<script" not in made and "<i>" not in made
    assert "&lt;script&gt;" in made and "a&amp;b" in made and "&lt;i&gt;" in made


def test_doubtful_words_are_told_by_words_too() -> None:
    assert "(unsure)" in words([Spoken("chain", doubtful=True)])
    assert "(unsure)" not in words([Spoken("chain")])


def test_stretches_for_the_player() -> None:
    assert stretches([(0, 12_000), (15_000, 90_000)]) == "0-12000,15000-90000"
    assert stretches([]) == ""


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


def test_wishes_are_words() -> None:
    assert wish("not_heard") == "not to be heard"
    assert wish("something_new") == "something new"
