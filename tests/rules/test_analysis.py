"""The one analyser and the reading of questions: Whoosh's tokens, SQLite's own tokenizer as the outside check."""

import sqlite3
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.masking import MASK, mask_words
from archive.domain.values import Word
from archive.rules.analysis import BOUNDARY, analyse, analyse_masked, stem
from archive.rules.marking import highlight
from archive.rules.questions import (
    And,
    Everything,
    Field,
    Not,
    Nothing,
    Or,
    Phrase,
    Prefix,
    Query,
    Term,
    parse_query,
    unread,
)


def term(word: str) -> Term:
    return Term(word, stem(word))


def test_striking_finds_strike() -> None:
    """DESIGN section 7; the stems are those of Snowball English in Whoosh."""
    assert {stem(w) for w in ("strike", "strikes", "striking")} == {"strike"}
    assert analyse("They were striking").exact == ("they", "were", "striking")
    assert analyse("They were striking").stem[-1] == analyse("a strike").stem[-1]


def test_accents_apostrophes_clicks() -> None:
    """PITFALLS, Whoosh: café ≠ cafe, NFD misses, N!ai → ai, combining marks split. Here they don't."""
    for form in ("NFC", "NFD"):
        assert analyse(unicodedata.normalize(form, "Café Ødegård Łódź")).exact == ("cafe", "odegard", "lodz")
    assert analyse("N!ai ǃXun !Xun").exact == ("nǃai", "ǃxun", "ǃxun")
    assert analyse("Stop! Go").exact == ("stop", "go")
    assert analyse("O’Neil o'neil").exact == ("oʼneil", "oʼneil")
    assert analyse("Lund’s Lund's Lunds'").exact == ("lund", "lund", "lunds")
    assert analyse("don’t 1,950 '68 sixty-two").exact == ("donʼt", "1", "950", "68", "sixty", "two")
    assert analyse("the and of").exact == ("the", "and", "of")  # stop words are kept for phrases


def sqlite_tokens(text: str) -> list[str]:
    """What SQLite's unicode61 makes of a text, in order."""
    with sqlite3.connect(":memory:") as db:
        db.execute("CREATE VIRTUAL TABLE t USING fts5(x, tokenize='unicode61')")
        db.execute("CREATE VIRTUAL TABLE v USING fts5vocab(t, instance)")
        db.execute("INSERT INTO t VALUES (?)", (text,))
        found = [r[0] for r in db.execute("SELECT term FROM v ORDER BY offset")]
    db.close()
    return found


@given(st.text(max_size=60))
def test_sqlite_does_not_split_what_was_analysed(text: str) -> None:
    """SEARCH.md, traps of FTS5: unicode61 splits o'neil and n!ai; so each stored token must stay one token there."""
    found = analyse(text)
    assert len(found.exact) == len(found.stem)
    # unicode61 knows the letters of Unicode 6.1 only: text beyond the first planes is left out of this comparison.
    if all(ord(c) < 0x2C00 and unicodedata.category(c) not in ("Cn", "Mc", "Me") for c in text):
        for token in found.exact:
            assert len(sqlite_tokens(token)) == 1, token


def test_the_boundary_is_one_token_that_no_question_holds() -> None:
    assert len(sqlite_tokens(f"old {BOUNDARY} row")) == 3
    assert analyse(f"a {BOUNDARY} b").exact == ("a", "b")
    assert parse_query(BOUNDARY) == Nothing()
    assert analyse("by [name withheld]’s boat").exact == ("by", BOUNDARY, "boat")
    assert parse_query(f'"by {MASK} boat"') == Phrase(("by", "boat"))


def test_no_phrase_crosses_a_mask() -> None:
    words = [Word(t, n * 300, n * 300 + 250) for n, t in enumerate(["by", "Lund’s,", "boat"])]
    found = analyse_masked(mask_words(words, [(300, 550)]))
    assert found.exact == ("by", BOUNDARY, "boat") and found.stem == ("by", BOUNDARY, "boat")
    with sqlite3.connect(":memory:") as db:
        db.execute("CREATE VIRTUAL TABLE t USING fts5(x, tokenize='unicode61')")
        db.execute("INSERT INTO t VALUES (?)", (" ".join(found.exact),))
        hits = [db.execute("SELECT count(*) FROM t WHERE t MATCH ?", (q,)).fetchone()[0] for q in ('"by boat"', "boat")]
    db.close()
    assert hits == [0, 1]


# Project choices: the question → the tree.
QUESTIONS: list[tuple[str, Query]] = [
    ("", Everything()),
    ("   ", Everything()),
    ("flood", term("flood")),
    ("Striking", Term("striking", "strike")),
    ("flood strike", And((term("flood"), term("strike")))),
    ("flood and strike", And((term("flood"), term("strike")))),
    ("flood AND strike", And((term("flood"), term("strike")))),
    ("flood or strike", Or((term("flood"), term("strike")))),
    ("a OR NOT b", Or((term("a"), Not(term("b"))))),
    ("NOT x", Not(term("x"))),
    ("flood not strike", And((term("flood"), Not(term("strike"))))),
    ("(flood or strike) and not row", And((Or((term("flood"), term("strike"))), Not(term("row"))))),
    ("a or b and c", Or((term("a"), And((term("b"), term("c")))))),
    ('"net row"', Phrase(("net", "row"))),
    ("“Net Row” flood", And((Phrase(("net", "row")), term("flood")))),
    ('"striking"', Term("striking", "strike", quoted=True)),
    ('"net row', Phrase(("net", "row"))),
    ("flo*", Prefix("flo")),
    ("*flo", term("flo")),
    ("*", Nothing()),
    ("!!!", Nothing()),
    ("()", Nothing()),
    ("(((", Nothing()),
    ('""', Nothing()),
    ("and", term("and")),
    ("new-houses", Phrase(("new", "houses"))),
    ("colour:row", Phrase(("colour", "row"))),
    ("place:row", Field("place", "row")),
    ("not not x", term("x")),
    ('"not not x"', Phrase(("not", "not", "x"))),
    ("flood flood", term("flood")),
]


@pytest.mark.parametrize(("text", "wanted"), QUESTIONS)
def test_a_question_is_read(text: str, wanted: Query) -> None:
    assert parse_query(text) == wanted


def leaves(query: Query) -> list[Query]:
    if isinstance(query, (And, Or)):
        return [x for p in query.parts for x in leaves(p)]
    return leaves(query.part) if isinstance(query, Not) else [query]


QUERY_BITS = st.sampled_from(
    ["flood", "and", "or", "not", "NOT", "(", ")", '"', "“", "*", "row*", "o'neil", "~2", "^3", ":", "café", "a", "x:y", "[", "]", "?", "\x00"]
)


@given(st.one_of(st.text(max_size=80), st.lists(QUERY_BITS, max_size=40).map(" ".join), st.lists(QUERY_BITS, max_size=40).map("".join)))
def test_no_question_breaks_the_reading(text: str) -> None:
    for leaf in leaves(parse_query(text)):
        assert isinstance(leaf, (Term, Phrase, Prefix, Everything, Nothing))
        tokens = leaf.exact if isinstance(leaf, Phrase) else (leaf.exact, leaf.stem) if isinstance(leaf, Term) else ()
        assert all(t and all(c.isalnum() for c in t) for t in tokens)
        assert BOUNDARY not in tokens


@pytest.mark.parametrize("text", [" ".join(f"w{n}" for n in range(3000)), "not " * 3000 + "x", "(" * 3000, "(a " * 3000, '"' * 3001,
                                  "or " * 3000, "a or " * 3000 + "b", "x* " * 3000])  # fmt: skip
def test_three_thousand_words(text: str) -> None:
    assert len(leaves(parse_query(text))) <= 200
    assert any("words were read" in u.words for u in unread(text)) == (len(text.split()) > 200)


def test_what_was_found_is_marked() -> None:
    words = ["The", "old", "ferry", "was", "striking", "again,", "and", "we", "struck", "in", "Net", "Row’s", "houses"]
    parts = highlight(words, parse_query('strike "net row" fer* not houses'))
    assert [t for t, hit in parts if hit] == ["ferry", "striking", "Net Row’s"]
    assert " ".join(t for t, _ in parts) == " ".join(words)


def test_the_window_lies_where_the_question_is_met_best() -> None:
    words = ["flood"] + ["so"] * 100 + ["flood", "strike"] + ["so"] * 100
    parts = highlight(words, parse_query("flood strike"), around=20)
    assert parts[0] == ("…", False) and parts[-1] == ("…", False)
    assert ("flood strike", True) in parts
    assert sum(len(t.split()) for t, _ in parts) == 22


def test_a_mask_is_never_a_match() -> None:
    own = highlight(["by", "[a neighbour]’s", "boat"], parse_query('neighbour or "by boat" or neigh* or boat'), masks={1})
    assert [text for text, hit in own if hit] == ["boat"], "a mask's own words are not marked"
    parts = highlight(["by", MASK, "boat"], parse_query("name withheld boat"))
    assert [t for t, hit in parts if hit] == ["boat"]
