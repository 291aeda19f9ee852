"""Places of the scenario's gazetteer in spoken words; names by their time; reference values for likeness of names."""

import jellyfish
import pytest
from rapidfuzz.distance import JaroWinkler

from archive.rules.places import Gazetteer, Place, primed_names, suggest_places

# Project choices on SCENARIO's gazetteer: what is said → the places, in order.
SAID = [
    ("We lived in Net Row by the Steps.", ["Net Row", "Gull Steps"]),
    ("Net Row's end house.", ["Net Row"]),
    ("Net Row’s end house.", ["Net Row"]),
    ("They called it Netrow.", ["Net Row"]),
    ("net row was never dry", ["Net Row"]),
    ("Down the Gull Steps to the Lower Quay.", ["Gull Steps", "Lower Quay"]),
    ("The steps were wet.", []),
    ("Mind the steps, she said.", []),
    ("We sat on the Steps.", ["Gull Steps"]),
    ("The Steps were wet.", ["Gull Steps"]),
    ("Steps were taken.", []),
    ("It was a long walk to the quay.", []),
    ("Along the Walk and onto the Quay.", ["Ropewalk", "Lower Quay"]),
    ("The Rope Walk, or the Ropewalk.", ["Ropewalk", "Ropewalk"]),
    ("The Rope-Walk.", ["Ropewalk"]),
    ("She worked at the cannery all her life.", ["Cannery Wharf"]),
    ("Lund's yard, that was the foundry.", ["Foundry Yard", "Foundry Yard"]),
    ("Lunds yard.", ["Foundry Yard"]),
    ("The Sallow came up.", ["River Sallow"]),
    ("Along the Shallow.", ["River Sallow"]),
    ("His face was sallow.", []),
    ("A row of nets, a net in a row.", []),
    ("There was a mission, and a beacon.", []),
    ("At the Mission in Saltpan Square.", ["Mission Hall", "Saltpan Square"]),
    ("Coldharbour Estate, they put us in the new houses.", ["Coldharbour Estate", "Coldharbour Estate"]),
    ("We saw the Net, Row by row.", []),
]


@pytest.mark.parametrize(("text", "wanted"), SAID)
def test_places_in_speech(text, wanted, said, town) -> None:  # type: ignore[no-untyped-def]
    found = suggest_places(said(text), town)
    assert [s.value for s in found] == wanted
    assert all(s.evidence in text and s.kind == "place" and 0 < s.sure <= 1 for s in found)


def test_an_old_name_is_a_place_of_its_time(said, town) -> None:  # type: ignore[no-untyped-def]
    """Linked Places 1.3, the Abingdon check of CHECKS section 11, on one street with two names (renamed in 1979)."""
    told = {d: suggest_places(said("in Net Row"), town, [d])[0] for d in ("1960", "1985", "1979")}
    assert {d: s.value for d, s in told.items()} == {"1960": "Net Row", "1985": "Harbour View", "1979": "Net Row"}
    assert told["1985"].reckoning == "Net Row said; called Harbour View from 1979; the memory is of 1985"
    assert suggest_places(said("Harbour View"), town, ["1960"])[0].value == "Net Row"
    assert suggest_places(said("Harbour View"), town)[0].value == "Harbour View"


def test_one_name_that_lay_in_two_counties(said) -> None:  # type: ignore[no-untyped-def]
    """CHECKS section 11, Linked Places 1.3: in the one county to 1974, in the other from 1974 (names invented here)."""
    both = Gazetteer.of(
        [
            Place("Abbotsford (Northshire)", also=("Abbotsford",), within="Northshire", valid_until="1974"),
            Place("Abbotsford (Southshire)", also=("Abbotsford",), within="Southshire", valid_from="1974"),
        ]
    )
    within = [both.around(suggest_places(said("in Abbotsford"), both, [d])[0].value) for d in ("1960", "1980")]
    assert within == [("Northshire",), ("Southshire",)]
    undated = suggest_places(said("in Abbotsford"), both)[0]
    assert undated.sure <= 0.5 and "also borne by" in undated.reckoning


def test_what_lies_within(town) -> None:  # type: ignore[no-untyped-def]
    assert town.around("Cannery Wharf") == ("Lower Quay", "Tarnwick")
    assert set(town.inside("Lower Quay")) == {"Lower Quay", "Cannery Wharf", "Ferry Slip"}


def test_a_circle_of_places_ends() -> None:
    ring = Gazetteer.of([Place("A", within="B"), Place("B", within="A"), Place("C", within="C")])
    assert ring.around("A") == ("B",)
    assert ring.around("C") == ()


def test_a_place_out_of_its_time_is_doubted(said, town) -> None:  # type: ignore[no-untyped-def]
    [found] = suggest_places(said("Coldharbour"), town, ["1950"])
    assert found.sure <= 0.5 and "not recorded for 1950" in found.reckoning


@pytest.mark.parametrize(
    ("one", "other", "likeness"),
    [("MARTHA", "MARHTA", 0.9611), ("DWAYNE", "DUANE", 0.8400), ("DIXON", "DICKSONX", 0.8133)],
)
def test_jaro_winkler_reference_values(one: str, other: str, likeness: float) -> None:
    """CHECKS section 11: rapidfuzz and jellyfish agree with the published values."""
    assert JaroWinkler.similarity(one, other) == pytest.approx(likeness, abs=5e-5)
    assert jellyfish.jaro_winkler_similarity(one, other) == pytest.approx(likeness, abs=5e-5)


def test_metaphone_reference_values_and_why_mis_hearings_are_listed(said, town) -> None:  # type: ignore[no-untyped-def]
    """CHECKS section 11: jellyfish's test data; Leicester and Lester differ, hence an alias table that only suggests."""
    assert jellyfish.metaphone("metaphone") == "MTFN" and jellyfish.metaphone("kentucky") == "KNTK"
    assert jellyfish.metaphone("Leicester") != jellyfish.metaphone("Lester")
    [heard] = suggest_places(said("down in Tarnick"), town)
    assert (heard.value, heard.rule) == ("Tarnwick", "heard as") and heard.sure <= 0.6


def test_names_that_prime_the_engine() -> None:
    """A name, and behind it what else it is called where the gazetteer says that this is misheard; no other spelling of one name."""
    listed = [
        Place("Cannery Wharf", also=("the cannery", "the landing"), heard_as=("the canary",)),
        Place("Ropewalk", also=("the Rope Walk", "the Walk"), heard_as=("Rope Walk",)),
        Place("Lower Quay", also=("the Quay",), heard_as=("Lower Key",)),
        Place("Foundry Yard", also=("the foundry",), heard_as=("Foundryard", "Foundry Art")),
    ]
    assert primed_names(listed) == ["Cannery Wharf", "the cannery", "Ropewalk", "Lower Quay", "Foundry Yard"]
    assert primed_names([]) == []
