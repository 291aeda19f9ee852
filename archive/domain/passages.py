"""Utterances, the cuts of a recording into passages, and the find units a passage falls into. Pure."""

from __future__ import annotations

from collections.abc import Sequence
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


def cut_units(passage: Stretch, edges: Sequence[int]) -> list[Stretch]:
    """The passage cut at every edge (ms) strictly inside it; the pieces cover it without a gap."""
    inside = sorted({e for e in edges if passage.start_ms < e < passage.end_ms})
    marks = [passage.start_ms, *inside, passage.end_ms]
    return [Stretch(passage.recording_id, s, e) for s, e in pairwise(marks)]
