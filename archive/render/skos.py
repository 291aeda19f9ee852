"""The thesaurus as SKOS (W3C Recommendation 18 August 2009), written by rdflib: Turtle, RDF/XML or JSON-LD."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rdflib import RDF, Graph, Literal, URIRef
from rdflib.namespace import DCTERMS, SKOS

from archive.rules.themes import Theme

FORMS = {"turtle": ("ttl", "turtle"), "rdf-xml": ("rdf", "pretty-xml"), "json-ld": ("jsonld", "json-ld")}  # form → ending, rdflib's name


def write(themes: Iterable[Theme], uris: Mapping[str, str], scheme: str, title: str, language: str, form: str) -> bytes:
    """One concept scheme with these themes as concepts, in UTF-8. A word that speaks for a theme is a hidden label, unless it is another
    label of it already (S13)."""
    graph = Graph()
    graph.bind("skos", SKOS)
    whole = URIRef(scheme)
    graph.add((whole, RDF.type, SKOS.ConceptScheme))
    graph.add((whole, DCTERMS.title, Literal(title)))
    for theme in themes:
        concept = URIRef(uris[theme.name])
        graph.add((concept, RDF.type, SKOS.Concept))
        graph.add((concept, SKOS.inScheme, whole))
        labels = [(language, theme.name), *theme.labels]
        for lang, text in labels:
            graph.add((concept, SKOS.prefLabel, Literal(text, lang=lang)))
        for lang, text in theme.use_for:
            graph.add((concept, SKOS.altLabel, Literal(text, lang=lang or language)))
        shown = {text for _, text in (*labels, *theme.use_for)}
        for word in theme.words:
            if word not in shown:
                graph.add((concept, SKOS.hiddenLabel, Literal(word, lang=language)))
        if theme.scope_note:
            graph.add((concept, SKOS.scopeNote, Literal(theme.scope_note, lang=language)))
        if theme.broader:
            graph.add((concept, SKOS.broader, URIRef(uris[theme.broader])))
            graph.add((URIRef(uris[theme.broader]), SKOS.narrower, concept))
        else:
            graph.add((concept, SKOS.topConceptOf, whole))
            graph.add((whole, SKOS.hasTopConcept, concept))
        for other in theme.related:
            graph.add((concept, SKOS.related, URIRef(uris[other])))
    return graph.serialize(format=FORMS[form][1], encoding="utf-8")
