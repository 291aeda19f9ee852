"""Utterances, the cuts of a recording into passages, and the find units a passage falls into. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from archive.domain.values import LineState, Stretch, Word


@dataclass(frozen=True, slots=True)
class Utterance:
    """One speaker's stretch: a block of words with its times in ms. `speaker_id` None: nobody assigned yet.
    `state`: how far a person has come with it; `verbatim`: a person said that no filler or false start is missing."""

    block_id: int
    speaker_id: int | None
    start_ms: int
    end_ms: int
    words: tuple[Word, ...]
    state: LineState = LineState.MACHINE
    verbatim: bool = False


@dataclass(frozen=True, slots=True)
class Cut:
    """One passage: start and end in ms, and the utterances it holds (positions in the recording, inclusive)."""

    start_ms: int
    end_ms: int
    first_utterance: int
    last_utterance: int


PART_MS = 300_000  # a page shows about so much of a long recording at once
FEW_PARTS = 2  # of a short one all


@dataclass(frozen=True, slots=True)
class Stage:
    """A part of a transcript as pages show it: its utterances (positions, the last one not in it) and its times in ms."""

    first: int
    last: int
    start_ms: int
    end_ms: int


def stages(times: Sequence[tuple[int, int]]) -> list[Stage]:
    """Utterances (start_ms, end_ms; in order) in parts of at least PART_MS, but for the last one."""
    found: list[Stage] = []
    first = 0
    for n, (_, end_ms) in enumerate(times):
        if end_ms - times[first][0] >= PART_MS or n == len(times) - 1:
            found.append(Stage(first, n + 1, times[first][0], max(e for _, e in times[first : n + 1])))
            first = n + 1
    return found


def in_view(parts: Sequence[Stage], at_ms: int | None) -> range:
    """Which parts a page shows at once: the one at this time of a long recording, else all (None: all of any)."""
    if at_ms is None or len(parts) <= FEW_PARTS:
        return range(len(parts))
    here = next((n for n, part in enumerate(parts) if part.end_ms > at_ms), len(parts) - 1)
    return range(here, here + 1)


def shape(block_ids: Iterable[int]) -> str:
    """A short mark of which utterances a transcript has, whoever speaks in them."""
    return hashlib.sha256(",".join(map(str, block_ids)).encode("ascii")).hexdigest()[:12]


def cut_units(passage: Stretch, edges: Sequence[int]) -> list[Stretch]:
    """The passage cut at every edge (ms) strictly inside it; the pieces cover it without a gap."""
    inside = sorted({e for e in edges if passage.start_ms < e < passage.end_ms})
    marks = [passage.start_ms, *inside, passage.end_ms]
    return [Stretch(passage.recording_id, s, e) for s, e in pairwise(marks)]
