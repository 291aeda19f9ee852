"""A hundred sentences with numbers that are no dates (issue 6). Invented here; that none tells a time is what anybody who reads them says."""

from datetime import date
from pathlib import Path

from archive.rules.dates import suggest_dates
from tests.rules.named import events_of_samples

RECORDED = date(2024, 5, 14)
BORN = ("1934", "1942", "1951", None)
# Read as a time all the same, and why that is borne.
EXCUSED = {
    "It was up in the nineties all that week and the tar ran.": "nothing but the tar tells heat from a decade",
    "The thaw in her voice was something to hear.": "the calendar calls an event “the thaw”; a person rejects it",
}


def test_numbers_that_are_no_dates_give_none(said) -> None:  # type: ignore[no-untyped-def]
    sentences = [s for s in Path(__file__).with_name("no_times.txt").read_text(encoding="utf-8").splitlines() if not s.startswith("#")]
    assert len(set(sentences)) == len(sentences) == 100
    calendar = events_of_samples()
    false = {s for s in sentences for born in BORN if suggest_dates(said(s), born, RECORDED, calendar)}
    print(f"{len(false)} of {len(sentences)} sentences without a time are read as one: {sorted(false)}")
    assert sorted(false) == sorted(EXCUSED)
