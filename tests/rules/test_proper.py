"""Which hidden words can be looked for elsewhere: names proper, and no words that occur innocently. Sentences are invented."""

from __future__ import annotations

import pytest

from archive.domain.values import Naming
from archive.rules.proper import Proper, proper_names

NAMES = (
    ("Ted Grimshaw", Naming.NAME, {"Ted Grimshaw", "Grimshaw", "Ted"}),
    ("old Mrs Teller", Naming.NAME, {"Teller"}),
    ("my cousin Ted Grimshaw,", Naming.KIN, {"Ted Grimshaw", "Grimshaw", "Ted"}),
    ("Constable Osbertson’s brother", Naming.KIN, {"Osbertson"}),
    ("The Duchess", Naming.NAME, {"Duchess"}),
    ("01632 960 123.", Naming.NUMBER, {"01632 960 123"}),
)
NOBODY = (
    ("my mother", Naming.KIN), ("the constable's brother", Naming.KIN), ("My Uncle", Naming.KIN), ("the only woman on the crew", Naming.APART),
    ("62 Net Row", Naming.ADDRESS), ("who kept the shop on Ropewalk", Naming.WORK), ("the corner of Ropewalk", Naming.PLACE), ("Gull Steps", Naming.PLACE),
    ("born in 1942", Naming.BIRTH), ("the kettle", Naming.NAME), ("In 1968", Naming.NAME), ("Monday", Naming.NAME), ("1974", Naming.NUMBER),
    ("the Harbour Master", Naming.WORK), ("Christmas", Naming.NAME),
)  # fmt: skip


@pytest.mark.parametrize(("said", "kind", "expected"), NAMES, ids=[n[0] for n in NAMES])
def test_names_proper_are_looked_for(said: str, kind: Naming, expected: set[str]) -> None:
    assert {p.text for p in proper_names(said, kind)} == expected


@pytest.mark.parametrize(("said", "kind"), NOBODY, ids=[n[0] for n in NOBODY])
def test_what_occurs_innocently_is_not(said: str, kind: Naming) -> None:
    assert proper_names(said, kind) == ()


def test_a_given_name_alone_is_common_and_a_place_is_nobody() -> None:
    assert proper_names("Ted", Naming.NAME) == (Proper("Ted", common=True),)
    assert proper_names("Lund Ropewalk", Naming.NAME, {"ropewalk"}) == (Proper("Lund Ropewalk", whole=True), Proper("Lund"))
