"""Themes by scope-note words: at most three, each with its words."""

from archive.domain.values import Word
from archive.rules.themes import MOST, Theme, Thesaurus, suggest_themes


def test_stems_meet_and_evidence_names_the_words(said, thesaurus) -> None:  # type: ignore[no-untyped-def]
    """SEARCH.md: stemming, so that "striking" finds "strike"."""
    found = suggest_themes(said("We were striking that spring and two constables were arrested too."), thesaurus)
    assert [s.value for s in found] == ["protest and police"]
    assert found[0].evidence == "striking, constables, arrested"
    assert found[0].decades == ()


def test_one_word_of_many_themes_is_not_enough() -> None:
    shared = Thesaurus.of([Theme(f"t{n}", words=("river",)) for n in range(3)])
    assert suggest_themes([Word("river", 0, 200)], shared) == []


def test_phrases_count_as_one(said, thesaurus) -> None:  # type: ignore[no-untyped-def]
    assert [s.value for s in suggest_themes(said("They were moving away then."), thesaurus)] == ["housing clearance"]
    assert suggest_themes(said("He was moving the box. Far away."), thesaurus) == []


def test_at_most_three_and_the_best_first(said, thesaurus) -> None:  # type: ignore[no-untyped-def]
    text = "flood flood tide river, school teacher, strike picket constable arrest, council, cannery wages"
    found = suggest_themes(said(text), thesaurus)
    assert len(found) == MOST
    assert [s.value for s in found][0] == "protest and police"
    assert [s.sure for s in found] == sorted((s.sure for s in found), reverse=True)


def test_nothing_is_said_about_nothing(said, thesaurus) -> None:  # type: ignore[no-untyped-def]
    assert suggest_themes([], thesaurus) == []
    assert suggest_themes(said("the and of a it was"), thesaurus) == []


def test_a_year_is_no_theme(said) -> None:  # type: ignore[no-untyped-def]
    child = Thesaurus.of([Theme("childhood", words=("eight", "ten"))])
    assert suggest_themes(said("In sixty-eight, no, nineteen-ten."), child) == []
    assert [s.value for s in suggest_themes(said("I was eight."), child)] == ["childhood"]


def test_a_broader_theme_makes_room_where_a_narrower_one_says_it_already(said) -> None:  # type: ignore[no-untyped-def]
    """TW-04.1 at 0:40: river, water and weather left no room for a fourth."""
    water = Thesaurus.of([Theme("water", words=("ice", "bank")), Theme("river", "water", words=("Sallow", "froze")), Theme("food", words=("pie",)), Theme("work", words=("crew",))])
    assert [s.value for s in suggest_themes(said("The Sallow froze, ice from bank to bank, a pie for the crew"), water)] == ["river", "food", "work"]
    assert [s.value for s in suggest_themes(said("Ice on the bank"), water)] == ["water"]
    assert [s.value for s in suggest_themes(said("Ice on the bank of the Sallow"), water)] == ["water"], "one word of the narrower one is little beside two"


def test_a_narrower_theme_takes_the_place_of_its_broader_one_when_all_are_taken(said) -> None:  # type: ignore[no-untyped-def]
    """TW-05.1 at 1:06, about those who talked to the police: “protest and police” had the third place, “informers” the fourth."""
    town = Thesaurus.of(
        [Theme("mission", words=("hall", "hymn", "chalk", "prayer")), Theme("memory", words=("never", "gone", "clock")), Theme("police", words=("police", "meetings", "sticks")),
         Theme("informers", "police", words=("police house", "talked to the police"))]
    )  # fmt: skip
    text = "The hall, a hymn and chalk, never and gone and a clock, at our meetings the police, in the police house they talked to the police"
    assert [s.value for s in suggest_themes(said(text), town)] == ["memory", "mission", "informers"]
