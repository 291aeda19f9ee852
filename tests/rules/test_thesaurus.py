"""What a thesaurus must keep to: SKOS Reference S13, S14, S27 (W3C Recommendation, 18 August 2009), and two levels.

The same thesauri, written as SKOS, are asked with rdflib for the conditions as the Reference states them: ours must say no wherever it does.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rdflib import Graph
from rdflib.namespace import SKOS

from archive.render.skos import write
from archive.rules.themes import Theme
from archive.rules.thesaurus import MOST_THEMES, faults, meant, preferred


def known(*themes: Theme) -> dict[str, Theme]:
    return {t.name: t for t in themes}


def said(*themes: Theme) -> str:
    return " ".join(f"{f.theme}: {f.words}" for f in faults(known(*themes)))


WHOLE = known(
    Theme("water", related=("fear",), labels=(("pl", "woda"),)), Theme("flood", "water", use_for=(("", "inundation"), ("pl", "powódź"))),
    Theme("river", "water"), Theme("fear"),
)  # fmt: skip


def test_a_whole_one_has_no_faults() -> None:
    assert faults(WHOLE) == []


@pytest.mark.parametrize(
    ("themes", "words"),
    [
        ((Theme("flood", "tide"),), "“tide” is no theme on record. Add a row for it"),
        ((Theme("a", "b"), Theme("b", "a")), "It is broader than itself: a → b → a"),
        ((Theme("a", "a"),), "It is broader than itself: a → a"),
        ((Theme("water"), Theme("flood", "water"), Theme("roofs", "flood")), "third level: water → flood → roofs. Make it narrower than “water”"),
        ((Theme("flood", labels=(("pl", "powódź"), ("pl", "zalanie"))),), "two preferred labels in the language “pl”"),
        ((Theme("flood", labels=(("", "inundation"),)),), "two preferred labels in the language of this archive"),
        ((Theme("flood", use_for=(("", "Flood"),)),), "is its name and a “use for” as well"),
        ((Theme("flood", use_for=(("", "tide"),)), Theme("tide")), "“tide” stands for “flood” as well"),
        ((Theme("water", related=("flood",)), Theme("flood", "water")), "one of them is the broader one of the other"),
        ((Theme("flood", related=("flood",)),), "It is related to itself"),
        ((Theme("flood", related=("mud",)),), "“mud”, to which it is related, is no theme on record"),
        ((Theme("x" * 200),), "1 to 120 letters"),
        (tuple(Theme(f"t{n}") for n in range(MOST_THEMES + 1)), "501 themes, and a thesaurus here holds 500 at most"),
    ],
    ids=lambda v: v[:30] if isinstance(v, str) else "",
)
def test_every_fault_is_named_with_its_place_and_what_helps(themes: tuple[Theme, ...], words: str) -> None:
    assert words in said(*themes)


def test_another_word_for_the_same_means_the_theme_with_its_narrower_ones() -> None:
    assert meant("woda", WHOLE) == ("water", "flood", "river")
    assert meant("POWÓDŹ", WHOLE) == meant("flood", WHOLE) == ("flood",)
    assert meant("nothing", WHOLE) == () and preferred("inundation", WHOLE) == "flood"


names = st.sampled_from(("a", "b", "c", "d"))
labels = st.tuples(st.sampled_from(("", "pl")), st.sampled_from(("a", "b", "x", "y")))
some = st.builds(
    Theme, names, st.sampled_from(("", "a", "b", "c")), st.just(""), st.lists(st.sampled_from(("x", "mud")), max_size=2).map(tuple),
    st.lists(labels, max_size=2, unique=True).map(tuple), st.lists(st.tuples(st.just("pl"), st.sampled_from(("x", "z"))), max_size=2, unique=True).map(tuple),
    st.lists(names, max_size=1).map(tuple),
)  # fmt: skip


@settings(max_examples=120, deadline=None)
@given(st.lists(some, max_size=4, unique_by=lambda t: t.name))
def test_what_passes_here_meets_the_conditions_of_skos_as_rdflib_reads_them(themes: list[Theme]) -> None:
    listed = known(*themes)
    if faults(listed):
        return
    graph = Graph().parse(data=write(themes, {t.name: f"urn:x:{t.name}" for t in themes}, "urn:x:all", "x", "en", "turtle"), format="turtle")
    broken = []
    for concept in set(graph.subjects(SKOS.prefLabel)):
        kinds = [set(graph.objects(concept, p)) for p in (SKOS.prefLabel, SKOS.altLabel, SKOS.hiddenLabel)]
        broken += ["S13"] * (sum(map(len, kinds)) != len(set().union(*kinds)))
        languages = [label.language for label in kinds[0]]  # type: ignore[attr-defined]
        broken += ["S14"] * (len(languages) != len(set(languages)))
        above = set(graph.transitive_objects(concept, SKOS.broader)) - {concept}
        broken += ["S27"] * bool(above & set(graph.objects(concept, SKOS.related)))
        broken += ["two levels"] * (len(above) > 1) + ["circle"] * ((concept, SKOS.broader, concept) in graph)
    assert broken == [], themes
