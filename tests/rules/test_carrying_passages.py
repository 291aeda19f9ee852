"""Where a translated passage stands in another transcript: by property. Words and times are invented."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.values import Word
from archive.rules.carrying import Carrying, Said

TEXTS = ("we", "carried", "the", "lantern", "down", "to", "river", "and", "back", "no", "no", "rope")


@dataclass(frozen=True)
class Edited:
    """A transcript, a passage in it (first and last word), and another transcript that somebody made by typing."""

    before: list[Word]
    first: int
    last: int
    after: list[Word]


def transcript(texts: list[str]) -> list[Word]:
    return [Word(t, 1000 + n * 400, 1320 + n * 400) for n, t in enumerate(texts)]


@st.composite
def edited_elsewhere(draw: st.DrawFn) -> Edited:
    """Words outside the passage are dropped, changed, and put in, as at the desk: what is not touched keeps its times."""
    before = transcript(draw(st.lists(st.sampled_from(TEXTS), min_size=3, max_size=40)))
    first = draw(st.integers(0, len(before) - 1))
    last = draw(st.integers(first, len(before) - 1))
    after: list[Word] = []
    for n, word in enumerate(before):
        act = draw(st.sampled_from(("keep", "keep", "drop", "change", "add"))) if not first <= n <= last else "keep"
        if act == "change":
            after.append(replace(word, text=draw(st.sampled_from(TEXTS))))
        elif act == "add":
            half = (word.start_ms + word.end_ms) // 2
            after += [replace(word, end_ms=half), Word(draw(st.sampled_from(TEXTS)), half, word.end_ms)]
        elif act == "keep":
            after.append(word)
    return Edited(before, first, last, after)


@given(edited_elsewhere())
def test_an_edit_elsewhere_leaves_it_where_and_as_it_is(edited: Edited) -> None:
    stretch = (edited.before[edited.first].start_ms, edited.before[edited.last].end_ms)
    old, new = Said(edited.before), Said(edited.after)
    assert Carrying(old, new).stands(*stretch) == stretch
    assert new.spoken(*stretch) == old.spoken(*stretch)


@given(edited_elsewhere(), st.data())
def test_an_edit_inside_is_seen_and_nothing_outside_comes_in(edited: Edited, data: st.DataObject) -> None:
    """A word of the passage becomes one that is nowhere else: the passage has it now, and its neighbours are not in it."""
    at = data.draw(st.integers(edited.first, edited.last))
    old = Said(edited.before)
    after = [replace(w, text="zephyr") if w == edited.before[at] else w for w in edited.before]
    start_ms, end_ms = edited.before[edited.first].start_ms, edited.before[edited.last].end_ms
    stands = Carrying(old, Said(after)).stands(start_ms, end_ms)
    spoken = Said(after).spoken(*stands)
    assert "zephyr" in spoken and spoken != old.spoken(start_ms, end_ms)
    assert stands == (start_ms, end_ms)


@given(st.lists(st.sampled_from(TEXTS), min_size=3, max_size=30, unique=True), st.integers(-600, 600), st.data())
def test_heard_anew_at_other_times_it_moves_with_its_words(texts: list[str], shift_ms: int, data: st.DataObject) -> None:
    before = transcript(texts)
    first = data.draw(st.integers(0, len(before) - 1))
    last = data.draw(st.integers(first, len(before) - 1))
    after = [replace(w, start_ms=w.start_ms + shift_ms, end_ms=w.end_ms + shift_ms) for w in before]
    stands = Carrying(Said(before), Said(after)).stands(before[first].start_ms, before[last].end_ms)
    assert stands == (after[first].start_ms, after[last].end_ms)
