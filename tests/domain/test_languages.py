"""Languages: tags as RFC 5646 has them, English names as ISO 639-1 has them, and the last word of people about a stretch."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.languages import Spoken, Told, name, spoken, tag
from archive.errors import BadInput

# RFC 5646, Appendix A: what it gives as tags [from memory], and as it writes them
GOOD = [
    "de", "fr", "ja", "zh-Hant", "zh-Hans", "sr-Cyrl", "sr-Latn", "yue-HK", "zh-Hans-CN", "sr-Latn-RS", "sl-rozaj", "sl-nedis", "de-CH-1901",
    "sl-IT-nedis", "hy-Latn-IT-arevela", "de-DE", "en-US", "es-419", "az-Arab-x-aze-derbend", "de-CH-x-phonebk",
]  # fmt: skip
BAD = ["de-419-DE", "a-DE", "ar-a-aaa-b-bbb-a-ccc"]  # the same appendix, “some invalid tags”


@pytest.mark.parametrize("written", GOOD)
def test_tags_of_the_standard_are_taken_as_they_are(written: str) -> None:
    assert tag(written) == written and tag(written.upper()) == written, "case carries no meaning (§2.1.1)"


@pytest.mark.parametrize("written", [*BAD, "", "xx", "und", "mul", "zxx", "Elbonian", "en" + "-x-abcdefgh" * 5])
def test_what_is_no_language_is_refused_and_not_repeated(written: str) -> None:
    with pytest.raises(BadInput) as told:
        tag(written)
    assert not written or written not in told.value.message.split()


# ISO 639-1 and 639-3 reference names [from memory]
@pytest.mark.parametrize(("code", "english"), [("en", "English"), ("cy", "Welsh"), ("pl", "Polish"), ("yi", "Yiddish"), ("gd", "Scottish Gaelic"), ("szl", "Silesian")])
def test_languages_are_called_by_their_english_names(code: str, english: str) -> None:
    assert name(code) == english and tag(english) == code and tag(english.lower()) == code


def test_a_code_of_three_letters_is_the_one_of_two() -> None:
    """RFC 5646 §2.2.1: the shortest code of a language is its subtag."""
    assert tag("cym") == "cy" and tag("eng-GB") == "en-GB" and tag("en_gb") == "en-GB"


LENGTH = 60
stretches = st.tuples(st.integers(0, LENGTH - 1), st.integers(1, 30)).map(lambda p: (p[0], min(LENGTH, p[0] + p[1])))
said = st.lists(
    st.one_of(
        st.sampled_from(["cy", "pl"]).map(lambda t: Told(None, None, t)),
        st.tuples(stretches, st.sampled_from(["cy", "pl", "en", ""])).map(lambda p: Told(*p[0], p[1])),
    ),
    max_size=12,
)


@given(said)
def test_of_two_words_about_one_moment_the_later_counts(told: list[Told]) -> None:
    """Moment by moment, against the plainest way to reckon it."""
    found = spoken("en", told)
    whole = next((t.tag for t in reversed(told) if t.start_ms is None), "en")
    assert found.whole == whole
    pieces = found.pieces(LENGTH)
    assert pieces[0][0] == 0 and pieces[-1][1] == LENGTH
    assert all(a[1] == b[0] and a[2] != b[2] for a, b in zip(pieces, pieces[1:], strict=False)), "without a gap, neighbours differ"
    for at in range(LENGTH):
        last = next((t.tag for t in reversed(told) if t.start_ms is not None and t.end_ms is not None and t.start_ms <= at < t.end_ms), "")
        assert next(t for s, e, t in pieces if s <= at < e) == (last or whole) == found.at(at, at + 1)


def test_a_stretch_has_the_language_that_lasts_longest_in_it() -> None:
    mixed = Spoken("en", ((1000, 4000, "cy"), (4000, 9000, "pl")))
    assert mixed.at(0, 5000) == "cy" and mixed.at(3000, 9000) == "pl" and mixed.at(9000, 9000) == "en"
