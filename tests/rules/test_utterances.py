"""Utterances by pause and by channel."""

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.values import Word
from archive.rules.utterances import PAUSE_MS, by_pause, ends_sentence, merge_channels


@st.composite
def speech(draw: st.DrawFn) -> list[Word]:
    words, at = [], 0
    for text in draw(st.lists(st.sampled_from(["we", "went.", "why?", "Mr.", "A.", "no…", "boats,"]), max_size=60)):
        at += draw(st.sampled_from([0, 50, 300, 900]))
        words.append(Word(text, at, at + 250))
        at += 250
    return words


@given(speech())
def test_every_word_once_in_order_and_no_long_pause_inside(words: list[Word]) -> None:
    groups = by_pause(words)
    assert [w for g in groups for w in g] == words
    for group in groups:
        assert group
        assert all(b.start_ms - a.end_ms < PAUSE_MS for a, b in zip(group, group[1:], strict=False))


@given(speech(), speech())
def test_two_channels_keep_their_words_and_the_order_of_beginnings(left: list[Word], right: list[Word]) -> None:
    merged = merge_channels(left, right)
    assert [w for c, g in merged for w in g if c == 0] == left
    assert [w for c, g in merged for w in g if c == 1] == right
    starts = [g[0].start_ms for _, g in merged]
    assert starts == sorted(starts)


def test_sentences_questions_and_runaways() -> None:
    asked = [Word("When?", 0, 300), Word("In", 310, 400), Word("spring.", 410, 700), Word("Ah.", 1000, 1200)]
    assert [len(g) for g in by_pause(asked)] == [1, 2, 1]
    endless = [Word("and", n * 300, n * 300 + 290) for n in range(1000)]
    assert max(g[-1].end_ms - g[0].start_ms for g in by_pause(endless)) <= 60_000


def test_where_a_sentence_ends() -> None:
    assert ends_sentence("boats.") and ends_sentence("boats?”") and ends_sentence("no…") and ends_sentence("up!")
    assert not ends_sentence("P.") and not ends_sentence("boats,") and not ends_sentence("boats")
