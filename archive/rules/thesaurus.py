"""What a thesaurus must keep to: the integrity conditions of SKOS, and the two levels of this house. Pure.

SKOS Reference, W3C Recommendation 18 August 2009: S13 (preferred, alternative and hidden labels are disjoint), S14 (no more than one
preferred label in a language), S27 (related is disjoint from broader, over all levels). That a label names one theme only, that
nothing is broader than itself, and two levels are choices of this project: Find must know which theme is meant, and a list of
themes is to be read at a glance.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from archive.rules.themes import Theme

MOST_THEMES = 500
MOST_NAME = 120  # letters of a name or another word for the same
MOST_WORDS = 200  # beside one theme
MOST_NOTE = 2000  # letters


class Fault(NamedTuple):
    """What is wrong with one theme, and what helps, in words."""

    theme: str
    words: str


def faults(themes: Mapping[str, Theme]) -> list[Fault]:
    """Everything that is wrong with these themes, by name; empty when all is well."""
    if len(themes) > MOST_THEMES:
        return [Fault("", f"These would be {len(themes):,} themes, and a thesaurus here holds {MOST_THEMES} at most. Take a part of them.")]
    found = [Fault(t.name, words) for t in themes.values() for words in (*_of_one(t), *_levels(t, themes), *_related(t, themes))]
    return found + list(_shared(themes.values()))


def top(name: str, themes: Mapping[str, Theme]) -> str:
    """The broadest theme above a name; the name itself where it stands at the top or in a circle."""
    return themes[name].broader if name in themes and themes[name].broader else name


def _of_one(theme: Theme) -> Iterator[str]:
    name = theme.name
    if not name.strip() or len(name) > MOST_NAME or any(len(t) > MOST_NAME for _, t in (*theme.use_for, *theme.labels)):
        yield f"A name needs 1 to {MOST_NAME} letters. Say it shorter."
    if len(theme.words) > MOST_WORDS or len(theme.use_for) > MOST_WORDS or len(theme.scope_note) > MOST_NOTE:
        yield f"A theme may have {MOST_WORDS} words and a note of {MOST_NOTE} letters. Say it shorter."
    for language, number in Counter(["", *(lang for lang, _ in theme.labels)]).items():
        if number > 1:
            yield f"It has two preferred labels {f'in the language “{language}”' if language else 'in the language of this archive'}. Keep one, and make the other a “use for”."
    preferred = {("", name.casefold()), *((lang, t.casefold()) for lang, t in theme.labels)}
    for lang, text in theme.use_for:
        if (lang, text.casefold()) in preferred:
            yield f"“{text}” is its name and a “use for” as well. Take it out of the one."


def _levels(theme: Theme, themes: Mapping[str, Theme]) -> Iterator[str]:
    if not theme.broader:
        return
    if theme.broader not in themes:
        yield f"“{theme.broader}” is no theme on record. Add a row for it, or correct the name."
        return
    seen = [theme.name]
    while (above := themes[seen[-1]].broader) and above in themes:
        if above in seen:
            if above == theme.name:
                yield f"It is broader than itself: {' → '.join([*seen, above])}. Leave out one of these steps."
            return
        seen.append(above)
    if len(seen) > 2:
        yield f"It would stand on a third level: {' → '.join(reversed(seen))}. Make it narrower than “{seen[-1]}”, or a “use for” of “{seen[1]}”."


def _related(theme: Theme, themes: Mapping[str, Theme]) -> Iterator[str]:
    for other in theme.related:
        if other == theme.name:
            yield "It is related to itself. Leave that out."
        elif other not in themes:
            yield f"“{other}”, to which it is related, is no theme on record. Add a row for it, or correct the name."
        elif other in _above(theme.name, themes) or theme.name in _above(other, themes):
            yield f"It is related to “{other}”, and one of them is the broader one of the other. Keep one of the two."


def _above(name: str, themes: Mapping[str, Theme]) -> list[str]:
    found: list[str] = []
    while name in themes and (name := themes[name].broader) and name not in found:
        found.append(name)
    return found


def _shared(themes: Iterable[Theme]) -> Iterator[Fault]:
    """A label that two themes have in one language."""
    owner: dict[tuple[str, str], str] = {}
    for theme in themes:
        for lang, text in {("", theme.name), *theme.use_for, *theme.labels}:
            other = owner.setdefault((lang, text.casefold()), theme.name)
            if other != theme.name:
                yield Fault(theme.name, f"“{text}” stands for “{other}” as well. A name, or another word for the same, belongs to one theme.")


def preferred(name: str, themes: Mapping[str, Theme]) -> str:
    """The name of the theme that is called so in any language or by another word for the same; the name as given where there is none."""
    wanted = name.strip().casefold()
    names = [t.name for t in themes.values() if t.name.casefold() == wanted]
    others = [t.name for t in themes.values() if wanted in {text.casefold() for _, text in (*t.use_for, *t.labels)}]
    return next(iter((*names, *others)), name)


def meant(name: str, themes: Mapping[str, Theme]) -> tuple[str, ...]:
    """The theme that is called so (`preferred`) with its narrower ones; () where there is none."""
    own = preferred(name, themes)
    return tuple(t.name for t in themes.values() if own in (t.name, t.broader)) if own in themes else ()
