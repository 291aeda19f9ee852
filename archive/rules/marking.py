"""Marking what was found in the words that a viewer reads. Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TypeAlias

from archive.rules.analysis import BOUNDARY, Analysed, analysed
from archive.rules.questions import Near, Phrase, Prefix, Query, Term, leaves


def highlight(
    words: Sequence[str], query: Query, around: int = 32, masks: Collection[int] = ()
) -> list[tuple[str, bool]]:
    """About `around` words where the question is met best: (text, is a match), neighbours of one sort joined.

    `words` come from the wording that the viewer may read, a mask as one of them; `masks`: which of them are masks, whose
    own words are never marked and over which no phrase reaches. "…" stands where words were left out.
    """
    marked = _marked(words, query, masks)
    first = _best_window(marked, around)
    last = min(len(words), first + around)
    parts: list[tuple[str, bool]] = []
    for text, is_match in zip(words[first:last], (m > 0 for m in marked[first:last]), strict=True):
        if parts and parts[-1][1] == is_match:
            parts[-1] = (parts[-1][0] + " " + text, is_match)
        else:
            parts.append((text, is_match))
    before = [("…", False)] if first > 0 else []
    return before + parts + ([("…", False)] if last < len(words) else [])


def first_met(words: Sequence[str], query: Query, around: int = 32, masks: Collection[int] = ()) -> int | None:
    """The number of the first word of the stretch that `highlight` shows where the question is met; None where nothing is."""
    marked = _marked(words, query, masks)
    first = _best_window(marked, around)
    return next((n for n, m in enumerate(marked) if m and n >= first), None)


_AT_A_MASK = Analysed((BOUNDARY,), (BOUNDARY,))


def _marked(words: Sequence[str], query: Query, masks: Collection[int] = ()) -> list[int]:
    """For each word 0, or the number of the wanted thing it meets."""
    sought = list(_wanted(query))
    if not sought:
        return [0] * len(words)
    exact: list[str] = []
    stems: list[str] = []
    owner: list[int] = []
    for n, text in enumerate(words):
        found = _AT_A_MASK if n in masks else analysed(text)
        exact += found.exact
        stems += found.stem
        owner += [n] * len(found.exact)
    marked = [0] * len(words)
    for number, wanted in enumerate(sought, start=1):
        if isinstance(wanted, Near):
            places = _near_places(wanted, stems)
        else:
            places = [(at, _meets(wanted, exact, stems, at)) for at in range(len(exact))]
        for at, length in places:
            for k in range(at, at + length):
                marked[owner[k]] = number
    return marked


def _near_places(wanted: Near, stems: Sequence[str]) -> list[tuple[int, int]]:
    """(where, how many tokens) of both sides, wherever they stand near each other."""
    sides = [[(at, len(run)) for at in range(len(stems)) if tuple(stems[at : at + len(run)]) == run] for run in (wanted.first, wanted.second)]
    found: set[tuple[int, int]] = set()
    for one in sides[0]:
        for other in sides[1]:
            first, last = sorted((one, other))
            if last[0] - (first[0] + first[1]) < wanted.apart:
                found |= {one, other}
    return sorted(found)


_Sought: TypeAlias = Term | Phrase | Prefix | Near


def _wanted(query: Query) -> list[_Sought]:
    return [leaf for leaf in leaves(query) if isinstance(leaf, (Term, Phrase, Prefix, Near))]


def _meets(wanted: Term | Phrase | Prefix, exact: Sequence[str], stems: Sequence[str], at: int) -> int:
    """How many tokens from `at` on meet the wanted thing; 0: none."""
    if isinstance(wanted, Phrase):
        return len(wanted.exact) if tuple(exact[at : at + len(wanted.exact)]) == wanted.exact else 0
    if isinstance(wanted, Prefix):
        return int(exact[at] != BOUNDARY and exact[at].startswith(wanted.start))
    return int(exact[at] == wanted.exact or (not wanted.quoted and stems[at] == wanted.stem))


def _best_window(marked: Sequence[int], around: int) -> int:
    """Where to begin: the window with most different things met, then most matches, then the earliest."""
    hits = [n for n, m in enumerate(marked) if m]
    if not hits or len(marked) <= around:
        return 0
    best, best_score = 0, (-1, -1)
    for hit in hits:
        first = max(0, min(hit - around // 4, len(marked) - around))
        inside = [m for m in marked[first : first + around] if m]
        score = (len(set(inside)), len(inside))
        if score > best_score:
            best, best_score = first, score
    return best
