"""Stretches seen before and stretches that are new: an answer compared with an earlier one by its times alone. Pure."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence

from archive.domain.masking import merge

Seen = Mapping[int, Sequence[tuple[int, int]]]  # recording → stretches (start_ms, end_ms), in order and apart


def merged(stretches: Iterable[tuple[int, int, int]]) -> dict[int, list[tuple[int, int]]]:
    """(recording, start_ms, end_ms) in any order → by recording, in order; those that touch or share time are one."""
    found: dict[int, list[tuple[int, int]]] = {}
    for recording, start_ms, end_ms in stretches:
        found.setdefault(recording, []).append((start_ms, end_ms))
    return {recording: merge(pieces) for recording, pieces in found.items()}


def is_new(stretch: tuple[int, int, int], seen: Seen) -> bool:
    """True where less than half of it had been seen: a passage that is only cut elsewhere by now is not new."""
    recording, start_ms, end_ms = stretch
    pieces = seen.get(recording, ())
    at = max(bisect_left(pieces, (start_ms, start_ms)) - 1, 0)
    together = 0
    while at < len(pieces) and pieces[at][0] < end_ms:
        together += max(0, min(end_ms, pieces[at][1]) - max(start_ms, pieces[at][0]))
        at += 1
    return 2 * together < end_ms - start_ms
