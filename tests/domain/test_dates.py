"""EDTF bounds against the `edtf` library 5.0.2 and CHECKS section 1; what must be refused; ages and coming of age."""

import warnings
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain import dates
from archive.errors import BadInput

with warnings.catch_warnings():
    # edtf 5.0.2: a diagnostic warning of pyparsing at import
    warnings.filterwarnings("ignore", message="warn_multiple_tokens_in_named_alternation")
    import edtf

# Source: Library of Congress, EDTF specification of 4 Feb 2019; bounds as edtf 5.0.2 gives them (CHECKS section 1).
TABLE = [
    ("196X", "1960-01-01", "1969-12-31"),
    ("1984~", "1984-01-01", "1984-12-31"),
    ("1984?", "1984-01-01", "1984-12-31"),
    ("1984%", "1984-01-01", "1984-12-31"),
    ("1964/2008", "1964-01-01", "2008-12-31"),
    ("../2006", None, "2006-12-31"),
    ("2004-01-01/..", "2004-01-01", None),
    ("2001-21", "2001-03-01", "2001-05-31"),
    ("2003-22", "2003-06-01", "2003-08-31"),
    ("2000-23", "2000-09-01", "2000-11-30"),
    ("[1667, 1668, 1670..1672]", "1667-01-01", "1672-12-31"),
]

# More forms; the library alone is the judge of these.
MORE = [
    "1968", "1968-01", "1968-01-14", "1968-02", "1972-02", "1962-12/1963-02", "1974~/1976~", "19XX", "1960-XX",
    "1968-01-14/1968-01-16", "1974-03/1974-06", "{1960,1961}", "[1959, 1960]", "1968-01~", "2004-02-29",
]  # fmt: skip


def library_bounds(text: str) -> tuple[date | None, date | None]:
    parsed = edtf.parse_edtf(text)
    ends = (parsed.lower_strict(), parsed.upper_strict())
    return tuple(date(*e[:3]) if hasattr(e, "tm_year") else None for e in ends)  # type: ignore[return-value]


@pytest.mark.parametrize(("text", "lower", "upper"), TABLE)
def test_bounds_are_those_of_the_specification_table(text: str, lower: str | None, upper: str | None) -> None:
    wanted = (lower and date.fromisoformat(lower), upper and date.fromisoformat(upper))
    assert dates.bounds(text) == wanted
    assert library_bounds(text) == wanted


@pytest.mark.parametrize("text", MORE)
def test_bounds_are_those_of_the_library(text: str) -> None:
    assert dates.bounds(text) == library_bounds(text)


@given(
    st.dates(date(1, 1, 1), date(9998, 12, 31)),
    st.sampled_from(["{y:04d}", "{y:04d}-{m:02d}", "{y:04d}-{m:02d}-{d:02d}", "{y:04d}~", "{y:04d}-{m:02d}?"]),
)
def test_any_single_date_has_the_bounds_of_the_library(day: date, form: str) -> None:
    text = form.format(y=day.year, m=day.month, d=day.day)
    assert dates.bounds(text) == library_bounds(text)


# Source: CHECKS section 1, "must be rejected"; the reversed interval is a trap of the library, which takes it.
@pytest.mark.parametrize(
    "text",
    ["1985-02-30", "1985-13", "19850412", "-0000", "196u", "196x", "1985/open", "unknown/1985", "2004-(06)?-11",
     "1964/1960", "", "/", "../..", "1960/1961/1962", "[1960", "{1960]", "[]", "1968-00", "1968-01-00", "68", "0000",
     "1968-24-01", "[1970..1960]", "1968 or so", "١٩٦٨"],
)  # fmt: skip
def test_what_is_no_date_is_refused(text: str) -> None:
    with pytest.raises(BadInput) as caught:
        dates.validate(text)
    assert caught.value.remedy


def test_winter_crosses_the_year() -> None:
    """CHECKS section 1, traps: the library's winter is December alone, so it is written as an interval."""
    assert dates.season(1962, "winter") == "1962-12/1963-02"
    assert dates.bounds("1962-12/1963-02") == (date(1962, 12, 1), date(1963, 2, 28))
    assert dates.bounds("2010-24") == (date(2010, 12, 1), date(2011, 2, 28))
    assert library_bounds("2010-24")[1] == date(2010, 12, 31)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("1968", [1960]), ("196X", [1960]), ("1974~/1976~", [1970]), ("1969-12/1970-02", [1960, 1970]), ("../1987", [1980]),
     ("1970/..", [1970]), ("1938/1951", [1930, 1940, 1950]), ("[1959, 1960]", [1950, 1960]), ("1968-01-14", [1960])],
)  # fmt: skip
def test_decades_that_a_date_touches(text: str, wanted: list[int]) -> None:
    assert dates.decades(text) == wanted


# Source: project choices of CHECKS section 1.
@pytest.mark.parametrize(
    ("born", "first", "last", "wanted"),
    [("1942-05-10", 12, None, "1954-05-10/1955-05-09"), ("1942", 12, None, "1954/1955"), ("1942", 10, None, "1952/1953"),
     ("1942-05", 12, None, "1954-05/1955-05"), ("1942", 9, 10, "1951/1953"), ("1944-02-29", 10, None, "1954-03-01/1955-02-28")],
)  # fmt: skip
def test_at_an_age(born: str, first: int, last: int | None, wanted: str) -> None:
    assert dates.at_age(born, first, last) == wanted


def test_mid_seventies() -> None:
    """CHECKS section 1, project choice: mid-seventies → 1974~/1976~; early and late are what is left."""
    assert dates.part_of_decade(1970, "mid") == "1974~/1976~"
    assert [dates.part_of_decade(1970, p) for p in ("early", "late")] == ["1970~/1973~", "1977~/1979~"]


@pytest.mark.parametrize(
    ("born", "adult_from", "adult_by"),
    [("2011-06-02", "2029-06-02", "2029-06-02"), ("2011", "2029-01-01", "2029-12-31"), ("2011-06", "2029-06-01", "2029-06-30"),
     ("2008-02-29", "2026-03-01", "2026-03-01"), (None, None, None), ("  ", None, None), ("2011/..", "2029-01-01", None)],
)  # fmt: skip
def test_coming_of_age(born: str | None, adult_from: str | None, adult_by: str | None) -> None:
    """18 years: common practice; 29 February becomes 1 March (the careful reading, project choice)."""
    day = dates.adult_days(born)
    assert day.adult_from == (adult_from and date.fromisoformat(adult_from))
    assert day.adult_by == (adult_by and date.fromisoformat(adult_by))


@given(st.dates(date(1850, 1, 1), date(2020, 12, 31)), st.integers(0, 90))
def test_the_years_of_a_life_meet_without_gap(born: date, age: int) -> None:
    one = dates.bounds(dates.at_age(born.isoformat(), age))
    following = dates.bounds(dates.at_age(born.isoformat(), age + 1))
    assert one[1] is not None and following[0] == one[1] + timedelta(days=1)


@pytest.mark.parametrize(
    ("one", "other", "wanted"),
    [("../1979", "1960", True), ("1979/..", "1960", False), ("../1979", "1980", False), ("196X", "1968-01-14", True),
     ("../..x", "1960", None), ("1960/..", "../1970", True), ("1960/..", "../1950", False)],
)  # fmt: skip
def test_overlap(one: str, other: str, wanted: bool | None) -> None:
    if wanted is None:
        with pytest.raises(BadInput):
            dates.overlaps(one, other)
    else:
        assert dates.overlaps(one, other) is wanted
        assert dates.overlaps(other, one) is wanted
