"""Places in spoken words: the longest name of the gazetteer that fits, as it was called at the time. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz.fuzz import ratio

from archive.domain.dates import overlaps
from archive.domain.letters import core, folded
from archive.domain.values import Word
from archive.rules.spoken import Token, tokens
from archive.rules.suggestion import Suggestion, suggest

_KINDS = {"name": 0, "also": 1, "heard": 2}
MISHEARD = 70.0  # likeness (0–100) from which a mishearing belongs to a name; project choice, measured on the samples


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the gazetteer. `valid_from`, `valid_until`: EDTF, "" where open; `same_as`: the same ground under
    another name, at another time."""

    name: str
    kind: str = ""
    within: str = ""
    also: tuple[str, ...] = ()
    heard_as: tuple[str, ...] = ()
    valid_from: str = ""
    valid_until: str = ""
    same_as: str = ""


@dataclass(frozen=True, slots=True)
class _Form:
    text: str
    parts: tuple[str, ...]
    capital: int | None  # the token that must be capitalised (Steps in "the Steps"); None: none has to
    kind: str  # name | also | heard
    place: Place


@dataclass(frozen=True)
class Gazetteer:
    """Every name of every place, indexed by its first word. Build it with `Gazetteer.of`."""

    places: tuple[Place, ...]
    forms: dict[str, tuple[_Form, ...]]
    by_name: dict[str, Place]

    @staticmethod
    def of(places: Iterable[Place]) -> Gazetteer:
        """A gazetteer of these places."""
        listed = tuple(places)
        forms: dict[str, list[_Form]] = {}
        for place in listed:
            named = [(place.name, "name")] + [(t, "also") for t in place.also] + [(t, "heard") for t in place.heard_as]
            for text, kind in named:
                form = _form(text, kind, place)
                if form:
                    forms.setdefault(form.parts[0], []).append(form)
        longest_first = {key: tuple(sorted(f, key=lambda x: -len(x.parts))) for key, f in forms.items()}
        return Gazetteer(listed, longest_first, {p.name: p for p in listed})

    def around(self, name: str) -> tuple[str, ...]:
        """The places that a place lies within, nearest first; a circle ends where it began."""
        found: list[str] = []
        place = self.by_name.get(name)
        while place and place.within and place.within not in found and place.within != name:
            found.append(place.within)
            place = self.by_name.get(place.within)
        return tuple(found)

    def inside(self, name: str) -> tuple[str, ...]:
        """The place itself and all that lie within it, at any depth."""
        return tuple(p.name for p in self.places if p.name == name or name in self.around(p.name))


def suggest_places(words: Sequence[Word], gazetteer: Gazetteer, dates: Sequence[str] = ()) -> list[Suggestion]:
    """Places named in these words. `dates`: EDTF of what is told; they choose between names of different times."""
    spoken = tokens(words)
    found = []
    for first, last, forms in _matches(spoken, gazetteer):
        place, reckoning, sure = _choose(forms, gazetteer, dates)
        if forms[0].kind == "heard":
            sure = min(sure, 0.6)
            reckoning = reckoning or f"heard as “{forms[0].text}”"
        elif not any(t.capital for t in spoken[first : last + 1]):
            sure = min(sure, 0.7)
        rule = {"name": "its name", "also": "also called", "heard": "heard as"}[forms[0].kind]
        found.append(
            suggest(
                "place", place.name, words, spoken[first].word, spoken[last].word,
                rule=rule, reckoning=reckoning, sure=sure,
            )
        )
    return found


def primed_names(places: Iterable[Place]) -> list[str]:
    """The names with which a speech engine is primed: each place's name, and behind it those other names of it that
    the gazetteer lists as misheard ("the cannery", heard as "the canary"). Not every other name: long lists make the
    engine drop sentences.
    """
    found: list[str] = []
    for place in places:
        found.append(place.name)
        spellings = {together(text) for text in (place.name, *place.also)}  # "Rope Walk" is a spelling, no mishearing
        misheard = [_bare(text) for text in place.heard_as if together(text) not in spellings]
        found += [other for other in place.also if any(_mishears(text, other, place.name) for text in misheard)]
    return list(dict.fromkeys(found))


def _mishears(text: str, other: str, name: str) -> bool:
    """True where a mishearing is one of this other name rather than of the place's name itself."""
    likeness = ratio(_bare(other), text)
    return likeness >= MISHEARD and likeness > ratio(_bare(name), text)


def _bare(text: str) -> str:
    return folded(text).removeprefix("the ")


def together(text: str) -> str:
    """A name without its article and spaces: "the Rope Walk" and "Ropewalk" are one."""
    return _bare(text).replace(" ", "")


def _matches(spoken: Sequence[Token], gazetteer: Gazetteer) -> list[tuple[int, int, list[_Form]]]:
    found: list[tuple[int, int, list[_Form]]] = []
    at = 0
    forms_by_first = gazetteer.forms
    while at < len(spoken):
        token = spoken[at]
        candidates = forms_by_first.get(token.letters, ())
        owned = token.text[:-2] if token.text.endswith("'s") else ""
        if owned and owned in forms_by_first:
            candidates = candidates + forms_by_first[owned]
        fitting = [f for f in candidates if _fits(f, spoken, at)] if candidates else []
        if fitting:
            length = max(len(f.parts) for f in fitting)
            best = sorted((f for f in fitting if len(f.parts) == length), key=lambda f: _KINDS[f.kind])
            found.append((at, at + length - 1, best))
            at += length
        else:
            at += 1
    return found


def _fits(form: _Form, spoken: Sequence[Token], at: int) -> bool:
    last = at + len(form.parts) - 1
    if last >= len(spoken):
        return False
    for n, part in enumerate(form.parts):
        token = spoken[at + n]
        if token.letters != part and not (at + n == last and _ending_off(token, part)):
            return False
        if at + n < last and token.stop:
            return False
    if form.capital is None:
        return True
    named = spoken[at + form.capital]
    return named.capital and not named.opens


def _ending_off(token: Token, part: str) -> bool:
    return token.text in (part + "'s", part + "'")


def _form(text: str, kind: str, place: Place) -> _Form | None:
    pieces = [core(p) for p in text.replace("-", " ").split() if core(p)]
    parts = tuple("".join(c for c in folded(p) if c.isalnum()) for p in pieces)
    if not parts or not all(parts):
        return None
    capital = 1 if len(parts) == 2 and parts[0] == "the" and pieces[1][:1].isupper() else None
    return _Form(text, parts, capital, kind, place)


def _choose(forms: Sequence[_Form], gazetteer: Gazetteer, dates: Sequence[str]) -> tuple[Place, str, float]:
    """Which of the records that bear this name: by the dates told, then the one whose own name it is."""
    ranked: list[_Form] = []
    for form in forms:  # already in the order of _KINDS
        if all(form.place is not f.place for f in ranked):
            ranked.append(form)
    spoken_of = ranked[0].place
    sure = {"name": 0.9, "also": 0.75, "heard": 0.6}[ranked[0].kind]
    valid = [f.place for f in ranked if _valid(f.place, dates)]
    if len(ranked) > 1:
        if dates and valid:
            return valid[0], _why(valid[0], dates), sure
        return spoken_of, "also borne by " + ", ".join(f.place.name for f in ranked[1:]), 0.5
    if not dates or valid:
        return spoken_of, "", sure
    for other in _same_ground(spoken_of, gazetteer):
        if _valid(other, dates):
            return other, f"{spoken_of.name} said; {_why(other, dates)}", min(sure, 0.75)
    return spoken_of, f"{spoken_of.name} is not recorded for {dates[0]}", min(sure, 0.5)


def _why(place: Place, dates: Sequence[str]) -> str:
    span = " ".join(
        part for part in (
            f"from {place.valid_from}" if place.valid_from else "",
            f"to {place.valid_until}" if place.valid_until else "",
        ) if part
    )
    return f"called {place.name} {span or 'at any time'}; the memory is of {dates[0]}"


def _same_ground(place: Place, gazetteer: Gazetteer) -> list[Place]:
    found = [gazetteer.by_name[place.same_as]] if place.same_as in gazetteer.by_name else []
    return found + [p for p in gazetteer.places if p.same_as == place.name and p not in found]


def _valid(place: Place, dates: Sequence[str]) -> bool:
    span = _span(place.valid_from, place.valid_until)
    return span is None or any(overlaps(span, d) for d in dates)


@lru_cache(maxsize=20_000)
def _span(valid_from: str, valid_until: str) -> str | None:
    if not valid_from and not valid_until:
        return None
    start = valid_from.partition("/")[0] or ".."
    end = valid_until.rpartition("/")[2] or ".."
    return f"{start}/{end}"
