"""Passages: 20-120 s, never inside an utterance, a question kept with its answer."""

from hypothesis import given, settings
from hypothesis import strategies as st
from nltk.metrics.segmentation import pk, windowdiff

from archive.domain.passages import Utterance
from archive.domain.values import Word
from archive.rules.segment import MAX_MS, MIN_MS, segment
from tests.bench.cuts import ours
from tests.rules import unrelated


def utterance(n: int, start_ms: int, length_ms: int, speaker: int | None = None, ending: str = "so.") -> Utterance:
    words = (Word("and", start_ms, start_ms + 20), Word(ending, start_ms + length_ms - 20, start_ms + length_ms))
    return Utterance(n, speaker, start_ms, start_ms + length_ms, words)


@st.composite
def talk(draw: st.DrawFn) -> list[Utterance]:
    made, at = [], 0
    for n in range(draw(st.integers(0, 40))):
        at += draw(st.sampled_from([0, 200, 900, 4000]))
        length = draw(st.sampled_from([500, 3000, 8000, 20_000, 60_000, 150_000]))
        made.append(utterance(n, at, length, draw(st.sampled_from([None, 1, 2])), draw(st.sampled_from(["so.", "so?", "so"]))))
        at += length
    return made


@settings(max_examples=40)
@given(talk())
def test_cuts_hold_every_utterance_once(utterances: list[Utterance]) -> None:
    cuts = segment(utterances, {1})
    held = [n for c in cuts for n in range(c.first_utterance, c.last_utterance + 1)]
    assert held == list(range(len(utterances)))
    for cut in cuts:
        inside = utterances[cut.first_utterance : cut.last_utterance + 1]
        assert (cut.start_ms, cut.end_ms) == (inside[0].start_ms, max(u.end_ms for u in inside))
        assert cut.end_ms - cut.start_ms <= MAX_MS or len(inside) == 1


def test_lengths_of_ordinary_talk() -> None:
    talk = [utterance(n, n * 6000, 5500) for n in range(100)]
    lengths = [c.end_ms - c.start_ms for c in segment(talk)]
    assert all(MIN_MS <= length <= MAX_MS for length in lengths)
    assert len(segment(talk[:2])) == 1  # a short recording is one passage
    assert segment([]) == []


def test_a_question_stays_with_its_answer() -> None:
    """One interviewer (1): every cut lies before a question, by its speaker, or on one microphone by its mark."""
    talk, at = [], 0
    for n in range(30):
        asks = n % 3 == 0
        length = 4000 if asks else 14_000
        talk.append(utterance(n, at, length, 1 if asks else 2, "so?" if asks else "so."))
        at += length + 300
    unassigned = [Utterance(u.block_id, None, u.start_ms, u.end_ms, u.words) for u in talk]
    for cuts in (segment(talk, {1}), segment(unassigned)):
        assert len(cuts) > 3
        assert all(c.first_utterance % 3 == 0 for c in cuts)


def test_cuts_prefer_long_pauses() -> None:
    talk, at = [], 0
    for n in range(24):
        at += 5000 if n in (8, 16) else 200
        talk.append(utterance(n, at, 7000))
        at += 7000
    assert [c.first_utterance for c in segment(talk)] == [0, 8, 16]


def test_a_question_in_two_parts_and_a_word_in_between_stay_where_they_belong() -> None:
    """“Yes.” keeps somebody talking and asks nothing; two utterances of whoever asks are one question."""
    talk, at = [], 0
    for ending, speaker, length in [("so.", 2, 30_000), ("Yes.", 1, 600), ("so.", 2, 30_000), ("Now,", 1, 3000), ("where?", 1, 3000), ("so.", 2, 50_000)]:
        words = (Word("and", at, at + 20),) * (0 if ending == "Yes." else 3) + (Word(ending, at + length - 20, at + length),)
        talk.append(Utterance(len(talk), speaker, at, at + length, words))
        at += length + 300
    assert [c.first_utterance for c in segment(talk, {1})] == [0, 3]


def test_cuts_prefer_other_words() -> None:
    """The same pauses everywhere: what changes are the words."""
    talk = []
    for n in range(24):
        said = ("nets", "needle", "twine", "yard") if n < 9 else ("strike", "picket", "wages", "crew") if n < 16 else ("flood", "water", "river", "wall")
        at = n * 7000
        words = tuple(Word(w, at + k * 1000, at + k * 1000 + 900) for k, w in enumerate((*said, said[n % 4], "so.")))
        talk.append(Utterance(n, 2, at, at + 6000, words))
    assert [c.first_utterance for c in segment(talk)] == [0, 9, 16]


# -- against an outside measure ------------------------------------------------------------------------------------
def test_the_measure_is_the_published_one() -> None:
    """CHECKS §9: values that nltk's own documentation gives (nltk.metrics.segmentation)."""
    assert round(pk("0100" * 100, "1" * 400, 2), 2) == 0.50
    one, two, three = "000100000010", "000010000100", "100000010000"
    assert [round(windowdiff(a, b, 3), 2) for a, b in ((one, one), (one, two), (two, three))] == [0.00, 0.30, 0.80]


def test_unrelated_texts_are_told_apart_better_than_by_texttiling() -> None:
    """Python's documentation, each text's first sentences in a row (Choi's test); nltk's TextTiling on the same, as it comes and at its best.
    `python -m tests.bench cuts` prints the figures of more of them. 0.25: a bound of this project."""
    rows = list(unrelated.joined(unrelated.language(), 5, seed=1))
    mine = unrelated.score(rows, ours)
    for w, k in unrelated.TILINGS[2:]:
        other = unrelated.score(rows, lambda row, _, w=w, k=k: unrelated.tiled(row, w, k))
        assert (mine.pk, mine.window) < (other.pk, other.window) and mine.window < other.window
    assert mine.pk < 0.25 and mine.window < 0.25
