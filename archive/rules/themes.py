"""Themes by the words of their scope notes, by words learned from decisions, by nearness in meaning: at most three a passage, each with why. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

from archive.domain.phrases import many
from archive.domain.values import Word
from archive.rules.analysis import analyse
from archive.rules.numbers import TENS
from archive.rules.spoken import word_set
from archive.rules.suggestion import Suggestion, suggest

MOST = 3
_TENS = frozenset((*TENS, "nineteen"))
ENOUGH = 1.0
SCOPE_NOTE, LEARNED, NEAR = "scope-note words", "words learned from decisions", "near the note"
LEARNED_WORD, LEARNED_MOST = 0.6, 1.2  # one learned word at most, and all together: one alone is never enough, two are
_NEAR_WEIGHT = 1.0
_NEARLY = 0.6
BARELY = 0.45  # how sure a suggestion is for which one word alone speaks
_NOTE_WEIGHT = 0.4
# Too common to speak for a theme; from memory.
STOP = word_set(
    "a about all also an and any are as at be been before being by can come did do does each for from get go had has have "
    "he her here him his how i if in into is it its kind like made make many may more most much no not of on one or other "
    "our out over people place said see she so some such than that the their them then there these they thing this those "
    "time to told two up us use was way we were what when where which who will with word work would you your"
)


@dataclass(frozen=True, slots=True)
class Theme:
    """A theme of the thesaurus. `words`: what speaks for it ("moving away" counts as one); `broader`: "" at the top.

    `use_for`: other words for the same, as (language, text), "" for the archive's own language: looked for, never shown as its
    name; `labels`: its name in other languages, as (language, text); `related`: names of other themes.
    """

    name: str
    broader: str = ""
    scope_note: str = ""
    words: tuple[str, ...] = ()
    use_for: tuple[tuple[str, str], ...] = ()
    labels: tuple[tuple[str, str], ...] = ()
    related: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LearnedWord:
    """A word (its stem) that decisions taught to speak for a theme (`weight` > 0) or against it. `taught_by`: ids of the recordings
    in which it was decided."""

    stem: str
    weight: float
    taught_by: tuple[int, ...] = ()


class Near(NamedTuple):
    """How near the note of a theme is to a passage in meaning, 0 to 1. `taught_by`: ids of the recordings whose confirmed passages made
    it near enough; () where it is by the note alone."""

    value: float
    taught_by: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Lessons:
    """What decisions taught about one theme: words, and how much is enough for it to be suggested."""

    words: tuple[LearnedWord, ...] = ()
    enough: float = ENOUGH


@dataclass(frozen=True, slots=True, eq=False)  # each is itself: compared and hashed as such, which is quick
class _Phrase:
    stems: tuple[str, ...]
    theme: str
    weight: float  # below 0: it speaks against the theme
    taught_by: tuple[int, ...]  # () for what stands in the thesaurus


@dataclass(frozen=True)
class Thesaurus:
    """Themes with their stemmed words. Build it with `Thesaurus.of`. phrases: first stem → what begins with it; enough: by theme,
    where decisions moved it."""

    themes: tuple[Theme, ...]
    phrases: Mapping[str, tuple[_Phrase, ...]]
    enough: Mapping[str, float]
    broader: Mapping[str, str]

    @staticmethod
    def of(themes: Iterable[Theme], learned: Mapping[str, Lessons] | None = None) -> Thesaurus:
        """A thesaurus of these themes with what was learned, by theme. A word that many themes share weighs less; that its broader theme has it takes nothing from it."""
        listed, lessons = tuple(themes), learned or {}
        phrases = _listed(listed)
        if lessons:
            phrases = dict(phrases)
            for theme in listed:
                for word in lessons.get(theme.name, Lessons()).words:
                    phrases[word.stem] = (*phrases.get(word.stem, ()), _Phrase((word.stem,), theme.name, word.weight, word.taught_by))
        return Thesaurus(listed, phrases, {name: taught.enough for name, taught in lessons.items()}, {t.name: t.broader for t in listed})

    def knows(self, stemmed: str, theme: str) -> bool:
        """True where the thesaurus itself says that this one word speaks for the theme."""
        return any(p.theme == theme and p.stems == (stemmed,) and not p.taught_by for p in self.phrases.get(stemmed, ()))


@lru_cache(maxsize=4)  # a run over many recordings asks for the same again and again
def _listed(themes: tuple[Theme, ...]) -> dict[str, tuple[_Phrase, ...]]:
    """What the thesaurus itself says: first stem → what begins with it, the longest first."""
    weights: dict[tuple[str, ...], dict[str, float]] = defaultdict(dict)
    for theme in themes:
        for text in (theme.name, *theme.words, *(t for _, t in (*theme.use_for, *theme.labels))):
            stems = analyse(text).stem
            if stems and not set(analyse(text).exact) <= STOP:
                weights[stems][theme.name] = 1.0
        note = analyse(theme.scope_note)
        for exact, stemmed in zip(note.exact, note.stem, strict=True):
            if exact not in STOP and len(exact) > 2:
                weights[(stemmed,)].setdefault(theme.name, _NOTE_WEIGHT)
    phrases: dict[str, list[_Phrase]] = defaultdict(list)
    broader = {theme.name: theme.broader for theme in themes}
    for stems, owners in weights.items():
        for name, weight in owners.items():  # a word of its broader theme as well tells no less for a theme
            beside = sum(1 for other in owners if other not in (name, broader[name]))
            phrases[stems[0]].append(_Phrase(stems, name, weight / (1 + beside), ()))
    return {k: tuple(sorted(v, key=lambda p: (-len(p.stems), p.theme))) for k, v in phrases.items()}


@lru_cache(maxsize=50_000)
def _stems(text: str) -> tuple[str, ...]:
    """Stems of one word; a spoken number in two parts has none ("sixty-eight" is not a child of eight)."""
    found = analyse(text)
    return () if len(found.exact) > 1 and not _TENS.isdisjoint(found.exact) else found.stem


def suggest_themes(
    words: Sequence[Word], thesaurus: Thesaurus, most: int = MOST, nearness: Mapping[str, Near] | None = None
) -> list[Suggestion]:
    """The themes that most speaks for, at most `most`; the evidence names the words.

    `nearness`: of the themes whose note is near enough to this passage in meaning, where a model is there to tell: such a theme needs no
    word, and comes the earlier the nearer it is.
    """
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
    spoken: dict[str, Counter[_Phrase]] = defaultdict(Counter)
    where: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for at in hits:
        for phrase in phrases[stems[at]]:
            length = len(phrase.stems)
            if length == 1 or tuple(stems[at : at + length]) == phrase.stems:
                spoken[phrase.theme][phrase] += 1
                if phrase.weight > 0:
                    where[phrase.theme].append((owner[at], owner[at + length - 1]))
    scores = {name: _score(counts) for name, counts in spoken.items()}
    near = nearness if nearness and words else {}
    for name, found in near.items():
        scores[name] = scores.get(name, 0.0) + _NEAR_WEIGHT + found.value
    enough = thesaurus.enough
    ranked = sorted((n for n, s in scores.items() if s >= enough.get(n, ENOUGH)), key=lambda n: (-scores[n], n))
    picked = _without_broader(ranked, scores, thesaurus.broader, most)
    return [_suggest(words, name, where.get(name, ()), spoken.get(name, Counter()), scores[name], near.get(name)) for name in picked]


def _without_broader(ranked: Sequence[str], scores: Mapping[str, float], broader: Mapping[str, str], most: int) -> list[str]:
    """The first so many; a broader one gives its place to the best of its narrower ones that has nearly as much to say, since who looks
    for it finds those too."""
    picked: list[str] = []
    for name in ranked:
        above = broader[name]
        if any(broader[p] == name for p in picked):
            continue
        if above in picked and scores[name] >= _NEARLY * scores[above]:
            picked.remove(above)
        if len(picked) < most and above not in picked:
            picked.append(name)
    return picked


def _score(counts: Counter[_Phrase]) -> float:
    """Each different word counts with its weight, saying it again adds a quarter, at most twice. What decisions taught adds or takes
    away `LEARNED_MOST` at most."""
    listed = sum(p.weight * (1 + 0.25 * min(n - 1, 2)) for p, n in counts.items() if not p.taught_by)
    learned = sum(p.weight for p in counts if p.taught_by)
    return listed + max(-LEARNED_MOST, min(LEARNED_MOST, learned))


def _suggest(
    words: Sequence[Word], name: str, where: Sequence[tuple[int, int]], counts: Mapping[_Phrase, int], score: float, near: Near | None
) -> Suggestion:
    first, last = (min(f for f, _ in where), max(e for _, e in where)) if where else (0, len(words) - 1)
    said = dict.fromkeys(" ".join(w.text.strip(" .,;:!?") for w in words[f : e + 1]) for f, e in where)
    taught = sorted({r for p in counts if p.taught_by for r in p.taught_by})
    listed = sum(1 for p in counts if not p.taught_by)
    because = [
        f"near the note of {name} in meaning" if near is not None else "",
        many(listed, "word that speaks for it is spoken", "words that speak for it are spoken") if listed else "",
        many(sum(1 for p in counts if p.taught_by and p.weight > 0), "word was learned from decisions", "words were learned from decisions"),
        many(sum(1 for p in counts if p.weight < 0), "word speaks against it", "words speak against it"),
    ]
    rule = LEARNED if taught else SCOPE_NOTE if where else NEAR
    made = suggest(
        "theme", name, words, first, last, rule=rule, sure=min(0.9, 0.3 + 0.15 * score), evidence=", ".join(said) or f"near the note of {name}",
        reckoning=", ".join(b for b in because if b and not b.startswith("no ")),
    )  # fmt: skip
    by = {*taught, *(near.taught_by if near is not None else ())}
    return replace(made, taught_by=tuple(sorted(by))) if by else made
