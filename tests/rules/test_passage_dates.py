"""A passage read turn by turn: what is counted from a time told before, and how far the words reach that tell it.

Values are project choices (the docstring of test_told_times.py); every one is read by the `edtf` library there or here.
"""

import warnings
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.dates import bounds
from archive.domain.values import Word
from archive.rules.chains import shifted
from archive.rules.dates import Event, Turn, dates_in_passage
from archive.rules.suggestion import Suggestion
from archive.rules.told import FROM_BIRTH

with warnings.catch_warnings():
    # edtf 5.0.2: a diagnostic warning of pyparsing at import
    warnings.filterwarnings("ignore", message="warn_multiple_tokens_in_named_alternation")
    import edtf

RECORDED = date(2024, 5, 14)


def read(calendar, *turns: tuple[str, str | None]) -> list[Suggestion]:  # type: ignore[no-untyped-def]
    """Turns of (text, born), a word every 300 ms, one after another."""
    at, made = 0, []
    for text, born in turns:
        words = [Word(t, at + n * 300, at + n * 300 + 250) for n, t in enumerate(text.split())]
        made.append(Turn(words, born))
        at = words[-1].end_ms + 500
    found = dates_in_passage(made, RECORDED, calendar)
    assert all(edtf.is_valid_edtf(s.value) for s in found)
    return found


@pytest.mark.parametrize(
    ("turns", "wanted"),
    [
        ((("What about 1974?", None), ("The year after, we lost the house.", "1938")), ["1974", "1975"]),
        ((("In 1974 he lost his place.", "1938"), ("And then?", None), ("Two years later he was dead.", "1938")), ["1974", "1976"]),
        ((("Our Jean was born in 1958.", "1938"), ("And you?", None), ("The year before she was born we had the shop.", "1938")), ["1958", "1957"]),
        ((("It was the 14th of January 1968.", "1959"), ("The next morning it was quiet.", "1959")), ["1968-01-14", "1968-01-15"]),
        ((("I was ten when it burnt.", "1942"), ("The year after, they built it up.", "1942")), ["1952/1953", "1953/1954"]),
        ((("In the sixties, that was.", "1942"), ("Two years later we moved.", "1942")), ["196X"]),  # too vague to count from
        ((("Two years later we moved.", "1942"),), []),
        ((("In 1974 he lost his place.", "1938"), ("It's a car park now.", "1938"), ("The year after, we left.", "1938")), ["1974", "2024-05-14", "1975"]),
        ((("Were you there in the strike?", None), ("I was. My uncle was beaten on the slip in May.", "1957")), ["1974-03/1974-06", "1974-05"]),
        ((("Were you there in the strike?", None), ("I was. We always went to my aunt's in August.", "1957")), ["1974-03/1974-06"]),
        ((("The flood took those, five years later.", "1929"),), ["1968-01-14/1968-01-16"]),  # the flood is what came later
    ],
)
def test_times_counted_from_one_told_before(turns, wanted, calendar) -> None:  # type: ignore[no-untyped-def]
    assert [s.value for s in read(calendar, *turns)] == wanted


def test_what_is_counted_reaches_to_the_words_it_is_counted_from(calendar) -> None:  # type: ignore[no-untyped-def]
    """So a seal, a mask or a withdrawal on the one holds the other back as well: the gate looks at the stretch."""
    first, second = read(calendar, ("In 1974 he lost his place.", "1938"), ("The year after, we lost the house.", "1938"))
    assert second.evidence == "The year after," and second.start_ms == first.start_ms and "1974" in second.reckoning
    later, born = read(calendar, ("The year before our Jean was born, and she was born in 58, Dad bought it.", "1938"))
    assert (later.value, born.value) == ("1957", "1958") and later.end_ms >= born.end_ms


def test_what_follows_from_an_age_says_so_too(calendar) -> None:  # type: ignore[no-untyped-def]
    """The gate hides reckonings that begin so from readers: they give a birth year away (gate/show.py)."""
    for text in ("When I was ten.", "The year I was born.", "I was in the army.", "When I started school.", "In my teens.", "On my tenth birthday."):
        [made] = read(calendar, (text, "1942"))
        assert made.reckoning.startswith(FROM_BIRTH), text
    _, after = read(calendar, ("I was ten then.", "1942"), ("The year after, we left.", "1942"))
    assert after.reckoning.startswith(FROM_BIRTH)
    then, later = read(calendar, ("I was ten then.", "1942"), ("The year after, no, two years after, we left.", "1942"))
    assert later.value == "1954/1955" and later.reckoning.startswith(FROM_BIRTH) and later.start_ms == then.start_ms
    for text in ("From 52 until I was fourteen.", "From the flood until I was thirty."):
        [made] = read(calendar, (text, "1942"))
        assert made.value.endswith(("1956", "1972")) and made.reckoning.startswith(FROM_BIRTH), text


def test_nothing_reaches_into_another_passage(calendar) -> None:  # type: ignore[no-untyped-def]
    assert [s.value for s in read(calendar, ("In 1974 he lost his place.", "1938"))] == ["1974"]
    assert read(calendar, ("The year after, we lost the house.", "1938")) == []


@given(st.integers(1500, 2500), st.integers(1, 12), st.integers(1, 28), st.integers(-40, 40).filter(bool))
def test_counting_on_and_back_comes_home(year: int, month: int, day: int, count: int) -> None:
    for core, unit in ((f"{year}", "years"), (f"{year}-{month:02d}", "months"), (f"{year}-{month:02d}-{day:02d}", "days")):
        there = shifted(core, count, unit)
        assert there and shifted(there, -count, unit) == core
        gone = bounds(there)[0], bounds(core)[0]
        assert gone[0] and gone[1] and (gone[0] > gone[1]) == (count > 0)


@pytest.mark.parametrize("edtf_of", ["0001", "0001-01-01", "9999", "9999-12-31", "../1968", "1968/.."])
def test_a_calendar_at_the_ends_of_time_breaks_nothing(edtf_of) -> None:  # type: ignore[no-untyped-def]
    """Bad input: an event of year 1 or 9999, or open at one end, gives times on the calendar or none."""
    events = [Event("the flood", edtf_of)]
    for text in ("Ten years before the flood.", "Two weeks after the flood, and the year after that, and the next spring.", "The January of the flood.", "Six months before the flood.", "The winter before the flood."):
        for made in read(events, (text, "1942")):
            assert bounds(made.value)
