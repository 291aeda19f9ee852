"""What our own computer hears in a finished clip against the words of its captions. Pure: words and times in, findings out.

The engine mis-hears, so words that sound or look alike count as the same; what is refused is what the captions do not have at
all. Thresholds are project choices, measured on clips of the samples (tests/services/test_listening.py).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import jellyfish
from rapidfuzz.distance import Indel, JaroWinkler, Levenshtein

from archive.domain.letters import folded
from archive.domain.values import Word

Caption = tuple[str, int, int]  # text, start_ms, end_ms on the clip's own clock
NEAR_MS = 500  # this near to a withheld name a word that only sounds like one counts
MOST_EXTRA = 2  # so many words in a row the engine may make up, or hear at a clip's edge
MOST_EXTRA_DISGUISED = 5
ALIKE = 0.72  # spelling or sound at least this close: the engine's other way of writing the same
LIKE_A_NAME = 0.86
SHORTEST_BY_EAR = 4  # letters: shorter ones sound like everything
A_NAME = "a name to be hidden is heard"
IN_A_MUTE = "something is still heard where a name is withheld"
EXTRA = "words are heard that the captions do not have"
OTHER_WORDS = "these are not the words that are to be read"
_KEEP = re.compile(r"[^\w']+")
_MASK = re.compile(r"\s*[\"'“‘(«]*\[.*\]\S*\s*", re.DOTALL)
_MOST_JOINED = 3  # "Lund's Yard," heard as "Lunsyard", "of course" as "ofcourse"


@dataclass(frozen=True, slots=True)
class Overheard:
    """One reason why a clip cannot leave: when, in its own clock, and what (never the words)."""

    at_ms: int
    what: str


@dataclass(frozen=True, slots=True)
class Clip:
    """What a clip should be: its captions, what is silent in it (ms of its own clock), and how it came about."""

    captions: tuple[Caption, ...]
    mutes: tuple[tuple[int, int], ...] = ()
    disguised: bool = False
    is_reading: bool = False


def on_clip_clock(pieces: Sequence[tuple[int, int]], stretches: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Stretches of a recording on the clock of a clip that plays these pieces of it, one after another."""
    found, offset = [], 0
    wanted = list(stretches)
    for start_ms, end_ms in pieces:
        for a, b in wanted:
            if a < end_ms and start_ms < b:
                found.append((offset + max(a, start_ms) - start_ms, offset + min(b, end_ms) - start_ms))
        offset += end_ms - start_ms
    return found


def overheard(
    clip: Clip, heard: Sequence[Word], names: Sequence[str], places: Callable[[Sequence[str]], Sequence[tuple[int, int]]]
) -> list[Overheard]:
    """Why this clip cannot leave, in order of time; empty where what is heard is what the captions say.

    `names`: names to be hidden. `places`: where such a name stands among words as (first, last), as the last scan finds it.
    """
    words = [w for w in heard if _plain(w.text)]
    silent = [*clip.mutes, *((s, e) for text, s, e in clip.captions if is_mask(text))]
    said = _said(clip)
    partner = _aligned([_plain(w.text) for w in words], said)
    extra = [n for n, other in enumerate(partner) if other is None]
    found = [Overheard(words[first].start_ms, A_NAME) for first, last in places([w.text for w in words]) if not _captioned(words, said, partner, first, last)]
    found += [Overheard(words[n].start_ms, A_NAME) for n in extra if _near(words[n], silent, NEAR_MS) and _sounds_like(words, n, names)]
    found += [Overheard(words[n].start_ms, IN_A_MUTE) for n in extra if _middle_in(words[n], silent)]
    most = MOST_EXTRA_DISGUISED if clip.disguised else MOST_EXTRA
    found += [Overheard(words[run[0]].start_ms, EXTRA) for run in _runs(extra) if len(run) > most]
    if clip.is_reading and said and len(partner) - len(extra) < len(said) / 2:
        found.append(Overheard(0, OTHER_WORDS))
    return sorted({(f.at_ms, f.what): f for f in found}.values(), key=lambda f: f.at_ms)


def is_mask(text: str) -> bool:
    """True for the words that stand in the place of a name: all in brackets."""
    return _MASK.fullmatch(text) is not None


def _said(clip: Clip) -> list[str]:
    """The captions' words; somebody who reads aloud may say the words of a mask too."""
    texts = [text for text, _, _ in clip.captions if clip.is_reading or not is_mask(text)]
    return [plain for text in texts for part in text.split() if (plain := _plain(part))]


@lru_cache(maxsize=8192)
def _plain(text: str) -> str:
    return _KEEP.sub("", folded(text).replace("’", "'")).strip("'").replace("'", "")


def _aligned(heard: Sequence[str], said: Sequence[str]) -> list[int | None]:
    """For each heard word the place of the caption word that it is, or None."""
    partner: list[int | None] = [None] * len(heard)
    at_heard = at_said = 0
    same = [(b.a, b.b, b.size) for b in Indel.opcodes(list(heard), list(said)).as_matching_blocks()]
    for h, s, size in same:  # the last one stands at the end of both, and is empty
        partner[at_heard:h] = _matched(heard[at_heard:h], said[at_said:s], at_said)
        partner[h : h + size] = range(s, s + size)
        at_heard, at_said = h + size, s + size
    return partner


def _matched(heard: Sequence[str], said: Sequence[str], offset: int) -> list[int | None]:
    """`_aligned` where words differ: the cheapest alignment in which one word may be heard as two or three, and two or three
    as one. Long stretches that differ are other words; nobody needs to know which."""
    partner: list[int | None] = [None] * len(heard)
    rows, columns = len(heard) + 1, len(said) + 1
    if rows * columns > _MOST_CELLS:
        return partner
    cost = [[float(i + j) for j in range(columns)] for i in range(rows)]
    steps = [[(1, 0) if i else (0, 1) for _ in range(columns)] for i in range(rows)]
    for i in range(1, rows):
        for j in range(1, columns):
            ways = [(cost[i - 1][j] + 1.0, (1, 0)), (cost[i][j - 1] + 1.0, (0, 1))]
            for a, b in _JOINS:
                if a <= i and b <= j and (
                    alike := _alike("".join(heard[i - a : i]), "".join(said[j - b : j]), joined=a + b > 2)
                ) >= ALIKE:
                    ways.append((cost[i - a][j - b] + (1.0 - alike) + 0.01 * (a + b - 2), (a, b)))
            cost[i][j], steps[i][j] = min(ways)
    i, j = rows - 1, columns - 1
    while i or j:
        a, b = steps[i][j]
        if a and b:
            partner[i - a : i] = [offset + j - b] * a
        i, j = i - a, j - b
    return partner


_MOST_CELLS = 40_000
_JOINS = ((1, 1), *((1, n) for n in range(2, _MOST_JOINED + 1)), *((n, 1) for n in range(2, _MOST_JOINED + 1)), (2, 2))


@lru_cache(maxsize=65536)
def _alike(heard: str, said: str, joined: bool = False) -> float:
    """0..1: the same in spelling, or in sound. `joined`: several words on one side; then a common beginning says nothing."""
    if heard == said:
        return 1.0
    spelled = Levenshtein.normalized_similarity(heard, said)
    if heard.isdigit() or said.isdigit():
        return 0.8 if heard.isdigit() and said.isdigit() else spelled
    if not joined:
        spelled = max(spelled, float(JaroWinkler.similarity(heard, said)) - 0.1)
    sounds, wanted = jellyfish.metaphone(heard), jellyfish.metaphone(said)
    by_ear = Levenshtein.normalized_similarity(sounds, wanted) if len(sounds) > 1 and len(wanted) > 1 else 0.0
    return max(spelled, by_ear - 0.05)


def _captioned(words: Sequence[Word], said: Sequence[str], partner: Sequence[int | None], first: int, last: int) -> bool:
    """True where the captions have these very words at this place: then the last scan has let them stand."""
    return all((other := partner[n]) is not None and said[other] == _plain(words[n].text) for n in range(first, last + 1))


def _sounds_like(words: Sequence[Word], at: int, names: Sequence[str]) -> bool:
    """True where a heard word, or it and the next one, sounds like a part of a name to be hidden."""
    texts = [_plain(words[at].text)]
    if at + 1 < len(words):
        texts.append(texts[0] + _plain(words[at + 1].text))
    parts = {plain for name in names for part in (*name.split(), name) if len(plain := _plain(part)) >= SHORTEST_BY_EAR}
    return any(_like_name(text, part) for text in texts if len(text) >= SHORTEST_BY_EAR for part in parts)


@lru_cache(maxsize=65536)
def _like_name(heard: str, name: str) -> bool:
    if JaroWinkler.similarity(heard, name) >= LIKE_A_NAME and Levenshtein.distance(heard, name) <= max(1, len(name) // 3):
        return True
    sounds = jellyfish.metaphone(name)
    return len(sounds) >= 2 and jellyfish.metaphone(heard) == sounds


def _near(word: Word, stretches: Iterable[tuple[int, int]], reach_ms: int) -> bool:
    return any(word.start_ms < e + reach_ms and s - reach_ms < word.end_ms for s, e in stretches)


def _middle_in(word: Word, stretches: Iterable[tuple[int, int]]) -> bool:
    middle = (word.start_ms + word.end_ms) // 2
    return any(s <= middle < e for s, e in stretches)


def _runs(places: Sequence[int]) -> list[list[int]]:
    """Places that follow on each other, also over one that the captions seem to have: an "and" stands everywhere."""
    runs: list[list[int]] = []
    for place in places:
        if runs and place - runs[-1][-1] <= 2:
            runs[-1].append(place)
        else:
            runs.append([place])
    return runs
