"""Names of people in speech: whatever their case, form, accents and company, they are found (invariant 5)."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.letters import folded
from archive.domain.masking import MASK, mask_words, under_masks, wording
from archive.domain.values import Word
from archive.rules.names import NameFinder, PersonNames, find_names

CAST = (
    PersonNames(5, (("Lena Marsh", "full", "as_name"), ("Marsh", "family", "as_name"))),
    PersonNames(8, (("Peter Lund", "full", "always"), ("Peter", "first", "always"), ("Lund", "family", "as_name"))),
    PersonNames(9, (("O'Neil", "family", "always"), ("Dot", "nick", "as_name"))),
    PersonNames(3, (("Ruta", "pseudonym", "never"), ("Irena Volk", "full", "always"))),
    PersonNames(7, (("A. C.", "initials", "always"), ("Agnes", "first", "always"), ("Coil", "heard_as", "as_name"))),
)

# Project choices: (spoken, the words of each hit, whose).
SAID = [
    ("the marsh behind Marsh", [("Marsh", 5)]),
    ("Peter, er, Lund said so", [("Peter, er, Lund", 8)]),
    ("Peter, you know, Lund", [("Peter, you know, Lund", 8)]),
    ("P. Lund’s boat", [("P. Lund’s", 8)]),
    ("PETER LUND", [("PETER LUND", 8)]),
    ("peter lund’s", [("peter lund’s", 8)]),
    ("the Lunds’ house", [("Lunds’", 8)]),
    ("a Lund-built boat", [("Lund-built", 8)]),
    ("Peter and his brother Lund", [("Peter", 8), ("Lund", 8)]),
    ("O’Neil's and ONeil and O Neil", [("O’Neil's", 9), ("ONeil", 9), ("O Neil", 9)]),
    ("a dot, and Dot.", [("Dot.", 9)]),
    ("Ruta told it", []),
    ("Irena Volk told it", [("Irena Volk", 3)]),
    ("the A.C. and A. C. of it", [("A.C.", 7), ("A. C.", 7)]),
    ("a c is no name, nor is ac", []),
    ("Agnes, she coiled a coil; Coil", [("Agnes,", 7), ("Coil", 7)]),
    ("the letters P. L. on the bow", [("P. L.", 8)]),
    ("I said, I, Peter", [("Peter", 8)]),
    ("Pe-ter", [("Pe-ter", 8)]),
    ("lena marsh on the marsh", [("lena marsh", 5)]),
    ("no names here at all", []),
]


@pytest.mark.parametrize(("text", "wanted"), SAID)
def test_names_in_speech(text, wanted, said) -> None:  # type: ignore[no-untyped-def]
    words = said(text)
    found = [(" ".join(w.text for w in words[h.first : h.last + 1]), h.person_id) for h in find_names(words, CAST)]
    assert [(f.rstrip(";"), p) for f, p in found] == wanted


def test_a_name_inside_a_place_is_decided_each_time(said) -> None:  # type: ignore[no-untyped-def]
    """DESIGN §6: names that are also words or places ("Lund's yard") are decided per occurrence, so each is found."""
    words = said("At Lund's yard we met Lund.")
    assert [(h.first, h.last) for h in find_names(words, CAST)] == [(1, 1), (5, 5)]


def test_every_part_of_a_full_name_is_a_name_and_a_title_is_none(said) -> None:  # type: ignore[no-untyped-def]
    known = (PersonNames(3, (("Oda Marit van der Kroon", "full", "always"),)), PersonNames(4, (("Old Mr Pike", "full", "always"),)))
    found = {h.first: h.person_id for h in find_names(said("Old Mr. Sobel met Marit and Pike and van Dyke"), known)}
    assert found == {4: 3, 6: 4}


def test_two_people_of_one_name_are_both_found(said) -> None:  # type: ignore[no-untyped-def]
    both = (*CAST, PersonNames(11, (("Ines Marsh", "full", "always"),)))
    assert {h.person_id for h in find_names(said("by Marsh"), both)} == {5, 11}
    assert {h.person_id for h in find_names(said("Ines Marsh"), both)} == {11}


letters = st.text(alphabet="bcdfghjklmnpqrtvwxz", min_size=1, max_size=7)
name_part = st.text(alphabet="aeiouáéíóúäöüñčžåbdgklmnrstvy", min_size=2, max_size=9).filter(
    lambda s: any(c in "aeiouáéíóúäöü" for c in s)
)


@given(
    st.lists(letters, max_size=8),
    st.lists(letters, max_size=8),
    st.lists(name_part, min_size=1, max_size=2),
    st.sampled_from([str, str.upper, str.title]),
    st.sampled_from(["NFC", "NFD"]),
    st.sampled_from(["", "'s", "’s", ",", ".", "?", "!”", "’", "s", "-like"]),
    st.sampled_from(["", "“", "(", "‘"]),
    st.booleans(),
)
def test_a_planted_name_is_found_and_masked(before, after, parts, case, form, ending, opening, as_name) -> None:  # type: ignore[no-untyped-def]
    """Random words without vowels around a random name with some: found at its place, and not a trace left of it."""
    name = " ".join(parts)
    spoken = (opening + unicodedata.normalize(form, case(name).title() if as_name else case(name)) + ending).split()
    texts = [*before, *spoken, *after]
    words = [Word(t, n * 300, n * 300 + 250) for n, t in enumerate(texts)]
    person = PersonNames(1, ((name, "full", "as_name" if as_name else "always"),))
    hits = find_names(words, [person])
    first, last = len(before), len(before) + len(spoken) - 1
    assert any(h.first <= first and last <= h.last for h in hits)
    masks = [(words[h.first].start_ms, words[h.last].end_ms) for h in hits]
    hidden = under_masks(words, masks)
    assert all(hidden[first : last + 1])
    tokens = mask_words(words, masks)
    left = folded(wording(tokens).replace(MASK, " ").replace("’s", " "))
    for part in parts:
        assert folded(part) not in left
    # What is not masked stands as it stood.
    kept = [t.text for t in tokens if not t.masked]
    assert kept == [t for t, h in zip(texts, hidden, strict=True) if not h]


def test_a_finder_can_be_kept(said) -> None:  # type: ignore[no-untyped-def]
    finder = NameFinder(CAST)
    assert finder.find(said("Peter Lund")) == find_names(said("Peter Lund"), CAST)
