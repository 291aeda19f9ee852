"""Every stretch of spoken words that may name or point to somebody, for a person to decide. It would rather find one too
many than one too few: what it does not find may leave. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from archive.domain.attribution import name_parts
from archive.domain.letters import folded
from archive.domain.values import Naming, Scan, Word
from archive.rules.capitals import capitalised, spelled_initials, titled
from archive.rules.data.given_names import ALSO_WORDS, SHORT_FORMS
from archive.rules.likeness import Likeness
from archive.rules.names import NameFinder, NameHit, PersonNames
from archive.rules.particulars import telephone_numbers, years_of_birth
from archive.rules.places import Gazetteer, suggest_places
from archive.rules.relations import pointing
from archive.rules.said import Found, Said, bare
from archive.rules.spoken import tokens

SHORT = "short"  # the kind of a form that is on record for nobody: "Bernie" of a Bernard
_WHY = {
    "full": "full name on record", "first": "first name on record", "family": "family name on record", "nick": "nickname on record",
    "initials": "initials on record", "heard_as": "listed as a mishearing of a name on record", "pseudonym": "a name on record",
    SHORT: "usual short form of a first name on record",
}  # fmt: skip
SOUNDS = "sounds like a name on record"


@dataclass(frozen=True, slots=True)
class Pointing:
    """Words first..last (inclusive) that may name or point to somebody. `person_id` None: nobody on record, or not known
    whom; `rule`: in plain words, why."""

    first: int
    last: int
    kind: Naming
    person_id: int | None
    rule: str


class Pointers:
    """Names on record, the gazetteer and words that name nobody, indexed once; `suggest` then works on any recording."""

    def __init__(self, people: Sequence[PersonNames], gazetteer: Gazetteer, known_words: Iterable[str] = ()) -> None:
        """`known_words`: titles of events, themes and the exhibition; their capitals name nobody."""
        self._finder = NameFinder([with_short_forms(p) for p in people])
        self._gazetteer = gazetteer
        self._alike = Likeness(_single_names(people, as_names=True))
        self._strictly_alike = Likeness(_single_names(people, as_names=False))
        placed = [t for p in gazetteer.places for t in (p.name, *p.also, *p.heard_as)]
        self._called = {  # names that are words as well, by which somebody is called: ", dot."
            folded(text): p.person_id for p in people for text, kind, scan in p.names if kind in ("first", "nick") and scan == Scan.AS_NAME
        }
        theirs = {name for name, _ in _single_names(people, as_names=True)}
        self._no_names = frozenset(w for text in (*placed, *known_words) for w in _capitals(text)) - theirs

    def suggest(self, words: Sequence[Word]) -> list[Pointing]:
        """In order; a stretch that points to several people is there once for each."""
        spoken = tokens(words)
        said = Said(spoken)
        at_word: dict[int, list[int]] = {}
        for n, token in enumerate(spoken):
            at_word.setdefault(token.word, []).append(n)
        for place in suggest_places(words, self._gazetteer):
            first, last = at_word[place.first_word][0], at_word[place.last_word][-1]
            said.places[first] = last
            said.inside.update(range(first, last + 1))
        found = [f for hit in self._finder.find(words) if (f := _known(said, hit, at_word)) is not None]
        for hit in found:
            said.mark(hit)
        found += self._marked(said, self._sounding(said))
        found += self._marked(said, self._spoken_to(said))
        found += self._marked(said, titled(said))
        found += self._marked(said, spelled_initials(said))
        found += self._marked(said, capitalised(said, self._no_names))
        found += [*pointing(said), *telephone_numbers(said), *years_of_birth(said, words)]
        return _as_words(said, found)

    def _marked(self, said: Said, hits: Iterable[Found]) -> list[Found]:
        found = list(hits)
        for hit in found:
            said.mark(hit)
        return found

    def _spoken_to(self, said: Said) -> Iterable[Found]:
        """A name that is a word as well, in small letters, where somebody is spoken to: "the same street, dot."."""
        for at, token in enumerate(said.spoken):
            if token.letters in self._called and not said.is_name(at) and at > 0 and said.ends(at - 1) and said.ends(at):
                yield Found(at, at, Naming.NAME, self._called[token.letters], "a name on record, spoken to")

    def _sounding(self, said: Said) -> Iterable[Found]:
        """Mishearings that nobody listed: a capital inside a sentence, a rare word, or a word beside the other name."""
        for at, token in enumerate(said.spoken):
            word = bare(token)
            if said.is_name(at) or at in said.inside or len(word) < 3 or not word.isalpha() or word in self._no_names:
                continue
            beside = {
                h.person_id for h in said.known if h.person_id is not None
                and (h.last == at - 1 and not said.ends(at - 1) or h.first == at + 1 and not said.ends(at))
            } if said.is_name(at - 1) or said.is_name(at + 1) else set()  # fmt: skip
            whose = [p for p in beside if self._alike.is_of(word, p)]
            if not whose:
                inside = token.capital and not said.opens(at)
                whose = list(self._alike.nearest(word) if inside else self._strictly_alike.nearest(word, strict=True))
            for person_id in whose:
                yield Found(at, at, Naming.NAME, person_id, SOUNDS)


def with_short_forms(person: PersonNames) -> PersonNames:
    """The person with the usual short forms of their first names, and the long ones of a short one ("Dot", "Dorothy")."""
    firsts = {folded(text.split()[0]) for text, kind, scan in person.names if kind in ("first", "full") and scan != Scan.NEVER and text.split()}
    known = {folded(text) for text, _, _ in person.names}
    forms = {form for first in firsts for form in SHORT_FORMS.get(first, ())}
    forms |= {long for long, short in SHORT_FORMS.items() if firsts & set(short)}
    added = tuple((form.capitalize(), SHORT, Scan.AS_NAME.value) for form in sorted(forms - known) if len(form) > 1)
    return PersonNames(person.person_id, person.names + added)


def _single_names(people: Sequence[PersonNames], *, as_names: bool) -> list[tuple[str, int]]:
    """(folded name of one word, person id). `as_names`: also those that are words as well, and the parts of full names."""
    found, words = [], set()
    for person in people:
        for text, kind, scan in person.names:
            if scan == Scan.NEVER or kind in ("initials", "pseudonym"):
                continue
            parts = name_parts(text) if kind in ("full", "heard_as", "nick") else text.split()
            made = ["".join(c for c in folded(part) if c.isalnum()) for part in parts]
            if scan == Scan.AS_NAME:
                words.update(made)
            if as_names or len(made) == 1:
                found += [(name, person.person_id) for name in made]
    return [f for f in found if as_names or f[0] not in words]


def _capitals(text: str) -> list[str]:
    return ["".join(c for c in folded(w.removesuffix("'s")) if c.isalnum()) for w in text.split() if w[:1].isupper()]


def _known(said: Said, hit: NameHit, at_word: dict[int, list[int]]) -> Found | None:
    """A name on record; None where a short form opens a sentence as a word ("Will you …")."""
    first, last = at_word[hit.first][0], at_word[hit.last][-1]
    alone = first == last and said.opens(first) and bare(said.spoken[first]) in ALSO_WORDS
    if hit.kind == SHORT and alone and not (first + 1 < len(said) and said.capital(first + 1) and not said.ends(first)):
        return None
    found = Found(first, last, Naming.NAME, hit.person_id, _WHY.get(hit.kind, "a name on record"))
    said.known.append(found)
    return found


def _as_words(said: Said, found: Iterable[Found]) -> list[Pointing]:
    """Of those that point to nobody on record, overlapping ones become one; then in words, each once."""
    free = sorted((f for f in found if f.person_id is None), key=lambda f: (f.first, -f.last))
    joined: list[Found] = []
    for one in free:
        if joined and one.first <= joined[-1].last:
            before = joined[-1]
            longer = one if one.last - one.first > before.last - before.first else before
            joined[-1] = longer._replace(first=before.first, last=max(before.last, one.last))
        else:
            joined.append(one)
    every = [*(f for f in found if f.person_id is not None), *joined]
    made: dict[tuple[int, int, int | None], Pointing] = {}
    for f in every:
        key = (said.spoken[f.first].word, said.spoken[f.last].word, f.person_id)
        made.setdefault(key, Pointing(key[0], key[1], f.kind, f.person_id, f.rule))
    return sorted(made.values(), key=lambda p: (p.first, p.last, p.person_id or 0))
