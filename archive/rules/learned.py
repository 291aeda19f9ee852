"""What decisions about themes teach: words that speak for a theme or against it, and how much is enough for it. Pure.

No classifier: with the few dozens of decisions of a small team word lists do better (SEARCH.md: under about 60 confirmed a theme).
A word is learned where it was said in three passages of two interviews at least, so that nothing rests on one person's way of
speaking, and where chance alone would seldom bring it together so (Fisher's exact test). How much it weighs is a log odds ratio of
counts with 0.5 added to each (Haldane and Anscombe's correction). The limits are choices of this project: with the 32 passages of the
samples and one in ten instead of one in a hundred, "but", "could" and "went" spoke for the ferry.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import comb, log

from whoosh.lang.stopwords import stoplists

from archive.rules.themes import ENOUGH, LEARNED_WORD, STOP, LearnedWord, Lessons, Thesaurus

PASSAGES = 3  # in which a word was said at least
INTERVIEWS = 2  # of which these passages come at least
OTHERS = 5  # passages decided otherwise, at least: without them every common word would seem to speak for the theme
BY_CHANCE = 0.01  # how likely chance alone may bring a word together with a theme at most
MOST_FOR, MOST_AGAINST = 12, 8
DECIDED = 6  # decisions before they move what is enough
_LITTLE = stoplists["en"]  # Snowball's list
_A_POINT = 0.2  # of weight for each unit of the log odds ratio
_LEAST, _MOST = 0.8, 1.4
_TOO_COMMON = 0.5  # of all decided passages


@dataclass(frozen=True, slots=True)
class Decided:
    """A passage whose themes somebody decided, in the words that all of the team may read: stem → as it was spoken."""

    recording_id: int
    interview_id: int
    start_ms: int
    words: Mapping[str, str]
    confirmed: frozenset[str]
    rejected: frozenset[str]


@dataclass(frozen=True, slots=True)
class Taught:
    """A word that is learned, or was before somebody took it off. `here` of `all_here` passages of its side hold it (confirmed for a word
    that speaks for the theme, rejected for one against it), `there` of `all_there` of the others; `passages`: those that hold it."""

    stem: str
    spoken: str
    weight: float
    here: int
    all_here: int
    there: int
    all_there: int
    passages: tuple[Decided, ...]
    off: bool = False


@dataclass(frozen=True, slots=True)
class TaughtTheme:
    """What is learned about one theme, the surest first."""

    confirmed: int = 0
    rejected: int = 0
    enough: float = ENOUGH
    words: tuple[Taught, ...] = field(default=())

    def lessons(self) -> Lessons:
        """What the rule needs of it."""
        words = (LearnedWord(w.stem, w.weight, tuple(sorted({p.recording_id for p in w.passages}))) for w in self.words if not w.off)
        return Lessons(tuple(words), self.enough)


def learn(decided: Sequence[Decided], thesaurus: Thesaurus, off: Callable[[str, str], bool]) -> dict[str, TaughtTheme]:
    """What these decisions teach, by theme. `off`: True for a (theme, stem) that somebody said is not to be learned."""
    said = Counter(stem for passage in decided for stem in passage.words)
    common = {stem for stem, n in said.items() if n > _TOO_COMMON * len(decided)}
    found = {}
    for theme in thesaurus.themes:
        name = theme.name
        yes = [p for p in decided if name in p.confirmed]
        no = [p for p in decided if name in p.rejected]
        if not yes and not no:
            continue
        others = [p for p in decided if name not in p.confirmed]
        for_it = _words(yes, others, common) if len(others) >= OTHERS else []
        for_it = [t for t in for_it if t.weight > 0 and not thesaurus.knows(t.stem, name)][:MOST_FOR]
        against = [t for t in _words(no, yes, common) if t.weight > 0][:MOST_AGAINST] if yes else []
        words = [*for_it, *(_against(t) for t in against if t.stem not in {w.stem for w in for_it})]
        found[name] = TaughtTheme(len(yes), len(no), _enough(len(yes), len(no)), tuple(_off(t, off(name, t.stem)) for t in words))
    return found


def _words(here: Sequence[Decided], there: Sequence[Decided], common: set[str]) -> list[Taught]:
    """Words that are clearly more often said here than there, the surest first."""
    counts = Counter(stem for passage in here for stem in passage.words)
    beside = Counter(stem for passage in there for stem in passage.words)
    found = []
    for stem, n in counts.items():
        holding = tuple(p for p in here if stem in p.words)
        spoken = Counter(p.words[stem] for p in holding).most_common(1)[0][0]
        if n < PASSAGES or stem in common or says_little(spoken) or len({p.interview_id for p in holding}) < INTERVIEWS:
            continue
        clearly = log((n + 0.5) / (len(here) - n + 0.5)) - log((beside[stem] + 0.5) / (len(there) - beside[stem] + 0.5))
        if clearly > 0 and by_chance(n, len(here), beside[stem], len(there)) <= BY_CHANCE:
            found.append(Taught(stem, spoken, round(min(LEARNED_WORD, _A_POINT * clearly), 2), n, len(here), beside[stem], len(there), holding))
    return sorted(found, key=lambda t: (-t.weight, -t.here, t.stem))


def by_chance(here: int, all_here: int, there: int, all_there: int) -> float:
    """How likely a word that is said in `here + there` passages would be in so many of the `all_here` ones, or more, by chance alone."""
    said = here + there
    ways = sum(comb(said, n) * comb(all_here + all_there - said, all_here - n) for n in range(here, min(said, all_here) + 1))
    return ways / comb(all_here + all_there, all_here)


def says_little(spoken: str) -> bool:
    """True for small words, numbers, and what is too common to speak for anything."""
    return spoken in STOP or spoken in _LITTLE or len(spoken) < 3 or any(c.isdigit() for c in spoken)


def _against(taught: Taught) -> Taught:
    return replace(taught, weight=-taught.weight)


def _off(taught: Taught, off: bool) -> Taught:
    return replace(taught, off=off)


def _enough(confirmed: int, rejected: int) -> float:
    """How much a theme needs to be suggested: less where most of what was suggested was confirmed, more where it was rejected."""
    number = confirmed + rejected
    if number < DECIDED:
        return ENOUGH
    share = (confirmed + 1) / (number + 2)
    return round(max(_LEAST, min(_MOST, ENOUGH + (0.5 - share) * min(1.0, number / 20))), 2)
