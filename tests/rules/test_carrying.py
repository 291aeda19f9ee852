"""Decisions carried to another transcript: by property, and cases written out. Times, words and doubts are invented."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.domain.masking import under_masks
from archive.domain.values import Word
from archive.rules.carrying import AROUND_MS, Carrying, Said

OPEN = ("and", "then", "the", "ferry", "came", "down", "river", "rope", "we", "cried", "lantern", "a", "window", "to")
NAMES = ("Grimshaw", "Ted", "Teller", "Brine", "Osbert", "Fosse")


def words(text: str, start_ms: int = 500, each_ms: int = 400, gap_ms: int = 80) -> list[Word]:
    return [Word(t, start_ms + n * each_ms, start_ms + (n + 1) * each_ms - gap_ms) for n, t in enumerate(text.split())]


def stretch(said: list[Word], first: int, last: int) -> tuple[int, int]:
    return said[first].start_ms, said[last].end_ms


@dataclass(frozen=True)
class Heard:
    """A transcript, the stretches hidden in it, another one, and which words of it are hidden ones still said."""

    before: list[Word]
    hidden: list[tuple[int, int]]
    after: list[Word]
    secret: list[int]


@st.composite
def heard_again(draw: st.DrawFn) -> Heard:
    """Names are hidden where they are said; the other transcript drops, changes and puts in words, and moves each by up to 500 ms."""
    lengths = st.integers(1, 3)
    texts: list[tuple[str, bool]] = []
    for _ in range(draw(st.integers(1, 6))):
        texts += [(t, False) for t in draw(st.lists(st.sampled_from(OPEN), min_size=0, max_size=9))]
        texts += [(t, True) for t in draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=draw(lengths)))]
    texts += [(t, False) for t in draw(st.lists(st.sampled_from(OPEN), max_size=5))]
    at, before = 1000, []
    for text, _ in texts:
        length = draw(st.integers(40, 700))
        before.append(Word(text, at, at + length))
        at += length + draw(st.integers(0, 300))
    hidden: list[tuple[int, int]] = []
    for n, (_, secret) in enumerate(texts):
        if secret and n and texts[n - 1][1]:
            hidden[-1] = (hidden[-1][0], before[n].end_ms)
        elif secret:
            hidden.append((before[n].start_ms, before[n].end_ms))
    after: list[Word] = []
    secrets: list[int] = []
    floor = 0
    for word, (text, secret) in zip(before, texts, strict=True):
        fate = draw(st.sampled_from(["stays"] * 5 + ["dropped", "changed", "one put in"]))
        if fate == "dropped":
            continue
        start = max(floor, word.start_ms + draw(st.integers(-500, 500)))
        if fate == "one put in":
            after.append(Word(draw(st.sampled_from(OPEN)), start, start + 60))
            start += 60
        end = max(start + 20, word.end_ms + draw(st.integers(-500, 500)))
        if secret and fate != "changed":
            secrets.append(len(after))
        after.append(Word(draw(st.sampled_from(OPEN)) if fate == "changed" else text, start, end))
        floor = start
    return Heard(before, hidden, after, secrets)


def masks_of(heard: Heard) -> list[tuple[int, int]]:
    carrying, said = Carrying(Said(heard.before), Said(heard.after)), Said(heard.after)
    found = [c for s, e in heard.hidden for c in carrying.hidden(s, e)]
    assert all(said.fits(c.start_ms, c.end_ms) for c in found), "whole words"
    return [(c.start_ms, c.end_ms) for c in found]


@settings(max_examples=150, deadline=None)
@given(heard=heard_again())
def test_no_hidden_word_that_is_still_said_is_readable(heard: Heard) -> None:
    under = under_masks(heard.after, masks_of(heard))
    assert all(under[n] for n in heard.secret), [(w.text, u) for w, u in zip(heard.after, under, strict=True)]


@settings(max_examples=100, deadline=None)
@given(heard=heard_again())
def test_what_is_shown_is_the_same_words_or_undecided(heard: Heard) -> None:
    """A decision to show never moves to other words."""
    before, after = Said(heard.before), Said(heard.after)
    for start_ms, end_ms in heard.hidden:
        for one in Carrying(before, after).shown(start_ms, end_ms):
            assert not one.lost
            assert not one.kept or after.spoken(one.start_ms, one.end_ms) == before.spoken(start_ms, end_ms)


@settings(max_examples=50, deadline=None)
@given(heard=heard_again())
def test_the_same_transcript_carries_everything_to_where_it_is(heard: Heard) -> None:
    carrying = Carrying(Said(heard.before), Said(heard.before))
    assert carrying.unchanged
    for start_ms, end_ms in heard.hidden:
        assert any(c.kept and c.start_ms <= start_ms and end_ms <= c.end_ms for c in carrying.hidden(start_ms, end_ms))


CASES = [
    ("moved by less than a word", "we saw Ted Grimshaw come", (2, 3), "we saw Ted Grimshaw come", 700, ["Ted Grimshaw"]),
    ("heard as two words", "we saw Grimshaw come", (2, 2), "we saw grim shaw come", 500, ["grim shaw"]),
    ("heard otherwise", "we saw Ted Grimshaw come", (2, 3), "we saw Ted Crimshore come", 600, ["Ted Crimshore"]),
    ("with a word between", "we saw Ted Grimshaw come", (2, 3), "we saw Ted er Grimshaw come", 500, ["Ted er Grimshaw"]),
    ("the flower stays", "a rose by Mrs Rose there", (3, 4), "a rose by Mrs Rose there", 550, ["Mrs Rose"]),
]


@pytest.mark.parametrize(("_", "text", "chosen", "again", "start_ms", "expected"), CASES, ids=[c[0] for c in CASES])
def test_where_the_words_are_now(_: str, text: str, chosen: tuple[int, int], again: str, start_ms: int, expected: list[str]) -> None:
    before, after = words(text), words(again, start_ms)
    found = Carrying(Said(before), Said(after)).hidden(*stretch(before, *chosen))
    assert all(c.kept for c in found)
    assert [" ".join(after[n].text for n in Said(after).touched(c.start_ms, c.end_ms)) for c in found] == expected


def test_words_that_are_not_found_stay_hidden_around_and_wait() -> None:
    before, after = words("we saw Grimshaw come down"), words("we saw come down")
    start_ms, end_ms = stretch(before, 2, 2)
    first = Carrying(Said(before), Said(after)).hidden(start_ms, end_ms)[0]
    assert first.lost and not first.kept and first.start_ms <= start_ms - AROUND_MS and first.end_ms >= end_ms + AROUND_MS


def test_of_a_word_that_is_said_twice_only_the_hidden_one_is_hidden_and_both_where_nobody_can_tell() -> None:
    before = words("the marsh was wet and old Marsh said so")
    later, dropped = words("the marsh was wet and old Marsh said so", 620), words("was wet and old Marsh said so", 1300)
    start_ms, end_ms = stretch(before, 6, 6)
    assert [c.start_ms for c in Carrying(Said(before), Said(later)).hidden(start_ms, end_ms)] == [later[6].start_ms]
    one_left = Carrying(Said(before), Said(dropped)).hidden(start_ms, end_ms)
    assert any(c.start_ms <= dropped[4].start_ms and dropped[4].end_ms <= c.end_ms for c in one_left)


def test_a_silent_stretch_that_was_hidden_stays_hidden() -> None:
    """Where words were lost once, a third transcript may have them again."""
    (one,) = Carrying(Said(words("we saw")), Said(words("we saw Grimshaw come", 3000))).hidden(3400, 4600)
    assert one.lost and one.end_ms >= 4600 + AROUND_MS


def test_what_fits_a_transcript() -> None:
    said = Said([Word("we", 500, 820), Word("saw", 900, 1300), Word("him", 1000, 1400)])
    for s, e, fits in ((500, 820, True), (500, 1300, True), (0, 860, True), (510, 820, False), (500, 1350, False), (820, 1000, True), (2000, 3000, True)):
        assert said.fits(s, e) is fits, (s, e)
