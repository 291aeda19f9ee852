"""A thesaurus from SKOS: Turtle, RDF/XML or JSON-LD, read by rdflib from bytes alone. Pure.

SKOS Reference, W3C Recommendation 18 August 2009. A hidden label is for indexing and search (SKOS Primer 2.2.3), and so becomes a word
that speaks for a theme. JSON-LD may name contexts that lie elsewhere; rdflib would fetch them, so such a file is refused before it is read.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from xml.sax import SAXParseException

from rdflib import RDF, Graph
from rdflib.namespace import SKOS
from rdflib.plugins.parsers.notation3 import BadSyntax
from rdflib.term import Literal, Node, URIRef

from archive.errors import BadInput
from archive.rules.themes import Theme
from archive.rules.thesaurus import MOST_THEMES, Fault

MAX_BYTES = 20_000_000
_HELD = (
    RDF.type, SKOS.prefLabel, SKOS.altLabel, SKOS.hiddenLabel, SKOS.scopeNote, SKOS.definition, SKOS.broader, SKOS.narrower, SKOS.related,
    SKOS.inScheme, SKOS.topConceptOf, SKOS.hasTopConcept, SKOS.semanticRelation, SKOS.broaderTransitive, SKOS.narrowerTransitive,
)  # fmt: skip
_ENDINGS = {"ttl": "turtle", "nt": "nt", "rdf": "xml", "xml": "xml", "jsonld": "json-ld", "json": "json-ld"}
_MEND = "Nothing was taken. Save it again as Turtle, and read that."


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What a file holds. `names`: URI of each concept → its name; `left_out`: what is kept nowhere here, as (what, how many)."""

    themes: tuple[Theme, ...]
    names: dict[str, str]
    faults: tuple[Fault, ...]
    left_out: tuple[tuple[str, int], ...]


def read(data: bytes, name: str, language: str, known: Mapping[str, str], only: str = "") -> Vocabulary:
    """The themes of a file. `language`: of this archive, in which each must have a name; `known`: URI → name of themes here already;
    `only`: the name or URI of one concept, taken with its narrower ones. Raises BadInput where it is no SKOS."""
    graph = _graph(data, name)
    concepts = {c for c in (*graph.subjects(RDF.type, SKOS.Concept), *graph.subjects(SKOS.prefLabel)) if isinstance(c, URIRef)}
    concepts -= set(graph.subjects(RDF.type, SKOS.ConceptScheme)) | set(graph.subjects(RDF.type, SKOS.Collection))
    if not concepts:
        raise BadInput(f"{name} holds no SKOS concept.", "Choose a thesaurus that was saved as SKOS: Turtle, RDF/XML or JSON-LD.")
    if only:
        concepts = _branch(graph, concepts, only)
    if len(concepts) > MOST_THEMES:
        tops = sorted(_plain_name(graph, c, language) for c in concepts if not _broader(graph, c))
        raise BadInput(
            f"{name} holds {len(concepts):,} concepts, and a thesaurus here has two levels and {MOST_THEMES} themes at most. Nothing was taken.",
            f"Take one of its concepts with its narrower ones (`--only`). At its top are: {', '.join(tops[:12])}{' …' if len(tops) > 12 else ''}.",
        )
    return _themes(graph, concepts, language, known)


def _graph(data: bytes, name: str) -> Graph:
    form = _form(data, name)
    if len(data) > MAX_BYTES:
        raise BadInput(f"{name} is larger than {MAX_BYTES // 1_000_000} MB.", "Take a part of it, and read that.")
    if form == "json-ld":
        _all_contexts_here(data, name)
    graph = Graph()
    try:
        graph.parse(data=data, format=form, publicID="urn:toldhere:file")
    except BadSyntax as error:
        raise BadInput(f"{name}, line {error.lines + 1}: this is no Turtle.", _MEND) from None
    except SAXParseException as error:
        raise BadInput(f"{name}, line {error.getLineNumber()}: this is no RDF/XML.", _MEND) from None
    except Exception as error:  # the parsers raise whatever their helpers raise
        found = re.search(r"line (\d+)", str(error))
        raise BadInput(f"{name}{f', line {found[1]}' if found else ''}: this cannot be read as SKOS.", _MEND) from None
    return graph


def _form(data: bytes, name: str) -> str:
    ending = name.rpartition(".")[2].lower()
    begins = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    return _ENDINGS.get(ending) or {b"{": "json-ld", b"[": "json-ld"}.get(begins) or ("xml" if data.lstrip().startswith((b"<?xml", b"<rdf")) else "turtle")


def _all_contexts_here(data: bytes, name: str) -> None:
    """Refuse JSON-LD that names a context by its address: nothing is fetched."""
    try:
        parts = [json.loads(data)]
    except (ValueError, RecursionError):
        raise BadInput(f"{name} is no JSON.", _MEND) from None
    while parts:
        part = parts.pop()
        if isinstance(part, dict):
            context = part.get("@context", {})
            listed = context if isinstance(context, list) else [context]
            if "@import" in part or any(isinstance(c, str) for c in listed):
                raise BadInput(f"{name} names a context that lies elsewhere, and nothing is fetched from the network.", _MEND)
            parts += part.values()
        elif isinstance(part, list):
            parts += part


def _branch(graph: Graph, concepts: set[URIRef], only: str) -> set[URIRef]:
    wanted = only.strip().casefold()
    heads = {c for c in concepts if str(c) == only or any(str(o).casefold() == wanted for o in graph.objects(c, SKOS.prefLabel))}
    if not heads:
        raise BadInput("There is no such concept in this file; nothing was taken.", "Write its preferred label or its URI.")
    found = set(heads)
    while more := {c for c in concepts - found if _broader(graph, c) & found}:
        found |= more
    return found


def _themes(graph: Graph, concepts: set[URIRef], language: str, known: Mapping[str, str]) -> Vocabulary:
    faults: list[Fault] = []
    names: dict[str, str] = {}
    taken: dict[str, str] = {}
    for concept in sorted(concepts):
        own = [t for lang, t in _texts(graph, concept, SKOS.prefLabel, language) if not lang]
        shown = _plain_name(graph, concept, language)
        if not own:
            faults.append(Fault(shown, f"It has no preferred label in the language of this archive ({language}). Give it one."))
        if len(own) > 1:
            faults.append(Fault(shown, f"It has two preferred labels in one language: {', '.join(f'“{t}”' for t in own)}. Keep one, and make the other an alternative label."))
        name = own[0] if own else shown
        if taken.setdefault(name.casefold(), str(concept)) != str(concept):
            faults.append(Fault(name, "Two concepts have this preferred label. Say more in one of them."))
        names[str(concept)] = name
    every = {**known, **names}
    themes = tuple(_theme(graph, concept, names[str(concept)], language, every, concepts, faults) for concept in sorted(concepts))
    lost = Counter(_local(p) for s in concepts for p in graph.predicates(s) if p not in _HELD)
    return Vocabulary(themes, names, tuple(faults), tuple(sorted(lost.items())))


def _theme(
    graph: Graph, concept: URIRef, name: str, language: str, names: Mapping[str, str], concepts: set[URIRef], faults: list[Fault]
) -> Theme:  # fmt: skip
    preferred = _texts(graph, concept, SKOS.prefLabel, language)
    broader = _named(_broader(graph, concept), names, name, "broader", faults)
    if len(broader) > 1:
        faults.append(Fault(name, f"It has several broader concepts: {', '.join(broader)}. Keep one."))
    related = {*graph.objects(concept, SKOS.related), *(s for s in graph.subjects(SKOS.related, concept) if s in concepts)}
    notes = [t for p in (SKOS.scopeNote, SKOS.definition) for t in _own_first(_texts(graph, concept, p, language))]
    hidden = [t for _, t in _texts(graph, concept, SKOS.hiddenLabel, language)]
    use_for = tuple(_texts(graph, concept, SKOS.altLabel, language))
    labels = {("", name), *preferred, *use_for}
    for text in sorted({t for t in hidden if any(t == label for _, label in labels)}):
        faults.append(Fault(name, f"“{text}” is a hidden label and another label of it as well. Keep one."))
    return Theme(
        name, broader[0] if broader else "", " ".join(notes), tuple(dict.fromkeys(hidden)), use_for,
        tuple((lang, text) for lang, text in preferred if lang), tuple(_named(related, names, name, "related", faults)),
    )  # fmt: skip


def _named(found: set[Node], names: Mapping[str, str], name: str, how: str, faults: list[Fault]) -> list[str]:
    unknown = sorted(str(u) for u in found if str(u) not in names)
    if unknown:
        faults.append(Fault(name, f"Its {how} concept {unknown[0]} is neither in this file nor here. Add it, or leave the {how} one out."))
    return sorted({names[str(u)] for u in found if str(u) in names})


def _broader(graph: Graph, concept: Node) -> set[Node]:
    return {*graph.objects(concept, SKOS.broader), *graph.subjects(SKOS.narrower, concept)}


def _texts(graph: Graph, concept: Node, predicate: URIRef, language: str) -> list[tuple[str, str]]:
    """(language, text) in order; "" for the archive's own language, and where none is said and there is no text in its own."""
    found = [(o.language or "", _clean(str(o))) for o in graph.objects(concept, predicate) if isinstance(o, Literal)]
    own = [("", t) for lang, t in found if lang and _is(lang, language)]
    plain = [("", t) for lang, t in found if not lang]
    if predicate == SKOS.prefLabel and own:
        plain = []
    others = [(lang, t) for lang, t in found if lang and not _is(lang, language)]
    return sorted({*own, *plain, *others})


def _own_first(texts: list[tuple[str, str]]) -> Iterator[str]:
    """The notes in the archive's language; in others only where there are none."""
    own = [t for lang, t in texts if not lang]
    yield from own or [t for _, t in texts]


def _is(lang: str, language: str) -> bool:
    return lang.lower().split("-")[0] == language.lower().split("-")[0]


def _plain_name(graph: Graph, concept: Node, language: str) -> str:
    texts = _texts(graph, concept, SKOS.prefLabel, language)
    return texts[0][1] if texts else str(concept)


def _clean(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).split())


def _local(predicate: Node) -> str:
    return re.split(r"[#/]", str(predicate))[-1]
