"""Reading a question: near, fields, numbers and names alike, and where it cannot be read. Trees are project choices; SQLite's FTS5 is the outside check of NEAR."""

from __future__ import annotations

import sqlite3

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.db.search import match_of
from archive.rules.alike import forms, names_at, numbers_at
from archive.rules.analysis import analyse
from archive.rules.marking import highlight
from archive.rules.questions import And, Field, Near, Not, Or, Phrase, Query, Term, fields_of, leaves, parse_query, unread, widened


def meets(text: str, query: Query) -> bool:
    """Whether FTS5 finds a text by a question."""
    found = analyse(text)
    with sqlite3.connect(":memory:") as db:
        db.execute("CREATE VIRTUAL TABLE f USING fts5(full_exact, full_stem, tokenize='unicode61 remove_diacritics 0')")
        db.execute("INSERT INTO f VALUES (?, ?)", (" ".join(found.exact), " ".join(found.stem)))
        hits = db.execute("SELECT count(*) FROM f WHERE f MATCH ?", (match_of(query, "full"),)).fetchone()[0]
    db.close()
    return bool(hits)


SAID_AND_WRITTEN = [
    ("74", "it was nineteen seventy-four"),
    ("74", "seventy-four of us"),
    ("74", "in ’74 it stood"),
    ("74", "in 1974 it stood"),
    ("seventy-four", "we were 74"),
    ("nineteen seventy-four", "in 1974 it stood"),
    ("1974", "it was nineteen seventy-four"),
    ("1974", "nineteen 74"),
    ("1974", "nineteen hundred and seventy-four"),
    ("1905", "nineteen oh five"),
    ("2004", "two thousand and four"),
    ("1900", "nineteen hundred"),
    ("twelve", "house number 12"),
    ("3", "three of them"),
    ("304", "three hundred and four yards"),
    ("seventies", "in the 1970s"),
    ("1970s", "in the nineteen seventies"),
    ('"in 1974 we"', "it was in nineteen seventy-four we left"),
    ('"the seventies were"', "the 70s were dear"),
    ("rope within 3 of 1974", "the rope of nineteen seventy-four"),
]
NOT_ALIKE = [
    ("1974", "seventy-five"), ("1974", "nineteen seventy"), ("74", "47"), ('"in 1974 we"', "in nineteen seventy-four they"), ("1970s", "in 1970"),
    ('"74"', "seventy-four"), ("4", "fourteen"), ('"four of 1974"', "1974 of four"),
]  # fmt: skip


@pytest.mark.parametrize(("asked", "text"), SAID_AND_WRITTEN)
def test_numbers_are_found_as_written_and_as_said(asked: str, text: str) -> None:
    assert meets(text, parse_query(asked))
    assert any(is_match for _, is_match in highlight(text.split(), parse_query(asked))), "and marked"


@pytest.mark.parametrize(("asked", "text"), NOT_ALIKE)
def test_other_numbers_are_not_found(asked: str, text: str) -> None:
    assert not meets(text, parse_query(asked))


@given(st.integers(0, 9999))
def test_every_form_of_a_number_says_it(value: int) -> None:
    for form in forms(value):
        found = numbers_at(form, 0)
        assert found is not None and found[0] == len(form)
        if value >= 100 or form != (f"19{value:02d}",):
            assert form == (str(value),) or (str(value),) in found[1] or value < 100, (value, form)


@pytest.mark.parametrize(
    ("text", "apart", "met"),
    [("rope and quay", 2, True), ("rope and quay", 1, False), ("quay of rope", 2, True), ("ropes by the old quays", 4, True), ("ropes by the old quays", 3, False), ("rope", 5, False)],
)
def test_near_counts_words_between(text: str, apart: int, met: bool) -> None:
    """Fewer than so many words between them, in either order, in any ending; FTS5's NEAR says the same."""
    query = parse_query(f"rope within {apart} of quay")
    assert query == Near(("rope",), ("quay",), apart)
    assert meets(text, query) is met
    assert any(is_match for _, is_match in highlight(text.split(), query)) is met


def test_near_takes_words_and_phrases_only() -> None:
    assert parse_query('"net row" within 2 of quay') == Near(("net", "row"), ("quay",), 2)
    assert parse_query("flood NEAR strike") == Near(("flood",), ("strike",), 10)
    assert parse_query("house near quay") == And((Term("house", "hous"), Term("near", "near"), Term("quay", "quay"))), "a word like any other"
    assert isinstance(parse_query("rope within 3 of (a b)"), And)
    assert all(not isinstance(x, Near) for x in leaves(parse_query("rope within 3 of rop*")))


def test_fields_stand_among_the_words() -> None:
    place = Field("place", "Net Row")
    assert parse_query('place:"Net Row" rope') == And((place, Term("rope", "rope")))
    assert parse_query("rope or not Place:Quay") == Or((Term("rope", "rope"), Not(Field("place", "Quay"))))
    assert parse_query("place:(Quay or Row)") == Or((Field("place", "Quay"), Field("place", "Row")))
    assert fields_of(parse_query("rope not (year:1968 or theme:work)")) == (Field("year", "1968"), Field("theme", "work"))
    assert parse_query("colour:red") == Phrase(("colour", "red")), "no field of ours: words like any other"


def test_names_alike() -> None:
    alike = names_at([[("net", "row"), ("oldstrand",)], [("quay",), ("the", "basin")]])
    assert meets("we lived on Oldstrand", widened(parse_query("net row"), alike))
    assert meets("we lived on Net Row", widened(parse_query('"on oldstrand"'), alike))
    assert not meets("we lived on Net Row", widened(parse_query("quay"), alike))
    assert meets("a row about a net", widened(parse_query("net row"), alike)), "what was asked for stays"


@pytest.mark.parametrize(
    ("typed", "at", "told"),
    [
        ('rope "net row', 6, "quotation mark"),
        ("flood or", 7, "nothing after it"),
        ("or flood", 1, "nothing before it"),
        ("(flood strike", 1, "not closed"),
        ("flood) strike", 6, "not opened"),
        ("flood not", 7, "nothing after it"),
        ("flood and or strike", 7, "joins nothing"),
        ("place: rope", 1, "nothing after it"),
        ("rope " * 3000, 1001, "Only the first 200 words were read; 2800 were not."),
    ],
)
def test_a_question_that_cannot_be_read_says_where(typed: str, at: int, told: str) -> None:
    (found,) = unread(typed)
    assert found.at == at and told in found.words
    assert leaves(parse_query(typed)), "and it is answered all the same"


@pytest.mark.parametrize("typed", ["", "flood", '"net row" or (rope not strike)', 'place:"Net Row" year:1968', "not x", "rope within 5 of quay", "it’s “Net Row”"])
def test_what_can_be_read_is_not_remarked_on(typed: str) -> None:
    assert unread(typed) == ()


@given(st.text(max_size=60))
def test_where_is_inside_what_was_typed(typed: str) -> None:
    assert all(1 <= u.at <= len(typed) + 1 for u in unread(typed))
