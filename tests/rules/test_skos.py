"""SKOS in and out (W3C Recommendation, 18 August 2009). rdflib reads back what is written; what is read is written by hand here.

The first file is after the examples of the SKOS Primer (W3C Note, 18 August 2009), sections 2.2 to 2.4, with this town's words.
"""

from __future__ import annotations

import contextlib
import json
import socket

import pytest
from rdflib import RDF, Graph, Literal
from rdflib.namespace import SKOS

from archive.errors import BadInput
from archive.render.skos import FORMS, write
from archive.rules.skos import Vocabulary, read
from archive.rules.themes import Theme

PREFIX = "@prefix skos: <http://www.w3.org/2004/02/skos/core#> . @prefix ex: <http://example.org/> . "
PRIMER = PREFIX + """
ex:water a skos:Concept ; skos:prefLabel "water"@en, "woda"@pl ; skos:narrower ex:flood ; skos:exactMatch ex:other .
ex:flood a skos:Concept ; skos:prefLabel "flood"@en-GB ; skos:altLabel "inundation"@en, "powódź"@pl ; skos:hiddenLabel "flud"@en ;
  skos:definition "When the river came up."@en ; skos:scopeNote "The Sallow flood."@en ; skos:related ex:fear ; skos:notation "4.1" .
ex:fear a skos:Concept ; skos:prefLabel "fear" .
"""


def got(text: str, name: str = "t.ttl", only: str = "", known: dict[str, str] | None = None) -> Vocabulary:
    return read(text.encode("utf-8"), name, "en", known or {}, only)


def faults(text: str, known: dict[str, str] | None = None) -> str:
    return " ".join(f"{f.theme}: {f.words}" for f in got(text, known=known).faults)


def test_what_the_primer_shows_is_read() -> None:
    found = got(PRIMER)
    assert found.faults == ()
    assert set(found.themes) == {
        Theme("water", labels=(("pl", "woda"),)),
        Theme("flood", "water", "The Sallow flood. When the river came up.", ("flud",), (("", "inundation"), ("pl", "powódź")), (), ("fear",)),
        Theme("fear", related=("flood",)),
    }
    assert found.left_out == (("exactMatch", 1), ("notation", 1)), "what is kept nowhere is told"


@pytest.mark.parametrize("form", FORMS)
def test_what_is_written_is_read_the_same_by_rdflib_and_by_us(form: str) -> None:
    themes = list(got(PRIMER).themes)
    uris = {t.name: f"urn:x:{t.name}" for t in themes}
    data = write(themes, uris, "urn:x:all", "Tarnwick", "en", form)
    graph = Graph().parse(data=data, format={"rdf-xml": "xml"}.get(form, form))
    assert len(set(graph.subjects(RDF.type, SKOS.Concept))) == 3
    assert {str(o) for o in graph.objects(predicate=SKOS.prefLabel)} == {"water", "woda", "flood", "fear"}
    assert list(graph.objects(predicate=SKOS.hiddenLabel)) == [Literal("flud", lang="en")]
    again = read(data, f"t.{FORMS[form][0]}", "en", {}, "")
    assert (set(again.themes), again.faults) == (set(themes), ())
    assert again.names == {uri: name for name, uri in uris.items()}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('ex:a skos:prefLabel "flood"@en, "deluge"@en .', "a or b"),
        ('ex:a skos:prefLabel "flood"@en ; skos:broader ex:b, ex:c . ex:b skos:prefLabel "b" . ex:c skos:prefLabel "c" .', "several broader concepts: b, c"),
        ('ex:a skos:prefLabel "powódź"@pl .', "powódź: It has no preferred label in the language of this archive (en)"),
        ('ex:a skos:prefLabel "flood" ; skos:broader ex:gone .', "Its broader concept http://example.org/gone is neither in this file nor here"),
        ('ex:a skos:prefLabel "flood" . ex:b skos:prefLabel "Flood" .', "Two concepts have this preferred label"),
        ('ex:a skos:prefLabel "flood"@en ; skos:altLabel "tide"@en ; skos:hiddenLabel "tide"@en .', "“tide” is a hidden label and another label of it"),
    ],
    ids=lambda v: v[:30],
)
def test_faults_of_a_file_are_named_with_their_concept(text: str, words: str) -> None:
    told = faults(PREFIX + text)
    assert ("two preferred labels in one language: “deluge”, “flood”" if words == "a or b" else words) in told


def test_a_broader_concept_may_be_here_already() -> None:
    found = got(PREFIX + 'ex:a skos:prefLabel "flood" ; skos:broader ex:gone .', known={"http://example.org/gone": "water"})
    assert found.faults == () and found.themes[0].broader == "water"


def test_of_a_great_vocabulary_a_part_is_taken() -> None:
    """Thousands of concepts: said with their number, and what to do."""
    tops = "".join(f'ex:t{n} skos:prefLabel "top {n}"@en . ' for n in range(3))
    great = PREFIX + tops + "".join(f'ex:c{n} skos:prefLabel "c {n}"@en ; skos:broader ex:t{n % 3} . ' for n in range(510))
    with pytest.raises(BadInput, match="513 concepts") as error:
        got(great)
    assert "top 0, top 1, top 2" in error.value.remedy and "--only" in error.value.remedy
    part = got(great, only="Top 1")
    assert len(part.themes) == 171 and part.faults == ()
    with pytest.raises(BadInput, match="no such concept"):
        got(great, only="top 9")


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (b"@prefix x: <u:> .\nx:a x:b x:c\nnonsense here", "t.ttl", "t.ttl, line 3: this is no Turtle"),
        (b"<?xml version='1.0'?>\n<rdf", "t.rdf", "t.rdf, line 2: this is no RDF/XML"),
        (b"{", "t.jsonld", "t.jsonld is no JSON"),
        (b"[" * 100_000, "t.json", "t.json is no JSON"),
        (b"theme,broader\nflood,water\n", "themes.csv", "themes.csv, line 1: this is no Turtle"),
        (b"", "t.ttl", "t.ttl holds no SKOS concept"),
        (b"\xff\xfe\x00", "t.ttl", "t.ttl"),
        (b"@prefix x: <u:> . x:a x:b x:c .", "t.ttl", "t.ttl holds no SKOS concept"),
    ],
    ids=["turtle", "xml", "json", "deep", "csv", "empty", "bytes", "no concept"],
)
def test_what_is_no_skos_is_refused_with_its_place(data: bytes, name: str, words: str) -> None:
    with pytest.raises(BadInput) as error:
        read(data, name, "en", {}, "")
    assert words in error.value.message and error.value.remedy


def test_nothing_is_fetched_whatever_the_file_names(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []

    def refuse(*where: object, **_: object) -> None:
        asked.append(where)
        raise OSError("no network in tests")

    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    monkeypatch.setattr(socket.socket, "connect", refuse)
    concept = {"@id": "urn:x:1", "@type": str(SKOS.Concept), str(SKOS.prefLabel): "flood"}
    for context in ("http://example.org/c.jsonld", ["http://example.org/c.jsonld"], [{}, "file:///etc/passwd"]):
        for document in ({"@context": context, **concept}, [{"@graph": [{"@context": context, **concept}]}], {"@context": {"n": {"@id": "u:n", "@context": context}}, **concept}):
            with pytest.raises(BadInput, match="lies elsewhere"):
                got(json.dumps(document), "t.jsonld")
    with pytest.raises(BadInput, match="lies elsewhere"):
        got(json.dumps({"@context": {"@import": "http://example.org/c.jsonld"}, **concept}), "t.jsonld")
    assert got(json.dumps({"@context": {"skos": str(SKOS)}, **concept}), "t.jsonld").themes == (Theme("flood"),)
    got(PREFIX + '<> <http://www.w3.org/2002/07/owl#imports> <http://example.org/all> . ex:a skos:prefLabel "flood" .')
    entity = f"""<?xml version="1.0"?><!DOCTYPE r [<!ENTITY e SYSTEM "http://example.org/e">]>
<r:RDF xmlns:r="{RDF}" xmlns:s="{SKOS}"><s:Concept r:about="urn:x:1"><s:prefLabel>flood &e;</s:prefLabel></s:Concept></r:RDF>"""
    with contextlib.suppress(BadInput):
        got(entity, "t.rdf")
    assert asked == []
