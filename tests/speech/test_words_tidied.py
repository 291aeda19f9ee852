"""What becomes of the engine's words: joined, ordered, long enough; first words moved to the onset."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.values import MIN_WORD_MS, Word
from archive.speech.onset import move_first_words
from archive.speech.whisper import _doubts, _in_order, _skipped, _there_already, _words


def heard(*words: tuple[str, float, float]) -> list[SimpleNamespace]:
    return [SimpleNamespace(word=w, start=s, end=e, probability=0.9) for w, s, e in words]


def test_parts_without_a_space_belong_to_the_word_before() -> None:
    found = _words(heard((" winter", 0, 0.5), (" 62", 0.5, 0.8), ("-63", 0.8, 1.2), (" it", 1.2, 1.3)), "en", 5_000)
    assert [w.text for w in found] == ["winter", "62-63", "it"]
    assert (found[1].start_ms, found[1].end_ms) == (500, 1_200)


def test_languages_without_spaces_keep_their_words() -> None:
    assert [w.text for w in _words(heard(("今日", 0, 0.5), ("は", 0.5, 0.6)), "ja", 5_000)] == ["今日", "は"]


@given(
    st.lists(st.tuples(st.integers(0, 12_000), st.integers(-500, 3_000)), max_size=40),
)
def test_any_times_become_words_in_order_of_at_least_20_ms(times: list[tuple[int, int]]) -> None:
    words = [Word(str(n), start, start + length, 0.5) for n, (start, length) in enumerate(times)]
    found = _in_order(words, 10_000)
    assert [w.text for w in found] == [w.text for w in words]
    at = 0
    for word in found:
        assert word.start_ms >= at and word.end_ms - word.start_ms >= MIN_WORD_MS
        at = word.end_ms
    assert at <= 10_000


@given(st.lists(st.integers(0, 400), min_size=1, max_size=20))
def test_good_times_stay(gaps: list[int]) -> None:
    at, words = 0, []
    for gap in gaps:
        words.append(Word("x", at + gap, at + gap + 200, 0.5))
        at += gap + 200
    assert _in_order(words, at + 100) == words


def tone(start_ms: int, end_ms: int, length_ms: int) -> np.ndarray:
    sound = 0.0005 * np.random.default_rng(1).standard_normal(length_ms * 16)
    t = np.arange((end_ms - start_ms) * 16) / 16_000
    sound[start_ms * 16 : end_ms * 16] += 0.2 * np.sin(2 * np.pi * 300 * t)
    return sound.astype(np.float32)


def test_a_first_word_begins_with_its_sound() -> None:
    (word,) = move_first_words([Word("Mary", 0, 800)], tone(400, 800, 1_500))
    assert 370 <= word.start_ms <= 400 and word.end_ms == 800


def test_a_word_stretched_over_a_pause_begins_after_it() -> None:
    sound = tone(0, 500, 3_000) + tone(1_500, 2_000, 3_000)
    first, second = move_first_words([Word("not", 0, 400), Word("what", 400, 2_000)], sound)
    assert (first.start_ms, first.end_ms) == (0, 400)
    assert 1_470 <= second.start_ms <= 1_500


def test_a_closed_lip_inside_a_word_is_no_pause() -> None:
    sound = tone(0, 500, 3_000) + tone(620, 900, 3_000)
    words = [Word("the", 0, 200), Word("rubber", 200, 900)]
    assert move_first_words(words, sound) == words


def test_a_first_word_without_sound_stays() -> None:
    words = [Word("hm", 100, 300)]
    assert move_first_words(words, np.zeros(16_000, dtype=np.float32)) == words
    assert move_first_words([], np.zeros(0, dtype=np.float32)) == []


def segment(text: str, ratio: float = 1.2, logprob: float = -0.2) -> SimpleNamespace:
    return SimpleNamespace(text=text, compression_ratio=ratio, avg_logprob=logprob)


def test_what_repeats_itself_or_is_unlikely_is_flagged_and_kept() -> None:
    words = [Word("so", 0, 300), Word("so", 300, 600)]
    assert [d.code for d in _doubts(segment(" so so", ratio=2.5), words, [])] == ["repeats"]
    assert [d.code for d in _doubts(segment(" so so", logprob=-1.1), words, [])] == ["unlikely"]
    assert _doubts(segment(" so so"), words, []) == []


def test_vocabulary_that_comes_back_as_speech_is_flagged() -> None:
    names = ["Net Row", "Gull Steps", "Harbour View"]
    words = [Word("Net", 0, 300)]
    assert [d.code for d in _doubts(segment(" Net Row, Gull Steps, Harbour View"), words, names)] == ["vocabulary"]
    assert _doubts(segment(" from Net Row, Gull Steps and so on"), words, names) == []


def test_skipped_stretches_of_two_seconds_are_listed() -> None:
    assert _skipped([Word("a", 2_500, 3_000), Word("b", 4_500, 5_000)], 7_000) == [(0, 2_500), (5_000, 7_000)]
    assert _skipped([], 1_000) == []


def test_what_is_heard_again_gives_no_word_twice() -> None:
    """As the base model did in one of the samples: the second hearing of “every woman a tin” began with the “every” that was there."""
    there = [Word("every", 19_460, 19_580, 0.96), Word("I", 21_600, 21_720, 0.98)]
    again = [Word("Every", 19_480, 19_580, 0.34), Word("woman", 19_580, 19_800, 0.99), Word("it,", 21_200, 21_400, 0.99), Word("every", 20_500, 20_700, 0.9)]
    assert [_there_already(w, there) for w in again] == [True, False, False, False]
