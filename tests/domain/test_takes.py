"""Names and times of files on a card. Patterns of names are common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain import clocks
from archive.domain.takes import Agree, Came, at_once, beside_by_name, goes_on, next_by_name

FORM = ("pcm_s16le", 48_000, 16, 1)
TODAY = date(2026, 6, 1)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("REC0001.WAV", "REC0002.WAV"), ("ZZ_001-01.wav", "ZZ_001-02.wav"), ("240512_0009.wav", "240512_0010.wav"),
        ("T01_Tr1_1.WAV", "T01_Tr1_2.WAV"), ("Take A.wav", "Take B.wav"), ("T-009.wav", "T-10.WAV"),
    ],
)  # fmt: skip
def test_the_next_name(first: str, second: str) -> None:
    assert next_by_name(first, second) and not next_by_name(second, first) and not beside_by_name(first, second)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("REC0001.WAV", "REC0003.WAV"), ("REC0001.WAV", "REC0001.WAV"), ("REC0001.WAV", "REC0002.MP3"), ("A01_1.wav", "B01_2.wav"),
        ("T1_Tr1.wav", "T1_Tr2.wav"), ("T1_Tr1.wav", "T2_Tr2.wav"), ("Ada.wav", "Adb.wav.wav"), ("x.wav", "y2.wav"), ("Z.wav", "[.wav"),
    ],
)  # fmt: skip
def test_no_next_name(first: str, second: str) -> None:
    assert not next_by_name(first, second)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("T01_Tr1.WAV", "T01_Tr2.WAV"), ("240512_L.wav", "240512_R.wav"), ("a left.wav", "a right.wav"), ("CH01_x.wav", "CH02_x.wav"),
        ("walk-mic1.wav", "walk-mic2.wav"),
    ],
)  # fmt: skip
def test_two_microphones_by_name(first: str, second: str) -> None:
    assert beside_by_name(first, second) and not beside_by_name(second, first)
    assert not next_by_name(first, second)


@pytest.mark.parametrize(("first", "second"), [("Tr1.wav", "ch2.wav"), ("REC1.wav", "REC2.wav"), ("film1.wav", "film2.wav"), ("a_L.wav", "b_R.wav"), ("Carl.wav", "Carr.wav")])
def test_no_two_microphones_by_name(first: str, second: str) -> None:
    assert not beside_by_name(first, second)


def came(start: int | None, length: int, counted: bool = True, closed: int | None = None) -> Came:
    return Came("x.wav", FORM, length, start, counted, closed)


@given(start=st.integers(0, 86_400_000), length=st.integers(1, 20_000_000), gap=st.integers(-20_000, 20_000), counted=st.booleans())
def test_parts_follow_without_a_gap(start: int, length: int, gap: int, counted: bool) -> None:
    """Counted in samples the second starts within 2 ms of the end of the first; by a clock of whole seconds within 2 s."""
    second = came(start + length + gap, 1000, counted)
    assert goes_on(came(start, length, counted), second) is (Agree.YES if abs(gap) <= (2 if counted else 2000) else Agree.NO)
    assert at_once(came(start, length), came(start + gap, length, counted)) is (Agree.YES if abs(gap) <= (2 if counted else 2000) else Agree.NO)


def test_times_of_files_only_suggest() -> None:
    assert goes_on(came(None, 600_000, closed=10_000_000), came(None, 600_000, closed=10_601_500)) is Agree.MAYBE
    assert goes_on(came(None, 600_000, closed=10_000_000), came(None, 600_000, closed=10_900_000)) is Agree.OPEN
    assert goes_on(came(None, 5_000, closed=10_000_000), came(None, 5_000, closed=10_005_000)) is Agree.OPEN, "too short to say"
    assert at_once(came(None, 600_000, closed=10_000_000), came(None, 600_000, closed=10_001_000)) is Agree.MAYBE
    assert at_once(came(None, 600_000), came(None, 500_000)) is Agree.NO


# -- clocks --------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("day", "time", "word"),
    [
        ("1980-01-01", "00:00:12", "clocks start there"), ("1970-01-01", "", "clocks start there"), ("2000-01-20", "14:00:00", "clocks start there"),
        ("1904-01-01", "", "clocks start there"), ("2015-01-01", "00:03:00", "clocks start there"), ("1992-05-05", "", "before there were such recorders"),
        ("2026-06-03", "", "still to come"), ("2093-01-01", "10:00:00", "still to come"),
        ("2024-05-12", "10:00:00", ""), ("2026-06-02", "", ""), ("2015-01-01", "11:00:00", ""), ("", "", ""),
    ],
)  # fmt: skip
def test_clocks_that_were_never_set(day: str, time: str, word: str) -> None:
    found = clocks.doubt(day, time, TODAY)
    assert (word in found) if word else found == ""


@given(st.dates(date(2001, 1, 1), TODAY), st.integers(1, 23))
def test_a_day_between_is_not_doubted(day: date, hour: int) -> None:
    assert clocks.doubt(day.isoformat(), f"{hour:02d}:30:00", TODAY) == ""


@given(st.dates(TODAY + timedelta(days=2), date(9999, 12, 31)))
def test_a_day_to_come_is_doubted(day: date) -> None:
    assert clocks.doubt(day.isoformat(), "10:00:00", TODAY)
