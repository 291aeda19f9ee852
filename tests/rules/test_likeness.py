"""Names that sound alike: the reference libraries' own values, mishearings that must hit, and innocent words that must not."""

from __future__ import annotations

from pathlib import Path

import pytest

from archive.domain.values import Word
from archive.rules.likeness import Likeness, likeness, sound
from tests.rules.named import pointers_of_samples

INNOCENT = sorted(set(Path(__file__).with_name("innocent_words.txt").read_text(encoding="utf-8").split()))


@pytest.mark.parametrize(("one", "other", "value"), [("martha", "marhta", 0.9611), ("dwayne", "duane", 0.8400), ("dixon", "dicksonx", 0.8133)])
def test_jaro_winkler(one: str, other: str, value: float) -> None:
    """CHECKS §11: MARTHA/MARHTA, DWAYNE/DUANE, DIXON/DICKSONX (values of the published measure)."""
    assert likeness(one, other) == pytest.approx(value, abs=0.0001)


@pytest.mark.parametrize(("word", "code"), [("metaphone", "MTFN"), ("kentucky", "KNTK")])
def test_metaphone(word: str, code: str) -> None:
    """CHECKS §11: jellyfish's own test data."""
    assert sound(word) == code


def test_what_only_an_alias_table_can_tell() -> None:
    """CHECKS §11: Leicester and Lester differ in Metaphone; such a pair needs `heard_as`."""
    assert Likeness([("leicester", 1)]).nearest("lester") == ()


@pytest.mark.parametrize(
    ("name", "heard"),
    [("pask", "pasque"), ("coyle", "coil"), ("mallory", "mallary"), ("hobbs", "hobs"), ("volk", "volck"), ("reeve", "reave"), ("tandy", "tandie"),
     ("ellery", "ellary"), ("fletcher", "flecher"), ("lund", "lunde"), ("ashby", "ashbee"), ("irena", "irina"), ("harper", "harpur")],
)  # fmt: skip
def test_usual_mishearings(name: str, heard: str) -> None:
    """Project choice: mishearings of the samples and their like (SCENARIO's people)."""
    assert Likeness([(name, 7)]).nearest(heard) == (7,)
    assert Likeness([(name, 7)]).nearest(heard + "s") == (7,)


def test_two_hundred_innocent_words_are_no_names() -> None:
    """Project choice of the thresholds: words that resemble names on record, said as words and where they open a sentence."""
    assert len(INNOCENT) >= 200
    pointers, _ = pointers_of_samples()
    for word in INNOCENT:
        for text in (f"then the {word} went by there", f"it went. {word.capitalize()} were there"):
            assert not [p.rule for p in pointers.suggest([Word(w, n * 300, n * 300 + 250) for n, w in enumerate(text.split())])], text


def test_a_word_beside_the_other_name_needs_less() -> None:
    """ "Joseph Tundee": beside a first name the sound alone is enough; alone it is not."""
    pointers, codes = pointers_of_samples()
    words = [Word(w, n * 300, n * 300 + 250) for n, w in enumerate(["the", "boat", "of", "Joseph", "tundee", "was", "a", "tundee", "boat"])]
    found = [(p.first, p.last, codes[p.person_id or 0]) for p in pointers.suggest(words) if p.rule == "sounds like a name on record"]
    assert found == [(4, 4, "N-02")]
