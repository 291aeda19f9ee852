"""Themes by the words of their scope notes: at most three a passage, each with the words that speak for it. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from archive.domain.values import Word
from archive.rules.analysis import analyse
from archive.rules.numbers import TENS
from archive.rules.spoken import word_set
from archive.rules.suggestion import Suggestion, suggest

MOST = 3
_TENS = frozenset((*TENS, "nineteen"))
ENOUGH = 1.0
_NOTE_WEIGHT = 0.4
# Too common to speak for a theme; from memory.
_STOP = word_set(
    "a about all also an and any are as at be been before being by can come did do does each for from get go had has have "
    "he her here him his how i if in into is it its kind like made make many may more most much no not of on one or other "
    "our out over people place said see she so some such than that the their them then there these they thing this those "
    "time to told two up us use was way we were what when where which who will with word work would you your"
)


@dataclass(frozen=True, slots=True)
class Theme:
    """A theme of the thesaurus. `words`: what speaks for it ("moving away" counts as one); `broader`: "" at the top."""

    name: str
    broader: str = ""
    scope_note: str = ""
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Thesaurus:
    """Themes with their stemmed words. Build it with `Thesaurus.of`. phrase (stems) → ((theme, weight), …)."""

    themes: tuple[Theme, ...]
    phrases: dict[str, tuple[tuple[tuple[str, ...], str, float], ...]]

    @staticmethod
    def of(themes: Iterable[Theme]) -> Thesaurus:
        """A thesaurus of these themes. A word that many themes share weighs less."""
        listed = tuple(themes)
        weights: dict[tuple[str, ...], dict[str, float]] = defaultdict(dict)
        for theme in listed:
            for text in (theme.name, *theme.words):
                stems = analyse(text).stem
                if stems and not set(analyse(text).exact) <= _STOP:
                    weights[stems][theme.name] = 1.0
            note = analyse(theme.scope_note)
            for exact, stemmed in zip(note.exact, note.stem, strict=True):
                if exact not in _STOP and len(exact) > 2:
                    weights[(stemmed,)].setdefault(theme.name, _NOTE_WEIGHT)
        phrases: dict[str, list[tuple[tuple[str, ...], str, float]]] = defaultdict(list)
        for stems, owners in weights.items():
            for name, weight in owners.items():
                phrases[stems[0]].append((stems, name, weight / len(owners)))
        return Thesaurus(
            listed, {k: tuple(sorted(v, key=lambda p: (-len(p[0]), p[1]))) for k, v in phrases.items()}
        )


@lru_cache(maxsize=50_000)
def _stems(text: str) -> tuple[str, ...]:
    """Stems of one word; a spoken number in two parts has none ("sixty-eight" is not a child of eight)."""
    found = analyse(text)
    return () if len(found.exact) > 1 and not _TENS.isdisjoint(found.exact) else found.stem


def suggest_themes(words: Sequence[Word], thesaurus: Thesaurus, most: int = MOST) -> list[Suggestion]:
    """The themes whose words are spoken most, at most `most`; the evidence names the words."""
    stems: list[str] = []
    owner: list[int] = []
    hits: list[int] = []  # positions of stems that some theme's words begin with
    phrases = thesaurus.phrases
    for n, word in enumerate(words):
        for stemmed in _stems(word.text):
            if stemmed in phrases:
                hits.append(len(stems))
            stems.append(stemmed)
            owner.append(n)
    spoken: dict[str, Counter[tuple[str, ...]]] = defaultdict(Counter)
    weight: dict[tuple[str, tuple[str, ...]], float] = {}
    where: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for at in hits:
        for phrase, name, value in phrases[stems[at]]:
            if len(phrase) == 1 or tuple(stems[at : at + len(phrase)]) == phrase:
                spoken[name][phrase] += 1
                weight[name, phrase] = value
                where[name].append((owner[at], owner[at + len(phrase) - 1]))
    scores = {name: _score(name, counts, weight) for name, counts in spoken.items()}
    ranked = sorted((n for n, s in scores.items() if s >= ENOUGH), key=lambda n: (-scores[n], n))
    return [_suggest(words, name, where[name], scores[name]) for name in ranked[:most]]


def _score(name: str, counts: Counter[tuple[str, ...]], weight: dict[tuple[str, tuple[str, ...]], float]) -> float:
    """Each different word counts with its weight, saying it again adds a quarter, at most twice."""
    return sum(weight[name, phrase] * (1 + 0.25 * min(n - 1, 2)) for phrase, n in counts.items())


def _suggest(words: Sequence[Word], name: str, where: Sequence[tuple[int, int]], score: float) -> Suggestion:
    first, last = min(f for f, _ in where), max(e for _, e in where)
    said = dict.fromkeys(" ".join(w.text.strip(" .,;:!?") for w in words[f : e + 1]) for f, e in where)
    return suggest(
        "theme", name, words, first, last, rule="scope-note words", sure=min(0.9, 0.3 + 0.15 * score),
        evidence=", ".join(said), reckoning=f"{len(said)} of its words are spoken",
    )
