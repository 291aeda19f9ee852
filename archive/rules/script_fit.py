"""Puts the lines of a script into a recording's time: nothing good is lost, and whatever does not fit is said. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from archive.domain.editing import MS_A_LETTER, MS_A_WORD, fitted
from archive.domain.phrases import many
from archive.domain.script import Line, Script
from archive.domain.values import MIN_WORD_MS, Word
from archive.errors import BadInput
from archive.rules.utterances import MAX_MS, by_pause

_SHOWN = 12  # places named in a sentence
_CUE = "\ue000"  # stands for a line that is given its words: a letter that nobody types
SLOW = 2  # a line without an end lasts at most twice as long as it takes to say (project choice)


@dataclass(frozen=True, slots=True)
class Said:
    """One utterance to be kept: the label of who speaks ("" unknown) and words with times, in order."""

    speaker: str
    words: tuple[Word, ...]


@dataclass(frozen=True, slots=True)
class Fitted:
    """Utterances in the order in which they begin, what to tell a person, and the lines that lie beyond the end."""

    said: tuple[Said, ...]
    notes: tuple[str, ...]
    left_out: tuple[Line, ...] = ()


def fit(script: Script, duration_ms: int) -> Fitted:
    """A script with times as utterances of a recording this long. Lines without a time share that of the line before them.

    Raises BadInput where half of the words lie beyond the end, or there is no room for them: it is another recording's.
    """
    notes: list[str] = []
    groups = _groups(script.lines)
    backwards = [g[0].place for g in groups if _runs_backwards(g)]
    if backwards:
        notes.append(f"Times that run backwards were passed over and guessed ({_named(backwards)}).")
    starts = [g[0].start_ms or 0 for g in groups]
    if starts != sorted(starts):
        notes.append("The lines did not stand in the order of their times; they were put in order.")
        groups.sort(key=lambda g: g[0].start_ms or 0)
    beyond = [g for g in groups if (g[0].start_ms or 0) >= duration_ms - MIN_WORD_MS]
    groups = groups[: len(groups) - len(beyond)]
    left_out = tuple(line for g in beyond for line in g)
    lost = sum(len(line.words) for line in left_out)
    if lost * 2 > script.words:
        raise BadInput(
            "Most of this transcript lies beyond the recording's end.",
            "Look whether it belongs to another recording. Nothing was changed.",
        )
    if left_out:
        notes.append(f"Left out, because the recording ends before: {many(lost, 'word')} ({_named([line.place for line in left_out])}).")
    cut = [g[-1].place for g in groups if _end_of(g) is not None and (_end_of(g) or 0) > duration_ms]
    if cut:
        notes.append(f"Times beyond the recording's end were cut there ({_named(cut)}).")
    lines = [timed for n, g in enumerate(groups) for timed in _timed(g, _next_start(groups, n, duration_ms), duration_ms)]
    said = _in_one(lines) if script.captions else [part for s, words in lines for part in parted(s, words)]
    said.sort(key=lambda s: s.words[0].start_ms)
    return Fitted(tuple(said), tuple(notes), left_out)


def _groups(lines: Sequence[Line]) -> list[list[Line]]:
    """Each line that has a time, with those after it that have none; what stands before the first time begins at 0."""
    groups: list[list[Line]] = []
    for line in lines:
        if line.start_ms is None and line.at:
            line = replace(line, start_ms=line.at[0][0], end_ms=line.at[-1][1])
        before = groups[-1][0] if groups else None
        if before is None or (line.start_ms is not None and (line.start_ms != before.start_ms or line.at)):
            groups.append([line if line.start_ms is not None else replace(line, start_ms=0)])
        else:
            groups[-1].append(line)
    return groups


def _end_of(group: Sequence[Line]) -> int | None:
    ends = [line.end_ms for line in group if line.end_ms is not None]
    return max(ends) if ends and (len(group) == 1 or group[-1].end_ms is not None) else None


def _runs_backwards(group: Sequence[Line]) -> bool:
    end_ms = _end_of(group)
    own = [t for line in group for pair in line.at for t in pair]
    return (end_ms is not None and end_ms <= (group[0].start_ms or 0)) or own != sorted(own)


def _next_start(groups: Sequence[Sequence[Line]], n: int, duration_ms: int) -> int:
    here = groups[n][0].start_ms or 0
    return next((s for m in range(n + 1, len(groups)) if (s := groups[m][0].start_ms or 0) > here), duration_ms)


def _timed(group: Sequence[Line], next_ms: int, duration_ms: int) -> list[tuple[str, tuple[Word, ...]]]:
    """The lines of a group with the times of their words: their own where they have sound ones, else by their letters."""
    start_ms, end_ms = group[0].start_ms or 0, _end_of(group)
    if len(group) == 1 and (own := _own_times(group[0], duration_ms)):
        return [(group[0].speaker, own)]
    texts = [word for line in group for word in line.words]
    if end_ms is None or end_ms <= start_ms:
        slow = SLOW * sum(MS_A_WORD + MS_A_LETTER * len(t) for t in texts)
        end_ms = min(next_ms, start_ms + slow)
    end_ms = min(end_ms, duration_ms)
    words = fitted([Word(_CUE, start_ms, max(end_ms, start_ms))], texts, start_ms, end_ms, duration_ms)
    found, at = [], 0
    for line in group:
        found.append((line.speaker, words[at : at + len(line.words)]))
        at += len(line.words)
    return found


def _own_times(line: Line, duration_ms: int) -> tuple[Word, ...]:
    """The words at their own times, where each has one that can be kept as it is; else ()."""
    words = tuple(Word(t, s, e) for t, (s, e) in zip(line.words, line.at, strict=False))
    good = len(words) == len(line.words) and all(w.end_ms - w.start_ms >= MIN_WORD_MS for w in words) and words[-1].end_ms <= duration_ms
    return words if good and all(a.end_ms <= b.start_ms for a, b in zip(words, words[1:], strict=False)) else ()


def _in_one(lines: Sequence[tuple[str, tuple[Word, ...]]]) -> list[Said]:
    """Captions of one speaker in a row, as utterances: parted at pauses and sentence ends, as the machine's own are."""
    rows: list[tuple[str, list[Word]]] = []
    for speaker, words in sorted(lines, key=lambda pair: pair[1][0].start_ms):
        after = rows[-1][1][-1].end_ms if rows else 0
        if rows and rows[-1][0] == speaker and words[0].start_ms >= after:
            rows[-1][1].extend(words)
        else:
            rows.append((speaker, list(words)))
    return [Said(speaker, tuple(part)) for speaker, words in rows for part in by_pause(words)]


def parted(speaker: str, words: tuple[Word, ...]) -> list[Said]:
    """A line as it is; one that goes on for a minute is parted as the machine's own utterances are."""
    if words[-1].end_ms - words[0].start_ms <= 2 * MAX_MS:
        return [Said(speaker, words)]
    return [Said(speaker, tuple(part)) for part in by_pause(words)]


def _named(places: Sequence[str]) -> str:
    shown = ", ".join(dict.fromkeys(places[:_SHOWN]))
    return f"{shown} and {len(places) - _SHOWN} more" if len(places) > _SHOWN else shown
