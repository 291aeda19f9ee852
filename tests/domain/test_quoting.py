"""A quote is faithful (DESIGN section 4, invariant 6): what is accepted, what is refused, and with which words."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.masking import mask_words
from archive.domain.quoting import OMISSION, Span, choose, quote_text, word_tokens, wording_sha256
from archive.domain.values import Word
from archive.errors import NotFaithful

# Invented testimony in the scenario's town.
TOLD = (
    (11, "Well, the water came up the Row in the night, in sixty-eight. We hadn’t any warning — none at all."),
    (12, "And the boats?"),
    (13, "The boats were in the street, “Marigold” too. The old bridge wasn’t there, there was only the ferry, the old ferry."),
)
vocabulary = st.sampled_from(["the", "ferry", "Row", "water", "came", "wasn’t", "sixty-eight,", "“up”", "night.", "—", "a", "well..."])


def words_of(text: str, start_ms: int = 0) -> tuple[Word, ...]:
    return tuple(Word(t, start_ms + n * 300, start_ms + n * 300 + 250) for n, t in enumerate(text.split()))


UTTERANCES = tuple((block, words_of(text, n * 60_000)) for n, (block, text) in enumerate(TOLD))
LOOKUP = dict(UTTERANCES).__getitem__
ORDER = [block for block, _ in UTTERANCES]


def read(quote: str) -> str:
    return quote_text(choose(quote, UTTERANCES), LOOKUP, order=ORDER)


@st.composite
def chosen_runs(draw: st.DrawFn) -> tuple[list[tuple[int, tuple[Word, ...]]], list[tuple[int, int, int]]]:
    """Random utterances, and random runs of their words in order, none of bare signs alone."""
    blocks, at = [], 0
    for n in range(draw(st.integers(1, 4))):
        texts = draw(st.lists(vocabulary, min_size=1, max_size=12))
        blocks.append((n + 5, words_of(" ".join(texts), at)))
        at += 20_000
    places = [(b, i) for b, words in blocks for i in range(len(words))]
    edges = sorted(draw(st.lists(st.integers(0, len(places)), min_size=2, max_size=6, unique=True)))
    runs = []
    for start, end in zip(edges[::2], edges[1::2], strict=False):
        texts = [w for b, i in places[start:end] for w in word_tokens(dict(blocks)[b][i].text)]
        if texts:
            runs.append((start, end, len(texts)))
    return blocks, runs


@given(chosen_runs())
def test_any_runs_of_any_transcript_are_accepted_and_come_back_word_for_word(made) -> None:  # type: ignore[no-untyped-def]
    blocks, runs = made
    if not runs:
        return
    flat = [w for _, words in blocks for w in words]
    quote = f" {OMISSION} ".join(" ".join(w.text for w in flat[s:e]) for s, e, _ in runs)
    spans = choose(quote, blocks)
    given_back = [w.text for span in spans for w in dict(blocks)[span.block_id][span.first : span.last + 1]]
    wanted = [w.text for s, e, _ in runs for w in flat[s:e]]
    assert [t for x in given_back for t in word_tokens(x)] == [t for x in wanted for t in word_tokens(x)]
    places = [(b, i) for b, words in blocks for i in range(len(words))]
    taken = [places.index((s.block_id, i)) for s in spans for i in range(s.first, s.last + 1)]
    assert taken == sorted(set(taken))  # in order, none twice


@given(st.data())
def test_one_changed_added_or_swapped_word_is_refused_and_shown(data: st.DataObject) -> None:
    block, text = data.draw(st.sampled_from(TOLD))
    words = text.replace(" —", "").split()
    at = data.draw(st.integers(0, len(words) - 1))
    how = data.draw(st.sampled_from(["change", "add"]))
    changed = [*words[:at], "zeppelin", *words[at + (how == "change") :]]
    with pytest.raises(NotFaithful) as caught:
        choose(" ".join(changed), UTTERANCES)
    assert any("zeppelin" in d for d in caught.value.differing)


@given(st.data())
def test_swapped_words_are_refused(data: st.DataObject) -> None:
    words = ["the", "water", "came", "up", "the", "Row", "in", "the", "night"]
    at = data.draw(st.integers(0, len(words) - 2))
    swapped = [*words[:at], words[at + 1], words[at], *words[at + 2 :]]
    with pytest.raises(NotFaithful) as caught:
        choose(" ".join(swapped), UTTERANCES)
    assert any(w in d for d in caught.value.differing for w in (words[at], words[at + 1]))


def test_the_wording_is_the_transcripts_own() -> None:
    assert read("THE WATER CAME UP THE ROW") == "the water came up the Row"
    assert read("we hadn't any warning") == "We hadn’t any warning"
    assert read('the boats were in the street "marigold" too') == "The boats were in the street, “Marigold” too."
    assert read("in sixty eight") == "in sixty-eight."


def test_omissions() -> None:
    assert read("the water came […] in the night") == "the water came […] in the night,"
    assert read("the water came [...] in the night") == "the water came […] in the night,"
    assert read("the water came … in the night") == "the water came […] in the night,"
    assert read("the water came... in the night") == "the water came […] in the night,"
    assert read("the water came up […] the Row") == "the water came up the Row"  # nothing was left out


def test_dots_of_the_transcript_are_no_omission() -> None:
    blocks = [(1, words_of("well, he said. Well... I went"))]
    assert choose("Well... I went", blocks) == [Span(1, 3, 5)]


def test_a_quote_may_cross_utterances() -> None:
    spans = choose("none at all. And the boats? The boats were", UTTERANCES)
    assert [s.block_id for s in spans] == [11, 12, 13]
    assert quote_text(spans, LOOKUP, order=ORDER) == "none at all. And the boats? The boats were"
    # Without the order nobody can say that nothing stands between, so it is marked.
    assert quote_text(spans, LOOKUP).count(OMISSION) == 2
    skipping = [Span(11, 0, len(UTTERANCES[0][1]) - 1), Span(13, 0, 1)]
    assert OMISSION in quote_text(skipping, LOOKUP, order=ORDER)


def test_words_that_occur_twice() -> None:
    assert choose("the old ferry", UTTERANCES) == [Span(13, 18, 20)]
    assert choose("the old […] the old", UTTERANCES) == [Span(13, 8, 9), Span(13, 18, 19)]


def test_what_stands_in_the_way_is_said() -> None:
    with pytest.raises(NotFaithful) as caught:
        choose("the old boats", UTTERANCES)
    assert caught.value.differing == ("“boats” does not stand after “the old”",)
    with pytest.raises(NotFaithful) as caught:
        choose("hadn't any proper warning", UTTERANCES)
    assert caught.value.differing[0] == "“proper” is not in this part of the transcript"
    with pytest.raises(NotFaithful):
        choose("sixty", UTTERANCES)  # half of a word is not a word


@pytest.mark.parametrize("quote", ["", "   ", "[…]", "…", "—", "[…] — […]"])
def test_an_empty_quote_is_refused(quote: str) -> None:
    with pytest.raises(NotFaithful):
        choose(quote, UTTERANCES)


def test_additions_are_refused_with_their_words() -> None:
    with pytest.raises(NotFaithful) as caught:
        choose("the water [of the Sallow] came up", UTTERANCES)
    assert "[of the Sallow]" in caught.value.differing[0]


def test_masks_stand_in_the_quote() -> None:
    blocks = [(1, words_of("It was Peter Lund who carried us out of the Row"))]
    spans = choose("It was [name withheld] who carried us", blocks, masks=[(600, 1150)])
    assert spans == [Span(1, 0, 6)]
    assert quote_text(spans, dict(blocks).__getitem__, [(600, 1150)]) == "It was [name withheld] who carried us"
    with pytest.raises(NotFaithful):
        choose("It was [name withheld] who carried us", blocks)


part = st.tuples(
    st.sampled_from(["a" * 64, "b" * 64]), st.integers(0, 9), st.integers(0, 9), st.text(max_size=20),
    st.integers(0, 9999), st.integers(0, 9999),
)  # fmt: skip


@given(st.lists(part, max_size=4), st.lists(part, max_size=4))
def test_one_checksum_for_one_wording_and_its_sound(one, other) -> None:  # type: ignore[no-untyped-def]
    same = wording_sha256("m", one) == wording_sha256("m", other)
    assert same is (one == other)
    assert wording_sha256("m", one) != wording_sha256("n", one)


def test_the_checksum_moves_with_word_time_and_order() -> None:
    parts = [("a" * 64, 0, 1, "the ferry", 0, 500), ("a" * 64, 4, 4, "sank", 900, 1200)]
    sums = {
        wording_sha256("m", parts),
        wording_sha256("m", parts[::-1]),
        wording_sha256("m", [("a" * 64, 0, 1, "the Ferry", 0, 500), parts[1]]),
        wording_sha256("m", [("a" * 64, 0, 1, "the ferry", 0, 501), parts[1]]),
        wording_sha256("m", parts[:1]),
    }
    assert len(sums) == 5


@pytest.mark.parametrize(
    "quote",
    [
        "Well, the [flood] came up the Row in [a street]", "Well, the [name withheld] came up the Row in [a street]",
        "Well, the [A flood] came up […] in [street] in sixty-eight.", "Well, the [Name withheld] came up",
    ],
)
def test_own_words_of_masks_are_faithful(quote: str) -> None:
    """Typed with a mask's own words (with or without their article), or with the usual ones, a quote is the same spans."""
    masks = [(600, 850), (2400, 2950)]  # “water”, “the night,”
    instead = dict(zip(masks, ("[a flood]", "[a street]"), strict=True))
    spans = choose(quote, UTTERANCES, masks, instead)
    said = quote_text(spans, LOOKUP, masks, ORDER, instead)
    assert said.startswith("Well, the [flood] came up")
    assert choose(said, UTTERANCES, masks, instead) == spans, "what is shown can be typed"


def test_own_words_of_another_mask_are_an_addition() -> None:
    masks = [(600, 850), (2400, 2950)]  # “water”, “the night,”
    instead = dict(zip(masks, ("[a flood]", "[a street]"), strict=True))
    for quote in ("Well, the [street] came up", "Well, the [a boat] came up", "Well, the [flood] [flood] came up"):
        with pytest.raises(NotFaithful):
            choose(quote, UTTERANCES, masks, instead)


@given(st.data())
def test_what_is_shown_with_own_words_can_be_typed(data: st.DataObject) -> None:
    """Round trip: any stretch of any utterance that cuts no mask, any masks with any own words."""
    block, words = data.draw(st.sampled_from(UTTERANCES))
    hidden = data.draw(st.lists(st.integers(0, len(words) - 1), max_size=4, unique=True))
    masks = [(words[n].start_ms, words[n].end_ms) for n in hidden]
    instead = {m: s for m in masks if (s := data.draw(st.sampled_from(["", "[a neighbour]", "[the river]", "[somebody old]"])))}
    tokens = mask_words(words, masks, instead=instead)
    first = data.draw(st.integers(0, len(tokens) - 1))
    last = data.draw(st.integers(first, len(tokens) - 1))
    shown = quote_text([Span(block, tokens[first].first, tokens[last].last)], LOOKUP, masks, ORDER, instead)
    if not word_tokens(shown.replace("—", "")) or "[" not in shown:
        return
    spans = choose(shown, UTTERANCES, masks, instead)
    assert choose(quote_text(spans, LOOKUP, masks, ORDER, instead), UTTERANCES, masks, instead) == spans
    assert _words_outside(quote_text(spans, LOOKUP, masks, ORDER, instead)) == _words_outside(shown)


def _words_outside(text: str) -> list[str]:
    return [t for w in re.sub(r"\[[^\]]*\]", " ", text).split() for t in word_tokens(w)]
