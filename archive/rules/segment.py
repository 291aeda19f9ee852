"""Passages: cuts of a recording worth finding, about 20-120 s, at the ends of utterances. Pure.

The best set of cuts is found over all boundaries at once: lengths near a minute, long pauses and the start of a new
question are good places, between a question and its answer is a bad one. Weights are a project choice.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from archive.domain.passages import Cut, Utterance
from archive.rules.utterances import asks, ends_sentence

MIN_MS = 20_000
AIM_MS = 60_000
MAX_MS = 120_000
_TOO_SHORT = 40.0
_TOO_LONG = 400.0
_PARTED_ANSWER = 15.0


def segment(utterances: Sequence[Utterance], interviewer_ids: Collection[int] = ()) -> list[Cut]:
    """Cuts in order that hold every utterance once. One passage where the whole is shorter than 40 s.

    An utterance longer than 120 s is a passage by itself. `interviewer_ids`: whose turns are questions.
    """
    count = len(utterances)
    if count == 0:
        return []
    starts = [u.start_ms for u in utterances]
    ends: list[int] = []
    for utterance in utterances:
        ends.append(max(utterance.end_ms, ends[-1] if ends else 0))
    edge = [0.0] + [_boundary(utterances, n, ends[n - 1], interviewer_ids) for n in range(1, count)] + [0.0]
    best = [0.0] + [float("inf")] * count
    came_from = [0] * (count + 1)
    for stop in range(1, count + 1):
        for first in range(stop - 1, -1, -1):
            length = ends[stop - 1] - starts[first]
            if length > MAX_MS and first < stop - 1:
                break
            cost = best[first] + _length_cost(length) + edge[stop]
            if cost < best[stop]:
                best[stop], came_from[stop] = cost, first
    cuts: list[Cut] = []
    stop = count
    while stop > 0:
        first = came_from[stop]
        held = utterances[first:stop]
        cuts.append(Cut(starts[first], max(u.end_ms for u in held), first, stop - 1))
        stop = first
    return cuts[::-1]


def _length_cost(length_ms: int) -> float:
    cost = ((length_ms - AIM_MS) / 40_000) ** 2 + 0.5
    if length_ms < MIN_MS:
        cost += _TOO_SHORT * (MIN_MS - length_ms) / MIN_MS
    if length_ms > MAX_MS:
        cost += _TOO_LONG
    return cost


def _boundary(
    utterances: Sequence[Utterance], n: int, ended_ms: int, interviewer_ids: Collection[int]
) -> float:
    """What a cut before utterance n costs; less than nothing at a good place."""
    before, after = utterances[n - 1], utterances[n]
    cost = -min(max(after.start_ms - ended_ms, 0), 3000) / 1500
    if after.start_ms < ended_ms:
        cost += 4.0  # people talk over each other here
    asked = _is_question(before, interviewer_ids)
    asking = _is_question(after, interviewer_ids)
    if asked and not asking:
        cost += _PARTED_ANSWER
    if asking and not asked:
        cost -= 3.0
    if before.words and not ends_sentence(before.words[-1].text):
        cost += 1.5
    return cost


def _is_question(utterance: Utterance, interviewer_ids: Collection[int]) -> bool:
    if utterance.speaker_id is not None and interviewer_ids:
        return utterance.speaker_id in interviewer_ids
    return bool(utterance.words) and asks(utterance.words[-1].text)
