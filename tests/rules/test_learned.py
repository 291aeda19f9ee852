"""What decisions teach. The weight is a log odds ratio with 0.5 added to each count (Haldane 1956, Anscombe 1956), what is enough Fisher's
exact test (Fisher 1922); both are reckoned here by scipy."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import contingency, fisher_exact

from archive.domain.values import Word
from archive.rules.analysis import stem
from archive.rules.learned import Decided, TaughtTheme, by_chance, learn
from archive.rules.themes import LEARNED, NEAR, LearnedWord, Lessons, Near, Theme, Thesaurus, suggest_themes

KNOWN = Thesaurus.of([Theme("rope", words=("rope",)), Theme("food", words=("bread",))])


def passage(n: int, text: str, yes: str = "", no: str = "") -> Decided:
    words = {stem(w): w for w in text.split()}
    return Decided(n, n, 1000 * n, words, frozenset(filter(None, [yes])), frozenset(filter(None, [no])))


LESSONS = [
    passage(1, "rope hemp tar morning", yes="rope"), passage(2, "rope hemp tar evening", yes="rope"), passage(3, "rope hemp walk", yes="rope"),
    passage(4, "rope hemp yarn", yes="rope"), passage(5, "rope long", yes="rope"),
    passage(6, "rope ladder fell", no="rope"), passage(7, "rope ladder broke", no="rope"), passage(8, "rope ladder boy", no="rope"), passage(9, "ladder wall", no="rope"),
    *(passage(n, f"bread market house{'x' * n}", yes="food") for n in range(10, 14)),
]  # fmt: skip


def never(_theme: str, _stem: str) -> bool:
    return False


def taught(decided: list[Decided] = LESSONS) -> TaughtTheme:
    return learn(decided, KNOWN, never)["rope"]


def test_words_for_and_against_with_their_counts_and_passages() -> None:
    by = {w.spoken: w for w in taught().words}
    assert set(by) == {"hemp", "ladder"}, "tar was said in two passages only, rope is in the thesaurus"
    hemp, ladder = by["hemp"], by["ladder"]
    assert (hemp.here, hemp.all_here, hemp.there, hemp.all_there) == (4, 5, 0, 8) and hemp.weight == 0.6
    assert (ladder.here, ladder.all_here, ladder.there, ladder.all_there) == (4, 4, 0, 5) and ladder.weight < 0
    assert [p.recording_id for p in hemp.passages] == [1, 2, 3, 4]


def test_the_measure_is_the_log_odds_ratio() -> None:
    """scipy.stats.contingency.odds_ratio (kind "sample") of the corrected table, by its counts doubled: it takes whole numbers alone."""
    decided = [*LESSONS, *(passage(20 + n, f"food{n}", yes="food") for n in range(9)), passage(31, "hemp", yes="food")]
    hemp = next(w for w in taught(decided).words if w.spoken == "hemp")
    table = [[2 * hemp.here + 1, 2 * (hemp.all_here - hemp.here) + 1], [2 * hemp.there + 1, 2 * (hemp.all_there - hemp.there) + 1]]
    expected = log(contingency.odds_ratio(table, kind="sample").statistic)
    assert hemp.weight == pytest.approx(min(0.6, 0.2 * expected), abs=0.006)


@given(st.integers(0, 12), st.integers(0, 12), st.integers(0, 30), st.integers(0, 30))
def test_what_is_enough_is_fisher_s_exact_test(here: int, not_here: int, there: int, not_there: int) -> None:
    """scipy.stats.fisher_exact, alternative "greater"."""
    expected = fisher_exact([[here, not_here], [there, not_there]], alternative="greater").pvalue
    assert by_chance(here, here + not_here, there, there + not_there) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("decided", "why"),
    [
        (LESSONS[:2] + LESSONS[5:], "two passages are not enough"),
        ([passage(1, "rope hemp", yes="rope")] * 4 + LESSONS[5:], "one interview is not enough"),
        (LESSONS[:3] + LESSONS[5:8], "three against three may well be chance"),
        (LESSONS[:5], "with nothing beside it every word would speak for it"),
        ([passage(n, "rope 1968 because", yes="rope") for n in range(1, 6)] + LESSONS[5:], "neither numbers nor small words"),
        ([], "nothing decided"),
    ],
    ids=lambda v: v if isinstance(v, str) else "",
)
def test_nothing_is_learned_from_too_little(decided: list[Decided], why: str) -> None:
    words = learn(decided, KNOWN, never).get("rope", TaughtTheme()).words
    assert not [w for w in words if w.weight > 0], why


def test_a_word_that_was_taken_off_is_shown_and_not_used() -> None:
    found = learn(LESSONS, KNOWN, lambda theme, word: (theme, word) == ("rope", stem("hemp")))["rope"]
    assert next(w for w in found.words if w.spoken == "hemp").off
    assert [w.stem for w in found.lessons().words] == [stem("ladder")]


@pytest.mark.parametrize(("yes", "no", "enough"), [(3, 2, 1.0), (20, 0, 0.8), (0, 20, 1.4), (10, 10, 1.0)])
def test_confirmations_move_what_is_enough(yes: int, no: int, enough: float) -> None:
    """SEARCH.md: confirmed passages move the threshold."""
    decided = [passage(n, "rope", yes="rope") for n in range(yes)] + [passage(100 + n, "rope", no="rope") for n in range(no)]
    assert taught(decided).enough == pytest.approx(enough, abs=0.03)


# --- in suggestions ---------------------------------------------------------------------------------------------------
def words(text: str) -> list[Word]:
    return [Word(t, n * 300, n * 300 + 250) for n, t in enumerate(text.split())]


def with_lessons() -> Thesaurus:
    return Thesaurus.of(KNOWN.themes, {name: one.lessons() for name, one in learn([*LESSONS, *(passage(n, "hemp tar", yes="rope") for n in range(31, 35))], KNOWN, never).items()})


def test_learned_words_suggest_together_and_say_so() -> None:
    known = with_lessons()
    assert suggest_themes(words("We picked hemp."), known) == [], "one learned word alone is not enough"
    (found,) = suggest_themes(words("Hemp and tar, all day."), known)
    assert (found.value, found.rule, found.evidence) == ("rope", LEARNED, "Hemp, tar")
    assert found.reckoning == "2 words were learned from decisions" and found.taught_by == (1, 2, 3, 4, 31, 32, 33, 34)


def test_a_word_against_takes_away_and_the_reckoning_does_not_name_it() -> None:
    known = with_lessons()
    assert [s.value for s in suggest_themes(words("The rope lay there."), known)] == ["rope"]
    assert suggest_themes(words("The rope ladder."), known) == []
    (found,) = suggest_themes(words("Rope and hemp and a ladder."), known)
    assert "1 word speaks against it" in found.reckoning and "ladder" not in found.reckoning + found.evidence


def test_nearness_in_meaning_needs_no_word_and_says_so() -> None:
    """The seam for the optional model: without it nothing changes."""
    text = words("Nothing that the thesaurus has.")
    assert suggest_themes(text, KNOWN) == suggest_themes(text, KNOWN, nearness={}) == []
    (found,) = suggest_themes(text, KNOWN, nearness={"food": Near(0.4)})
    assert (found.value, found.rule) == ("food", NEAR) and found.evidence == found.reckoning.removesuffix(" in meaning") == "near the note of food"
    assert (found.start_ms, found.end_ms) == (0, text[-1].end_ms), "it is about the whole passage, so whatever closes a part of it closes it"
    both = suggest_themes(words("bread"), KNOWN, nearness={"food": Near(0.4)})[0]
    assert both.reckoning == "near the note of food in meaning, 1 word that speaks for it is spoken" and both.evidence == "bread"
    assert suggest_themes([], KNOWN, nearness={"food": Near(1.0)}) == []


def test_at_most_what_is_learned_counts() -> None:
    many = Lessons(tuple(LearnedWord(f"w{c}", 0.6, (1,)) for c in "abcdefgh"), 1.0)
    (found,) = suggest_themes(words(" ".join(f"w{c}" for c in "abcdefgh")), Thesaurus.of([Theme("rope")], {"rope": many}))
    assert found.sure == pytest.approx(0.3 + 0.15 * 1.2)

