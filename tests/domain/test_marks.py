"""Marks in a transcript. The bracketed forms are common practice, no source; language tags are BCP 47 (RFC 5646)."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from archive.domain.marks import GAP, Kind, kind, language, lasting, shown, spoken, written_words
from archive.domain.quoting import text_tokens, word_tokens
from archive.errors import BadInput


@pytest.mark.parametrize(
    ("text", "what", "said"),
    [
        ("Tandy,", Kind.WORD, "Tandy,"),
        ("[Tandy?],", Kind.UNSURE, "Tandy,"),
        ("[cy: hiraeth].", Kind.OTHER_LANGUAGE, "hiraeth."),
        ("[zh-Hant: 海]", Kind.OTHER_LANGUAGE, "海"),
        ("[laughter]", Kind.SOUND, ""),
        ("[pause 4 s]", Kind.SOUND, ""),
        ("[Laughter],", Kind.SOUND, ","),
        ("[inaudible 3 s]", Kind.INAUDIBLE, GAP),
        ("cann[er]y", Kind.WORD, "cannery"),
        ("[Mrs", Kind.WORD, "[Mrs"),
    ],
)
def test_what_stands_there(text: str, what: Kind, said: str) -> None:
    assert (kind(text), spoken(text)) == (what, said)


def test_a_remark_that_nobody_knows_counts_as_words_so_that_no_name_hides_in_it() -> None:
    assert "harper" in " ".join(text_tokens("[Mrs Harper coughs]"))
    assert word_tokens("[Harper]") == ("harper",)
    assert word_tokens("[Harper?]") == ("harper",)


def test_brackets_hold_together_and_are_said_of_each_word() -> None:
    assert written_words("the [Net Row?] and [cy: hiraeth mawr], [pause  4 s] then") == [
        "the", "[Net?]", "[Row?]", "and", "[cy: hiraeth]", "[cy: mawr],", "[pause 4 s]", "then",
    ]  # fmt: skip


def test_what_the_archive_itself_writes_is_not_taken() -> None:
    for text in ("she was [name withheld] then", "[Name  Withheld]", "[closed]", "[…]"):
        with pytest.raises(BadInput):
            written_words(text)


def test_how_long_and_in_which_language() -> None:
    assert lasting("[inaudible]", 2600) == "[inaudible 3 s]"
    assert lasting("[pause 9 s]", 1200) == "[pause 1 s]"
    assert lasting("[laughter]", 5000) == "[laughter]"
    assert language("[cy: hiraeth]") == "cy" and language("[laughter]") == "" and language("ciao") == ""
    assert shown("[cy: hiraeth],") == "hiraeth," and shown("[Tandy?]") == "[Tandy?]"


@given(st.text(alphabet="ab [?]:cy.é\u0301,", max_size=40))
def test_typed_text_comes_back(text: str) -> None:
    """Whatever is typed: written as words, typed again and written again it is the same."""
    assume("..." not in text)  # what the archive itself writes is refused: the test above
    words = written_words(text)
    assert written_words(" ".join(words)) == words
    assert all(w and w == " ".join(w.split()) for w in words)
