"""Places in spoken words: the longest name of the gazetteer that fits, as it was called at the time. Pure."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

from rapidfuzz.fuzz import ratio

from archive.domain.dates import overlaps
from archive.domain.letters import core, folded
from archive.domain.values import Word
from archive.rules.data.ordinary import ORDINARY
from archive.rules.grounds import Grounds, touches
from archive.rules.place_context import is_a_person, longer_name, names_it
from archive.rules.spoken import Token, tokens
from archive.rules.suggestion import Suggestion, suggest

_KINDS = {"name": 0, "also": 1, "heard": 2}
_RULES = {"name": "its name", "also": "also called", "heard": "heard as"}
_SURE = {"name": 0.9, "also": 0.75, "heard": 0.6}
MISHEARD = 70.0  # likeness (0–100) from which a mishearing belongs to a name; project choice, measured on the samples
_NEAR = 12  # words within which another place of the same ground is named beside an ordinary word
_LONG = 5  # letters from which a word alone may have an ending without an apostrophe ("Ropewalks")


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the gazetteer. `valid_from`, `valid_until`: EDTF, "" where open; `same_as`: the same ground under
    another name, at another time. `spans`: other names with the EDTF of when they were in use, of those that were not always;
    `within`: where it lies at any time, `within_then`: where it lay for a time, with EDTF; `not_heard`: what sounds like it and is not."""

    name: str
    kind: str = ""
    within: str = ""
    also: tuple[str, ...] = ()
    heard_as: tuple[str, ...] = ()
    valid_from: str = ""
    valid_until: str = ""
    same_as: str = ""
    spans: tuple[tuple[str, str], ...] = ()
    within_then: tuple[tuple[str, str], ...] = ()
    not_heard: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Form:
    """One name of a place as it is looked for. `capital`: which of its parts must have one, or a context that speaks for it (Steps in
    "the Steps"); None: none has to. `kind`: name, also, heard; `edtf`: when it was in use, "" always."""

    text: str
    parts: tuple[str, ...]
    capital: int | None
    kind: str
    place: Place
    edtf: str = ""


@dataclass(frozen=True)
class Gazetteer:
    """Every name of every place, indexed by its first word. Build it with `Gazetteer.of`."""

    places: tuple[Place, ...]
    forms: dict[str, tuple[Form, ...]]
    by_name: dict[str, Place]

    @staticmethod
    def of(places: Iterable[Place]) -> Gazetteer:
        """A gazetteer of these places."""
        listed = tuple(places)
        forms: dict[str, list[Form]] = {}
        for place in listed:
            spans = dict(place.spans)
            named = [(place.name, "name")] + [(t, "also") for t in place.also] + [(t, "heard") for t in place.heard_as]
            for text, kind in named:
                form = _form(text, kind, place, spans.get(text, ""))
                if form:
                    forms.setdefault(form.parts[0], []).append(form)
        longest_first = {key: tuple(sorted(f, key=lambda x: -len(x.parts))) for key, f in forms.items()}
        return Gazetteer(listed, longest_first, {p.name: p for p in listed})

    @cached_property
    def begun(self) -> dict[str, dict[str, tuple[Form, ...]]]:
        """The forms by the first word that they may have in speech, and by the second ("" for names of one word); the last one also
        with an ending ("Ropewalk's")."""
        found: dict[str, dict[str, tuple[Form, ...]]] = {}
        for form in (f for forms in self.forms.values() for f in forms):
            ends = ("", "s")
            if len(form.parts) == 1:
                keys = [(form.parts[0] + end, "") for end in ends]
            else:
                keys = [(form.parts[0], form.parts[1] + end) for end in (ends if len(form.parts) == 2 else ("",))]
            for first, second in keys:
                seconds = found.setdefault(first, {})
                seconds[second] = (*seconds.get(second, ()), form)
        return found

    @cached_property
    def grounds(self) -> Grounds:
        """Which place lies within which."""
        within = {p.name: [*([(p.within, "")] if p.within else []), *p.within_then] for p in self.places}
        return Grounds(within, [(p.name, p.same_as) for p in self.places if p.same_as])

    @cached_property
    def same(self) -> dict[str, tuple[Place, ...]]:
        """place → the same ground under other names."""
        found: dict[str, dict[str, Place]] = {}
        for p in self.places:
            if p.same_as in self.by_name:
                found.setdefault(p.name, {})[p.same_as] = self.by_name[p.same_as]
                found.setdefault(p.same_as, {})[p.name] = p
        return {name: tuple(others.values()) for name, others in found.items()}

    def around(self, name: str, dates: Sequence[str] = ()) -> tuple[str, ...]:
        """The places that a place lies within, nearest first; with `dates` (EDTF) those of that time."""
        return self.grounds.around(name, dates)

    def inside(self, name: str) -> tuple[str, ...]:
        """The place itself and all that lie within it at any time, at any depth, and the same ground under other names."""
        inside = self.grounds.inside([name])
        return tuple(p.name for p in self.places if p.name in inside)


def suggest_places(words: Sequence[Word], gazetteer: Gazetteer, dates: Sequence[str] = ()) -> list[Suggestion]:
    """Places named in these words. `dates`: EDTF of what is told; they choose between names of different times."""
    return [found.suggestion for found in find_places(tokens(words), words, gazetteer, dates)]


class Named(NamedTuple):
    """A suggestion and the tokens (first, last; inclusive) that it is made of."""

    suggestion: Suggestion
    first: int
    last: int


def find_places(
    spoken: Sequence[Token], words: Sequence[Word], gazetteer: Gazetteer, dates: Sequence[str] = (), before: Container[str] = ()
) -> Iterator[Named]:
    """Places named in these tokens of the words. `before`: places that were named already in the same passage."""
    matches = _matches(spoken, gazetteer)
    for n, (first, last, forms) in enumerate(matches):
        why, most = "", 1.0
        if all(f.capital is not None for f in forms):
            known = f"{forms[0].place.name} named before" if forms[0].place.name in before else _neighbour(matches, n, gazetteer)
            judged = names_it(spoken, first, last, first + (forms[0].capital or 0), known)
            if judged is None:
                continue
            why, most = judged
        elif is_a_person(spoken, first, last):
            continue
        else:
            why, most = _doubts(spoken, first, last, forms, gazetteer)
        place, reckoning, sure = _choose(forms, gazetteer, dates)
        if forms[0].kind == "heard":
            most = min(most, 0.6)
            reckoning = reckoning or f"heard as “{forms[0].text}”"
        made = suggest(
            "place", place.name, words, spoken[first].word, spoken[last].word, rule=_RULES[forms[0].kind],
            reckoning="; ".join(part for part in (why, reckoning, _lay(place, gazetteer, dates)) if part), sure=min(sure, most),
        )  # fmt: skip
        yield Named(made, first, last)


def _doubts(spoken: Sequence[Token], first: int, last: int, forms: Sequence[Form], gazetteer: Gazetteer) -> tuple[str, float]:
    """What speaks against a name that needs no context, and how sure it can be at most."""
    run = spoken[first : last + 1]
    longer = longer_name(spoken, last, gazetteer.forms)
    if longer:
        return f"inside “{' '.join(t.raw for t in run)} {longer}”, which is no place on record", 0.5
    if run[-1].letters != forms[0].parts[-1] and not run[-1].text.endswith(("'s", "'")):
        return f"“{run[-1].raw.strip('.,;:!? ')}” taken for {forms[0].text} with an ending", 0.7
    return "", 1.0 if any(t.capital for t in run) else 0.7


def _neighbour(matches: Sequence[tuple[int, int, list[Form]]], n: int, gazetteer: Gazetteer) -> str:
    """That another place of the same ground is named near by, in words that need no context; "" where none is."""
    first, last, forms = matches[n]
    place = forms[0].place
    for other_first, other_last, others in matches[max(0, n - 3) : n + 4]:
        other = others[0].place
        if others[0].capital is not None or other is place or max(first - other_last, other_first - last) > _NEAR:
            continue
        mine, theirs = gazetteer.around(place.name), gazetteer.around(other.name)
        if place.name in theirs or other.name in mine or (mine and theirs and mine[0] == theirs[0]):
            return f"{other.name} named beside it"
    return ""


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


def _matches(spoken: Sequence[Token], gazetteer: Gazetteer) -> list[tuple[int, int, list[Form]]]:
    found: list[tuple[int, int, list[Form]]] = []
    begun, free = gazetteer.begun, 0
    for at in [n for n, token in enumerate(spoken) if token.letters in begun]:
        if at < free:
            continue
        best = _longest(spoken, at, begun)
        # "the Mission Hall" is Mission Hall, not the Mission
        if best and best[0].parts[0] == "the" and len(_parts_at(spoken, at + 1, begun)) >= len(best[0].parts):
            continue
        if best:
            free = at + len(best[0].parts)
            found.append((at, free - 1, best))
    return found


def _parts_at(spoken: Sequence[Token], at: int, begun: Mapping[str, Mapping[str, tuple[Form, ...]]]) -> tuple[str, ...]:
    best = _longest(spoken, at, begun) if at < len(spoken) and spoken[at].letters in begun else []
    return best[0].parts if best else ()


def _longest(spoken: Sequence[Token], at: int, begun: Mapping[str, Mapping[str, tuple[Form, ...]]]) -> list[Form]:
    """The longest names that begin at a token, a place's own before others."""
    seconds = begun[spoken[at].letters]
    longer = seconds.get(spoken[at + 1].letters, ()) if at + 1 < len(spoken) else ()
    fitting = [f for f in (*longer, *seconds.get("", ())) if _fits(f, spoken, at)]
    length = max((len(f.parts) for f in fitting), default=0)
    return sorted((f for f in fitting if len(f.parts) == length), key=lambda f: _KINDS[f.kind])


def _fits(form: Form, spoken: Sequence[Token], at: int) -> bool:
    last = at + len(form.parts) - 1
    if last >= len(spoken):
        return False
    for n, part in enumerate(form.parts):
        token = spoken[at + n]
        if token.letters != part and not (at + n == last and _ending_off(token, part, form)):
            return False
        if at + n < last and token.stop:
            return False
    return True


def _ending_off(token: Token, part: str, form: Form) -> bool:
    """True for a possessive; without its apostrophe, as machines write it, only behind a capital and a name that is no ordinary word."""
    if token.text in (part + "'s", part + "'"):
        return True
    whole = form.capital is None and form.kind != "heard" and (len(form.parts) > 1 or len(part) >= _LONG)
    return token.text == part + "s" and token.capital and whole


def _form(text: str, kind: str, place: Place, edtf: str) -> Form | None:
    pieces, parts = _pieces(text), parts_of(text)
    if not parts or not all(parts):
        return None
    capital = None
    if len(parts) == 2 and parts[0] == "the" and pieces[1][:1].isupper():
        capital = 1
    elif len(parts) == 1 and parts[0] in ORDINARY:
        capital = 0
    return Form(text, parts, capital, kind, place, edtf)


def parts_of(text: str) -> tuple[str, ...]:
    """The letters of each word of a name, as spoken words are compared with them."""
    return tuple("".join(c for c in folded(p) if c.isalnum()) for p in _pieces(text))


def _pieces(text: str) -> list[str]:
    return [core(p) for p in text.replace("-", " ").split() if core(p)]


def _choose(forms: Sequence[Form], gazetteer: Gazetteer, dates: Sequence[str]) -> tuple[Place, str, float]:
    """Which of the records that bear this name: by the dates told, then the one whose own name it is."""
    ranked: list[Form] = []
    for form in forms:  # already in the order of _KINDS
        if all(form.place is not f.place for f in ranked):
            ranked.append(form)
    spoken_of = ranked[0].place
    sure = _SURE[ranked[0].kind]
    valid = [f for f in ranked if _valid(f.place, dates) and touches(f.edtf, dates)]
    if len(ranked) > 1:
        if dates and valid:
            return valid[0].place, _why(valid[0], dates), sure
        return spoken_of, "also borne by " + ", ".join(f.place.name for f in ranked[1:]), 0.5
    if not dates or valid:
        return spoken_of, "", sure
    if _valid(spoken_of, dates):
        return spoken_of, f"called “{ranked[0].text}” {_when(ranked[0].edtf)}; the memory is of {dates[0]}", min(sure, 0.6)
    for other in gazetteer.same.get(spoken_of.name, ()):
        if _valid(other, dates):
            return other, f"{spoken_of.name} said; {_called(other, dates)}", min(sure, 0.75)
    return spoken_of, f"{spoken_of.name} is not recorded for {dates[0]}", min(sure, 0.5)


def _lay(place: Place, gazetteer: Gazetteer, dates: Sequence[str]) -> str:
    """Where a place lay at the time, if that changed."""
    then = [(name, edtf) for name, edtf in place.within_then if dates and touches(edtf, dates)]
    return f"lay in {then[0][0]} {_when(then[0][1])}" if then else ""


def _why(form: Form, dates: Sequence[str]) -> str:
    if form.edtf:
        return f"{form.place.name} was called “{form.text}” {_when(form.edtf)}; the memory is of {dates[0]}"
    return _called(form.place, dates)


def _called(place: Place, dates: Sequence[str]) -> str:
    span = _span(place.valid_from, place.valid_until)
    return f"called {place.name} {_when(span) if span else 'at any time'}; the memory is of {dates[0]}"


def _when(edtf: str) -> str:
    start, slash, end = edtf.partition("/")
    if not slash:
        return f"in {edtf}"
    return " ".join(f"{word} {part}" for word, part in (("from", start), ("to", end)) if part not in ("", ".."))


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
