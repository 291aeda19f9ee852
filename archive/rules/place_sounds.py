"""Words that sound like a place of the gazetteer and are none of its names: mis-hearings that nobody listed. Suggested, never taken for it. Pure.

Leicester and Lester have other codes by sound, so sound alone cannot be trusted either way: a person adds what is right as “heard as”.
Thresholds are a project choice, looked at on the samples.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from archive.domain.letters import without_possessive
from archive.domain.values import Word
from archive.rules.data.ordinary import ORDINARY
from archive.rules.data.people_words import KIN, TRADES
from archive.rules.likeness import ALIKE, SAME_SOUND, likeness, sound
from archive.rules.place_context import WHERE, is_a_person
from archive.rules.places import Form, Gazetteer, parts_of
from archive.rules.spoken import Token
from archive.rules.suggestion import Suggestion, suggest

SOUNDS_LIKE = "sounds like"
SURE = 0.35
_FEWEST = 5  # letters of a name from which sound says anything
_MOST_PARTS = 3
_ONE_PART = 0.8  # likeness of the one word that differs, beside words that are the same
_LEAST_PART = 3  # letters of that word
_LONGER = 2  # letters by which it may be longer or shorter
_PLAIN = ORDINARY | KIN | TRADES


@dataclass(frozen=True, slots=True)
class _Own:
    letters: str
    form: Form


class PlaceSounds:
    """The names of a gazetteer by their sound. `find` then works on any words."""

    def __init__(self, gazetteer: Gazetteer) -> None:
        self._by_sound: dict[str, list[_Own]] = {}
        self._by_start: dict[str, list[_Own]] = {}
        self._some: set[str] = set()  # words of names of several
        self._by_rest: dict[tuple[int, int, str, str], list[Form]] = {}  # parts, which differs, the others, its first letter
        self._known = {form.parts for some in gazetteer.forms.values() for form in some}
        self._not = {(p.name, "".join(parts_of(text))) for p in gazetteer.places for text in p.not_heard}
        for some in gazetteer.forms.values():
            for form in some:
                if form.kind != "heard":
                    self._put(form)
        self._nearest = lru_cache(maxsize=20_000)(self._look)

    def _put(self, form: Form) -> None:
        parts = form.parts[1:] if form.parts[0] == "the" else form.parts
        joined = "".join(parts)
        if len(joined) < _FEWEST or len(parts) > _MOST_PARTS or form.capital is not None:
            return
        own = _Own(joined, form)
        self._by_sound.setdefault(sound(joined), []).append(own)
        if len(parts) == 1:
            self._by_start.setdefault(joined[:2], []).append(own)
        for n, part in enumerate(parts):
            rest = " ".join((*parts[:n], *parts[n + 1 :]))
            if rest:
                self._some.add(part)
            if rest and len(part) >= _LEAST_PART:
                self._by_rest.setdefault((len(parts), n, rest, part[0]), []).append(form)

    def find(self, spoken: Sequence[Token], words: Sequence[Word], taken: Sequence[tuple[int, int]]) -> Iterator[Suggestion]:
        """What may be a mis-hearing of a place. `taken`: tokens (first, last) that name a place already."""
        named = {n for first, last in taken for n in range(first, last + 1)}
        free = 0
        for at in [n for n, t in enumerate(spoken) if t.capital or t.letters in self._some]:
            begins = at if spoken[at].capital or _after_where(spoken, at) else at - 1  # "of lower key", "down the girl steps"
            if begins < free or begins in named or not (spoken[begins].capital or _after_where(spoken, begins)):
                continue
            for size in range(_MOST_PARTS, 0 if spoken[begins].capital else 1, -1):
                form = self._at(spoken, begins, size, named)
                if form is not None:
                    last = begins + size - 1
                    free = last + 1
                    said = " ".join(t.raw for t in spoken[begins:free]).strip(".,;:!?\"'“”‘’ ")
                    yield suggest(
                        "place", form.place.name, words, spoken[begins].word, spoken[last].word, rule=SOUNDS_LIKE,
                        reckoning=f"“{said}” sounds like {form.text}; nobody has said that it is", sure=SURE,
                    )  # fmt: skip
                    break

    def _at(self, spoken: Sequence[Token], at: int, size: int, named: set[int]) -> Form | None:
        run = spoken[at : at + size]
        last = at + size - 1
        if len(run) < size or any(t.stop for t in run[:-1]) or not named.isdisjoint(range(at, last + 1)):
            return None
        parts = tuple(without_possessive(t.text) for t in run)
        if not all(p.isalpha() for p in parts):
            return None
        capitals = sum(t.capital and not (t.opens and t.text in _PLAIN) for t in run)
        if not (capitals or _after_where(spoken, at)) or size == 1 and (run[0].opens or parts[0] in _PLAIN or is_a_person(spoken, at, last)):
            return None
        if size > 1 and at and is_a_person(spoken, at, at):  # "Mrs Net Rowe"
            return None
        return self._nearest(parts)

    def _look(self, parts: tuple[str, ...]) -> Form | None:
        joined = "".join(parts)
        if parts in self._known or len(joined) < _FEWEST:
            return None
        near = [(likeness(joined, own.letters), own.form) for own in self._by_sound.get(sound(joined), ())]
        found = [(score, form) for score, form in near if score >= SAME_SOUND]
        if len(parts) == 1:
            alike = [(likeness(joined, o.letters), o.form) for o in self._by_start.get(joined[:2], ()) if abs(len(o.letters) - len(joined)) <= _LONGER]
            found += [(score, form) for score, form in alike if score >= ALIKE]
        else:
            found += self._one_differs(parts)
        found = [(score, form) for score, form in found if (form.place.name, joined) not in self._not]
        if not found:
            return None
        return max(found, key=lambda f: f[0])[1]

    def _one_differs(self, parts: tuple[str, ...]) -> Iterator[tuple[float, Form]]:
        """Names of as many words of which one alone is another, with the same first letter."""
        for n, part in enumerate(parts):
            if len(part) < _LEAST_PART:
                continue
            rest = " ".join((*parts[:n], *parts[n + 1 :]))
            for form in self._by_rest.get((len(parts), n, rest, part[0]), ()):
                other = (form.parts[1:] if form.parts[0] == "the" else form.parts)[n]
                score = likeness(part, other)
                if abs(len(part) - len(other)) <= _LONGER and (score >= _ONE_PART or sound(part) == sound(other)):
                    yield score, form


def _after_where(spoken: Sequence[Token], at: int) -> bool:
    """True behind "on", "of", "down the": there a name may have lost its capital."""
    back = at - 2 if at > 1 and spoken[at - 1].text == "the" and not spoken[at - 1].stop else at - 1
    return back >= 0 and (spoken[back].text in WHERE or spoken[back].text == "of") and not spoken[back].stop
