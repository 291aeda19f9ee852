"""How a recording is cut into chunks: about five minutes each, at silences, nothing left out and nothing twice. Pure."""

from __future__ import annotations

from collections.abc import Sequence

TARGET_MS = 300_000
LEAST_SILENCE_MS = 200


def plan_chunks(
    speech_ms: Sequence[tuple[int, int]], duration_ms: int, target_ms: int = TARGET_MS, edges: Sequence[int] = ()
) -> list[tuple[int, int]]:
    """Chunks (start_ms, end_ms), half-open, in order, that cover [0, duration_ms) exactly. `edges`: where one has to end in any
    case (ms), because another language begins.

    A cut lies in the longest silence between 0.6 and 1.2 of the target; where there is none, in the next silence up to
    twice the target; where somebody speaks on without a breath, at twice the target.
    """
    if duration_ms <= 0 or target_ms <= 0:
        return []
    quiet = _silences(speech_ms, duration_ms)
    chunks: list[tuple[int, int]] = []
    start = 0
    for end in [*sorted({e for e in edges if 0 < e < duration_ms}), duration_ms]:
        while end - start > target_ms * 12 // 10:
            cut = _cut(quiet, start, target_ms)
            chunks.append((start, min(cut, end)))
            start = chunks[-1][1]
        if start < end:
            chunks.append((start, end))
            start = end
    return chunks


def _silences(speech_ms: Sequence[tuple[int, int]], duration_ms: int) -> list[tuple[int, int]]:
    quiet = []
    at = 0
    for start, end in sorted(speech_ms):
        if start - at >= LEAST_SILENCE_MS:
            quiet.append((at, min(start, duration_ms)))
        at = max(at, end)
    if duration_ms - at >= LEAST_SILENCE_MS:
        quiet.append((at, duration_ms))
    return quiet


def _cut(quiet: Sequence[tuple[int, int]], start: int, target_ms: int) -> int:
    early, late, last = start + max(1, target_ms * 6 // 10), start + target_ms * 12 // 10, start + 2 * target_ms
    near = [(min(e, late) - max(s, early), -max(s, early), min(e, late)) for s, e in quiet if s < late and e > early]
    if near:
        length, minus_from, to = max(near)
        if length > 0:
            return max(start + 1, (to - minus_from) // 2)
    after = [max(s, late) + min(e, last) for s, e in quiet if e > late and s < last]
    return max(start + 1, after[0] // 2 if after else last)
