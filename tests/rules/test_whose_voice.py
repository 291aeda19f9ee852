"""Whose voice it is, decided from vectors: what is unsure stays unsure, order says nothing, nobody is suggested twice. Pure.

Vectors of real voices: tests/services/test_speaking.py, tests/speech/test_likeness.py, `python -m tests.bench voices`.
"""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.domain.values import Word
from archive.rules.whose_voice import (
    LEAST_NAMED_MS,
    SURE_MS,
    Piece,
    TwoVoices,
    Voices,
    alike,
    at_word,
    named,
)
from archive.speech.likeness import SIZE, windows_of


def vectors(person: int, count: int, spread: float, seed: int) -> np.ndarray:
    """Windows of one made voice: a direction of its own, with noise; each of length 1."""
    base = np.random.default_rng(person).standard_normal(SIZE)
    found = base / np.linalg.norm(base) + spread * np.random.default_rng(seed).standard_normal((count, SIZE)) / np.sqrt(SIZE)
    return (found / np.linalg.norm(found, axis=1, keepdims=True)).astype(np.float32)


def piece(block_id: int, start_ms: int, length_ms: int, *people: int, spread: float = 0.3) -> Piece:
    """An utterance in which these people speak one after another, in equal parts."""
    windows = windows_of(start_ms, start_ms + length_ms)
    of = [people[min(len(people) - 1, n * len(people) // max(1, len(windows)))] for n in range(len(windows))]
    rows = [vectors(p, 1, spread, block_id * 1000 + n)[0] for n, p in enumerate(of)]
    return Piece(block_id, start_ms, start_ms + length_ms, tuple(windows), np.array(rows, dtype=np.float32).reshape(len(rows), SIZE))


def voices(*people: int, everybody: tuple[int, ...] | None = None) -> Voices:
    return Voices({p: vectors(p, 12, 0.3, p + 77) for p in people}, everybody or people)


talk = st.lists(
    st.tuples(st.integers(0, 4), st.integers(200, 9000), st.sampled_from([0.1, 0.3, 1.0, 3.0])), min_size=1, max_size=12
).map(lambda rows: [piece(n, n * 10_000, ms, who, spread=spread) for n, (who, ms, spread) in enumerate(rows, 1)])


@settings(max_examples=60)
@given(talk, st.permutations([0, 1, 2]))
def test_order_says_nothing_and_each_utterance_has_one_suggestion_at_most(pieces: list[Piece], order: list[int]) -> None:
    one = Voices({p: vectors(p, 12, 0.3, p + 77) for p in (0, 1, 2)}, (0, 1, 2))
    other = Voices({p: vectors(p, 12, 0.3, p + 77) for p in order}, order)
    for this in pieces:
        first, second = one.suggest(this), other.suggest(this)
        assert first == second
        assert first is None or (first.block_id == this.block_id and first.person_id in order)
        assert not (first is not None and one.two_voices(this) is not None), "perhaps two voices: then it is not one person's"


@settings(max_examples=60)
@given(talk)
def test_nothing_is_sure_that_is_short_unheard_or_of_somebody_unnamed(pieces: list[Piece]) -> None:
    everybody, some = voices(0, 1), voices(0, 1, everybody=(0, 1, 2))
    for this in pieces:
        found = everybody.suggest(this)
        if this.end_ms - this.start_ms < SURE_MS:
            assert found is None or not found.sure
        if not len(this.vectors):
            assert found is None
        there = some.suggest(this)
        assert there is None or not there.sure, "somebody takes part whose voice is not named"
        assert (there is None) == (found is None)


@given(st.integers(2, 9), st.integers(2000, 9000))
def test_a_voice_that_nobody_named_is_not_suggested(stranger: int, length_ms: int) -> None:
    assert voices(0, 1).suggest(piece(1, 0, length_ms, stranger)) is None


@given(st.integers(0, 2), st.integers(1500, 9000))
def test_a_clear_voice_is_sure(who: int, length_ms: int) -> None:
    found = voices(0, 1, 2).suggest(piece(1, 0, length_ms, who))
    assert found is not None and found.person_id == who and found.sure


def test_one_voice_alone_suggests_nothing() -> None:
    assert Voices({0: vectors(0, 12, 0.3, 1)}, (0,)).suggest(piece(1, 0, 4000, 0)) is None
    assert Voices({}, ()).suggest(piece(1, 0, 4000, 0)) is None


def test_two_voices_in_one_utterance_are_offered_for_splitting_and_not_assigned() -> None:
    both = piece(1, 0, 8000, 0, 1)
    found = voices(0, 1).two_voices(both)
    assert found is not None and (found.first_id, found.second_id) == (0, 1) and 3000 <= found.at_ms <= 5000
    assert voices(0, 1).suggest(both) is None
    assert voices(0, 1).two_voices(piece(1, 0, 8000, 0)) is None


def test_the_change_is_put_at_the_end_of_a_sentence_or_a_pause() -> None:
    words = [Word("came", 3000, 3300), Word("up.", 3350, 3700), Word("Who", 3800, 4000), Word("saw", 4010, 4300), Word("it?", 4700, 5000)]
    assert at_word(TwoVoices(1, 3900, 0, 1), words).at_ms == 3750
    assert at_word(TwoVoices(1, 9000, 0, 1), words).at_ms == 9000, "no word ends near by"
    assert at_word(TwoVoices(1, 9000, 0, 1), []).at_ms == 9000


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(500, 4000)), max_size=8))
def test_somebody_is_named_once_there_is_enough_of_them_and_once_only(rows: list[tuple[int, int]]) -> None:
    """However many stretches of somebody were named, they are one voice."""
    assigned = [(who, piece(n, n * 10_000, ms, who)) for n, (who, ms) in enumerate(rows, 1)]
    found = named(assigned)
    for who in range(3):
        length = sum(ms for w, ms in rows if w == who)
        assert (who in found) == (length >= LEAST_NAMED_MS)
    assert len(Voices(found, found).people) == len(found)


def test_all_that_sound_alike() -> None:
    others = [piece(2, 10_000, 3000, 0), piece(3, 20_000, 3000, 1), piece(4, 30_000, 3000, 5), piece(5, 40_000, 250, 0), piece(6, 50_000, 5000, 0)]
    mine = piece(1, 0, 3000, 0)
    assert alike(mine, others, voices(0, 1)) == [2, 6]
    assert alike(mine, others, voices()) == [2, 6], "before anybody is named, by nearness alone"
    assert alike(piece(7, 0, 200, 0), others, voices()) == [], "too short to be heard"
