"""Puts a typed transcript without times to the sound: each of its words gets the time at which our own computer heard it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from archive.domain.aligning import align, compared
from archive.domain.editing import fitted
from archive.domain.marks import Kind, kind
from archive.domain.phrases import many
from archive.domain.script import Script
from archive.domain.values import MIN_WORD_MS, Word
from archive.errors import BadInput
from archive.rules.script_fit import Said, parted

LEAST_HEARD = 0.3  # share of typed words that were heard; with less it is another recording's transcript (project choice)
_NOT_WORDS = (Kind.SOUND, Kind.INAUDIBLE)


@dataclass(frozen=True, slots=True)
class Placed:
    """Utterances with times, and what did not fit, as stretches (start_ms, end_ms, words). `unheard`: typed, and nothing was
    heard for it (its words have probability 0: doubtful until a person hears them); `untyped`: heard, and nobody typed it."""

    said: tuple[Said, ...]
    unheard: tuple[tuple[int, int, int], ...]
    untyped: tuple[tuple[int, int, int], ...]


def put_to_sound(script: Script, heard: Sequence[Word], duration_ms: int) -> Placed:
    """The script's lines in the times of the words that were heard; words that were not fit between their neighbours.

    Raises BadInput where hardly any word was heard: then it is no transcript of this recording.
    """
    heard = sorted(heard, key=lambda w: w.start_ms)  # two channels may speak at once
    texts = [word for line in script.lines for word in line.words]
    pairs = align([compared(w.text) for w in heard], [compared(t) for t in texts])
    same = [(p.before, p.after) for p in pairs if p.same]
    spoken = sum(kind(t) not in _NOT_WORDS for t in texts)
    if len(same) < LEAST_HEARD * spoken or not same:
        raise BadInput(
            f"This is hardly what is said in this recording: of {many(spoken, 'word')} {len(same)} were heard.",
            "Look whether it belongs to another recording. Nothing was changed.",
        )
    words = list(fitted(_apart(heard, duration_ms), texts, 0, duration_ms, duration_ms, same))
    unheard, untyped = _left_over(same, texts, len(heard))
    for first, last in unheard:
        words[first:last] = [replace(w, probability=0.0) for w in words[first:last]]
    said, at = [], 0
    for line in script.lines:
        said += parted(line.speaker, tuple(words[at : at + len(line.words)]))
        at += len(line.words)
    return Placed(tuple(said), _stretches(words, unheard), _stretches(heard, untyped))


def _stretches(words: Sequence[Word], runs: Sequence[tuple[int, int]]) -> tuple[tuple[int, int, int], ...]:
    return tuple((words[a].start_ms, max(w.end_ms for w in words[a:b]), b - a) for a, b in runs)


def _apart(heard: Sequence[Word], duration_ms: int) -> list[Word]:
    """Heard words one after another, where two people spoke at once: a typed line says them in a row."""
    found: list[Word] = []
    for word in heard:
        start_ms = max(word.start_ms, found[-1].end_ms if found else 0)
        found.append(replace(word, start_ms=start_ms, end_ms=max(word.end_ms, start_ms + MIN_WORD_MS)))
    ceiling = duration_ms
    for n in range(len(found) - 1, -1, -1):
        if found[n].end_ms <= ceiling:
            break
        start_ms = min(found[n].start_ms, ceiling - MIN_WORD_MS)
        found[n] = replace(found[n], start_ms=start_ms, end_ms=ceiling)
        ceiling = start_ms
    return found


def _left_over(
    same: Sequence[tuple[int, int]], texts: Sequence[str], heard: int
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Runs [first, last) of typed words with nothing heard between their neighbours, and of heard ones with nothing typed."""
    unheard, untyped = [], []
    i = j = 0
    for old, new in [*same, (heard, len(texts))]:
        if new > j and old == i:
            n = j
            while n < new:  # marks in brackets are not heard as words
                last = n
                while last < new and kind(texts[last]) not in _NOT_WORDS:
                    last += 1
                if last > n:
                    unheard.append((n, last))
                n = last + 1
        if old > i and new == j:
            untyped.append((i, old))
        i, j = old + 1, new + 1
    return unheard, untyped
