"""Passages that no theme describes, grouped by their words. The weight is tf-idf (Spärck Jones 1972); what comes out of it is ours."""

from __future__ import annotations

import random

from archive.rules.analysis import stem
from archive.rules.grouping import MOST_GROUPS, Lexical, groups

PIGEONS = ("pigeons loft corn", "pigeons loft ring", "pigeons loft clock", "pigeons race corn")
ROPE = ("hemp tar yard", "hemp tar wheel", "hemp yarn tar")
WORDS = [f"word{chr(97 + n % 26)}{chr(97 + n // 26)}" for n in range(400)]


def passage(key: int, text: str, recording: int | None = None) -> Lexical:
    return Lexical(key, key if recording is None else recording, {stem(w): w for w in text.split()})


def others(number: int, seed: int = 1) -> list[Lexical]:
    rng = random.Random(seed)
    return [passage(1000 + n, " ".join(rng.sample(WORDS, 20))) for n in range(number)]


def test_what_comes_together_is_one_group_and_a_passage_in_one_alone() -> None:
    made = groups([passage(n, text) for n, text in enumerate((*PIGEONS, *ROPE, "alone in the world"))], others(40))
    assert [{w for _, w in g.words} for g in made] == [{"pigeons", "loft"}, {"hemp", "tar"}]
    assert [sorted(g.keys) for g in made] == [[0, 1, 2, 3], [4, 5, 6]]
    assert made[0].keys[0] == 0, "that with most of the words first"


def test_where_nothing_is_described_yet_groups_are_there_as_well() -> None:
    some = [passage(n, text) for n, text in enumerate((*PIGEONS, *ROPE))]
    assert [g for g in groups([*some, *others(30)], []) if {"pigeons", "loft"} <= {w for _, w in g.words}]
    assert groups([], others(5)) == groups([], []) == []


def test_words_of_one_recording_or_of_what_is_described_make_no_group() -> None:
    assert groups([passage(n, text, recording=1) for n, text in enumerate(PIGEONS)], others(40)) == []
    assert groups([passage(n, "pigeons") for n in range(3)], [passage(100 + n, "pigeons") for n in range(30)]) == []
    assert groups([passage(n, "the because 1968 would") for n in range(5)], others(40)) == []


def test_four_thousand_passages_are_few_groups() -> None:
    made = groups(others(2000, 2), others(2000, 3))
    assert len(made) <= MOST_GROUPS and len({k for g in made for k in g.keys}) == sum(len(g.keys) for g in made)
