"""Passages: cuts of a recording worth finding, about 20-120 s, at the ends of utterances. Pure.

The best set of cuts is found over all boundaries at once: runs that keep to their words (`cohesion`) and last about a minute are
good passages; long pauses and the start of a new question are good places between them, between a question and its answer is a
bad one. Weights are a project choice; `python -m tests.bench cuts` says what they reach.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from statistics import median

import numpy as np
import numpy.typing as npt

from archive.domain.passages import Cut, Utterance
from archive.domain.quoting import text_tokens
from archive.rules import cohesion
from archive.rules.utterances import asks, ends_sentence

MIN_MS = 20_000
AIM_MS = 60_000
MAX_MS = 120_000
_MOST = 200  # utterances in a passage
_EACH = 3.0  # what one more passage costs
_TOO_SHORT = 60.0
_TOO_LONG = 400.0
_PARTED_ANSWER = 120.0  # more than any length: a question is never parted from its answer unless the passage would last too long
_PARTED_QUESTION = 20.0
_NEW_QUESTION = 8.0
_PAUSE = 3.0  # a second of it, up to three
_ACROSS = 10.0  # people talk over each other
_HALF_SENTENCE = 6.0
_QUICK = 3.0  # a quick exchange goes on
_FEW_WORDS = 3  # so much is said to keep somebody talking, and is no question
_QUICK_MS = 4_000
_TAGS = frozenset(tuple(t.split()) for t in ("you know", "you see", "see", "right", "all right", "okay", "eh", "no", "yes"))  # ask nothing

Floats = npt.NDArray[np.float64]


def segment(
    utterances: Sequence[Utterance], interviewer_ids: Collection[int] = (), by_hand: Sequence[tuple[int, int]] = ()
) -> list[Cut]:
    """Cuts in order that hold every utterance once. One passage where the whole is shorter than 40 s.

    An utterance longer than 120 s is a passage by itself. `interviewer_ids`: whose turns are questions. `by_hand`: stretches (ms) that a
    person made one passage each, in order: what begins in one is that passage, and only what lies between them is cut.
    """
    cuts: list[Cut] = []
    at = 0
    for first, stop in [*_held(utterances, by_hand), (len(utterances), len(utterances))]:
        for one, other in _best(utterances[at:first], interviewer_ids):
            cuts.append(_cut(utterances, at + one, at + other))
        if stop > first:
            cuts.append(_cut(utterances, first, stop))
        at = stop
    return cuts


def _held(utterances: Sequence[Utterance], by_hand: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Which utterances (first, and the one after the last) begin in each stretch; none of those in which none does."""
    found: list[tuple[int, int]] = []
    for start_ms, end_ms in sorted(by_hand):
        least = found[-1][1] if found else 0
        inside = [n for n, u in enumerate(utterances) if n >= least and start_ms <= u.start_ms < end_ms]
        if inside:
            found.append((inside[0], inside[-1] + 1))
    return found


def _cut(utterances: Sequence[Utterance], first: int, stop: int) -> Cut:
    return Cut(utterances[first].start_ms, max(u.end_ms for u in utterances[first:stop]), first, stop - 1)


def _best(utterances: Sequence[Utterance], interviewer_ids: Collection[int]) -> list[tuple[int, int]]:
    """The best set of cuts: of each passage its first utterance and the one after its last."""
    count = len(utterances)
    if count == 0:
        return []
    starts = np.array([u.start_ms for u in utterances], dtype=np.float64)
    ends = np.maximum.accumulate(np.array([u.end_ms for u in utterances], dtype=np.float64))
    longest = np.minimum(np.arange(1, count + 1) - np.searchsorted(np.maximum.accumulate(starts), ends - MAX_MS), _MOST).clip(1)
    most = int(longest.max())
    costs = cohesion.costs([u.words for u in utterances], most).astype(np.float64)
    for size in range(1, most + 1):
        costs[size:, size] += _length_cost(ends[size - 1 :] - starts[: count - size + 1])
    edges = _edges(utterances, ends, interviewer_ids)
    best = np.zeros(count + 1)
    size_of = [0] * (count + 1)
    for stop in range(1, count + 1):
        sizes = int(longest[stop - 1])
        asked = best[stop - sizes : stop][::-1] + costs[stop, 1 : sizes + 1]
        size_of[stop] = int(asked.argmin()) + 1
        best[stop] = asked[size_of[stop] - 1] + edges[stop]
    found: list[tuple[int, int]] = []
    stop = count
    while stop > 0:
        found.append((stop - size_of[stop], stop))
        stop -= size_of[stop]
    return found[::-1]


def _length_cost(lengths_ms: Floats) -> Floats:
    cost = ((lengths_ms - AIM_MS) / 40_000) ** 2 + _EACH
    cost += _TOO_SHORT * np.maximum(MIN_MS - lengths_ms, 0) / MIN_MS
    cost[lengths_ms > MAX_MS] += _TOO_LONG
    return cost


def _edges(utterances: Sequence[Utterance], ends: Floats, interviewer_ids: Collection[int]) -> list[float]:
    """What a cut before each utterance costs; less than nothing at a good place. One more for the end."""
    asking = [_is_question(u, interviewer_ids) for u in utterances]
    pauses = [max(after.start_ms - ended_ms, 0) for after, ended_ms in zip(utterances[1:], ends, strict=False)]
    usual: dict[int | None, list[float]] = {}
    for before, pause in zip(utterances, pauses, strict=False):
        usual.setdefault(before.speaker_id, []).append(min(pause, 1000))
    rhythm = {speaker: median(some) for speaker, some in usual.items()}
    edges = [0.0]
    for n in range(1, len(utterances)):
        before, after = utterances[n - 1], utterances[n]
        cost = -_PAUSE * min(max(pauses[n - 1] - rhythm[before.speaker_id], 0), 3000) / 1000
        if after.start_ms < ends[n - 1]:
            cost += _ACROSS
        if asking[n - 1]:
            cost += _PARTED_QUESTION if asking[n] else _PARTED_ANSWER
        elif asking[n]:
            cost -= _NEW_QUESTION
        if before.words and not ends_sentence(before.words[-1].text):
            cost += _HALF_SENTENCE
        if before.speaker_id != after.speaker_id and not asking[n] and _quick(before) and _quick(after):
            cost += _QUICK
        edges.append(cost)
    return [*edges, 0.0]


def _quick(utterance: Utterance) -> bool:
    return utterance.end_ms - utterance.start_ms < _QUICK_MS


def _is_question(utterance: Utterance, interviewer_ids: Collection[int]) -> bool:
    """True for a turn of whoever asks, but for a word that keeps somebody talking ("Yes."); where it is not known who speaks, for what
    ends with a question mark and is no mere "You know?"."""
    marked = bool(utterance.words) and asks(utterance.words[-1].text)
    if utterance.speaker_id is not None and interviewer_ids:
        return utterance.speaker_id in interviewer_ids and (marked or len(utterance.words) > _FEW_WORDS)
    return marked and text_tokens(" ".join(w.text for w in utterance.words[-_FEW_WORDS:])) not in _TAGS
