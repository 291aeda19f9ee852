"""Words of the glossary in what is said: by stems, as Find finds them; never under a mask. Words are invented."""

from __future__ import annotations

from archive.rules.glossary import Glosses

LINE = ["The", "herrings", "and", "the", "roker", "were", "salted,", "said", "herring-girls", "of", "[name", "withheld]", "herring", "Roker's"]


def test_words_are_found_by_their_stems_and_the_longest_counts() -> None:
    glosses = Glosses({1: "herring", 2: "roker", 3: "salted", 4: "herring girl"})
    found = glosses.find(LINE)
    assert {LINE[n]: e for n, e in found.items() if LINE[n] in ("herrings", "roker", "salted,")} == {"herrings": 1, "roker": 2, "salted,": 3}
    assert found[LINE.index("Roker's")] == 2
    assert Glosses({1: "girl", 4: "herring girls"}).find(["the", "herring", "girls"]) == {1: 4, 2: 4}


def test_what_stands_for_something_withheld_is_explained_by_nothing() -> None:
    glosses = Glosses({1: "neighbour", 2: "name withheld", 3: "the rope"})
    assert glosses.find(["[a", "neighbour]"], {0, 1}) == {} and glosses.find(["[name withheld]"], {0}) == {}
    assert glosses.find(["the", "[a neighbour]", "rope"], {1}) == {}, "no words run over it"


def test_nothing_asked_nothing_found() -> None:
    assert Glosses({}).find(LINE) == {} and Glosses({1: "…"}).find(LINE) == {} and Glosses({1: "herring"}).find([]) == {}
