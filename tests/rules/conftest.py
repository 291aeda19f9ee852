"""The scenario's town: its gazetteer, calendar and themes (SCENARIO.md), and words with times."""

from collections.abc import Callable

import pytest

from archive.domain.values import Word
from archive.rules.calendar import Event
from archive.rules.places import Gazetteer, Place
from archive.rules.themes import Theme, Thesaurus


@pytest.fixture(scope="session")
def said() -> Callable[[str], list[Word]]:
    """Words of a text, 250 ms each, with 50 ms between them."""

    def words(text: str) -> list[Word]:
        return [Word(t, n * 300, n * 300 + 250) for n, t in enumerate(text.split())]

    return words


@pytest.fixture(scope="session")
def town() -> Gazetteer:
    return Gazetteer.of(
        [
            Place("Tarnwick", "town", also=("the town",), heard_as=("Tarnick",)),
            Place("River Sallow", "river", also=("the Sallow", "the river"), heard_as=("the Shallow",)),
            Place("Net Row", "street", "Tarnwick", heard_as=("Netrow",), valid_until="1979"),
            Place("Harbour View", "street", "Tarnwick", valid_from="1979", same_as="Net Row"),
            Place("Ropewalk", "street", "Tarnwick", also=("the Rope Walk", "the Walk")),
            Place("Saltpan Square", "square", "Tarnwick", also=("the Pans", "Salt Pan Square")),
            Place("Gull Steps", "stair", "Tarnwick", also=("the Steps",)),
            Place("Beacon Hill", "hill", "Tarnwick", also=("the Beacon",)),
            Place("Cannery Wharf", "wharf", "Lower Quay", also=("the cannery",), valid_from="1921", valid_until="1983"),
            Place("Lower Quay", "quay", "Tarnwick", also=("the Quay",)),
            Place("Foundry Yard", "works", "Tarnwick", also=("the foundry", "Lund's yard"), valid_until="1991"),
            Place("Mission Hall", "hall", "Saltpan Square", also=("the Mission",)),
            Place("Ferry Slip", "slipway", "Lower Quay", also=("the slip", "the landing"), valid_until="1987"),
            Place("Coldharbour Estate", "estate", "Tarnwick", also=("Coldharbour", "the new houses"), valid_from="1970"),
        ]
    )


@pytest.fixture(scope="session")
def calendar() -> tuple[Event, ...]:
    return (
        Event("the Sallow flood", "1968-01-14/1968-01-16", ("the flood", "the big flood")),
        Event("the ferry strike", "1974-03/1974-06", ("the strike",)),
        Event("Net Row renamed", "1979"),
        Event("the cannery closing", "1983-10", ("when the cannery shut",)),
        Event("the bridge opening", "1987-05-09", ("when the bridge opened", "the last crossing")),
        Event("the long winter", "1962-12/1963-03"),
    )


@pytest.fixture(scope="session")
def thesaurus() -> Thesaurus:
    return Thesaurus.of(
        [
            Theme("work", "", "Earning a living on and around the ferry.", ("ferry crew", "cannery", "foundry", "wages", "shift")),
            Theme("water", "", "The river and what it does.", ("flood", "river", "weather", "tide", "drown")),
            Theme("protest and police", "", "Strike, arrest, informers, fear.", ("strike", "constable", "arrest", "picket")),
            Theme("childhood", "", "School, play, chores.", ("school", "play", "chores", "teacher")),
            Theme("housing clearance", "home and street", "Being moved away by the council.", ("moving away", "council", "evict")),
        ]
    )
