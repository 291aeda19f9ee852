"""From words to utterances: by pauses and sentence ends on one microphone, by channel where each has their own. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from archive.domain.values import Word

PAUSE_MS = 700
SENTENCE_PAUSE_MS = 250
MAX_MS = 30_000


def ends_sentence(text: str) -> bool:
    """True where a word closes a sentence; dots of an abbreviation of one letter ("P.") do not."""
    bare = text.rstrip("\"'”’»)] ")
    if bare.endswith(("?", "!", "…")):
        return True
    return bare.endswith(".") and len(bare.strip("\"'“‘«([").rstrip(".")) != 1


def asks(text: str) -> bool:
    """True where a word closes a question."""
    return text.rstrip("\"'”’»)] ").endswith("?")


def by_pause(words: Sequence[Word], gap_ms: int = PAUSE_MS, max_ms: int = MAX_MS) -> list[list[Word]]:
    """Words parted at pauses of `gap_ms`, at sentence ends with a short pause, and after questions.

    Longer ones than `max_ms` part at the next sentence end, and by twice that at any word, so that none runs on for ever.
    """
    groups: list[list[Word]] = []
    for word in words:
        if not groups or _parts(groups[-1], word, gap_ms, max_ms):
            groups.append([word])
        else:
            groups[-1].append(word)
    return groups


def _parts(group: Sequence[Word], following: Word, gap_ms: int, max_ms: int) -> bool:
    last = group[-1]
    gap = following.start_ms - last.end_ms
    length = following.end_ms - group[0].start_ms
    if gap >= gap_ms or length > 2 * max_ms:
        return True
    if not ends_sentence(last.text):
        return False
    return gap >= SENTENCE_PAUSE_MS or asks(last.text) or length > max_ms


def merge_channels(left: Sequence[Word], right: Sequence[Word]) -> list[tuple[int, list[Word]]]:
    """Utterances of two channels, one speaker each, in the order in which they begin: (channel 0 or 1, words)."""
    both = [(0, g) for g in by_pause(left)] + [(1, g) for g in by_pause(right)]
    return sorted(both, key=lambda pair: (pair[1][0].start_ms, pair[0]))
