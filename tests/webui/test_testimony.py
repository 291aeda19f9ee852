"""Shown words as markup: escaped whoever said them, and doubtful ones told by words too."""

from __future__ import annotations

from dataclasses import dataclass

from webui.testimony import stretches, words


@dataclass
class Spoken:
    text: str
    start_ms: int = 0
    end_ms: int = 200
    doubtful: bool = False
    masked: bool = False
    closed: bool = False
    hidden: str = ""
    index: int = 0


def test_words_are_escaped_whoever_said_them() -> None:
    made = words([Spoken('<script>alert("x")</script>', 10), Spoken("a&b", 20, doubtful=True), Spoken("<i>", 30, masked=True)])
    assert "<script" not in made and "<i>" not in made
    assert "&lt;script&gt;" in made and "a&amp;b" in made and "&lt;i&gt;" in made


def test_doubtful_words_are_told_by_words_too() -> None:
    assert "(unsure)" in words([Spoken("chain", doubtful=True)])
    assert "(unsure)" not in words([Spoken("chain")])


def test_stretches_for_the_player() -> None:
    assert stretches([(0, 12_000), (15_000, 90_000)]) == "0-12000,15000-90000"
    assert stretches([]) == ""


def test_a_word_tells_where_it_ends_and_a_mask_does_not() -> None:
    assert 'data-e="200"' in words([Spoken("chain")]) and 'data-e="200"' in words([Spoken("chain", doubtful=True)])
    assert "data-e" not in words([Spoken("[a name withheld]", masked=True)])
