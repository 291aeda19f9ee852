"""Reads scripts in plain lines, as they are typed: with or without times, with or without who speaks. Pure.

A time stands at the beginning of a line, beside who speaks, or on a line of its own; in brackets it always is one, without
them where it stands alone, where from and to are told, or where a third of the lines begin so (“7:30 was the bell” is speech).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from archive.domain.script import Line, Script
from archive.rules.script_labels import Labels
from archive.rules.script_text import label_of, words_of
from archive.rules.script_times import CLOCK, clock_ms

_TO = r"[ \t]*(?:-+>|[-–—]|to|bis)[ \t]*"
_BRACKETED = re.compile(rf"[ \t]*[\[(<{{][ \t]*({CLOCK})(?:{_TO}({CLOCK}))?[ \t]*[\])>}}][ \t]*", re.ASCII)
_BARE = re.compile(rf"[ \t]*({CLOCK})(?:{_TO}({CLOCK}))?(?=[ \t]|$)[ \t]*", re.ASCII)
_LABEL_THEN_TIME = re.compile(rf"(.{{1,80}}?)[ \t]+[\[(<{{]?({CLOCK})[\])>}}]?[ \t]*(:[ \t]*|$)", re.ASCII)
_REMARK = "#"


@dataclass
class _Heading:
    """What stands before the words of a line."""

    start_ms: int | None = None
    end_ms: int | None = None
    speaker: str = ""
    rest: str = ""


class _Reader:
    """Reads the paragraphs of one script."""

    def __init__(self, paragraphs: Sequence[str], labels: Labels) -> None:
        self.labels = labels
        told = [p for p in paragraphs if p.strip()]
        self.bare = sum(_BARE.match(p) is not None for p in told) * 3 >= len(told)
        without = [self._time(p)[2] for p in told]
        labels.learn(_LABEL_THEN_TIME.sub(r"\1: ", text, count=1) if self._parted(text) else text for text in without)

    def _time(self, text: str) -> tuple[int | None, int | None, str]:
        found = _BRACKETED.match(text)
        bare = _BARE.match(text) if found is None else None
        if bare is not None and (self.bare or bare[2] or bare.end() == len(text)):
            found = bare
        start_ms = clock_ms(found[1]) if found is not None else None
        if found is None or start_ms is None:
            return None, None, text
        return start_ms, clock_ms(found[2]) if found[2] else None, text[found.end() :]

    def _parted(self, text: str) -> re.Match[str] | None:
        """A label with its time behind it: “Ada Marl (0:12):”, or alone on its line."""
        found = _LABEL_THEN_TIME.match(text)
        return found if found is not None and (found[3] or len(found[1].split()) <= 4) else None

    def heading(self, text: str) -> _Heading:
        """Time, speaker and words of one line."""
        start_ms, end_ms, rest = self._time(text)
        both = self._parted(rest) if start_ms is None else None
        if both is not None and (at := clock_ms(both[2])) is not None and self.labels.parted(f"{both[1]}: ")[0]:
            return _Heading(at, None, label_of(both[1]), rest[both.end() :])
        label, rest = self.labels.parted(rest)
        if label and start_ms is None:
            start_ms, end_ms, rest = self._time(rest)
        return _Heading(start_ms, end_ms, label, rest)


def read_lines(paragraphs: Sequence[tuple[str, bool]], labels: Labels, kind: str) -> Script:
    """Paragraphs (text, begins a new one) as a script; a line that is no new paragraph and has no heading goes on with the last."""
    reader = _Reader([text for text, _ in paragraphs], labels)
    lines: list[Line] = []
    held = _Heading()  # a time or a speaker on a line of its own counts for what comes
    speaker, anew = "", True
    for n, (text, new) in enumerate(paragraphs, 1):
        if not text.strip() or (not lines and text.startswith(_REMARK)):
            anew = True
            continue
        head = reader.heading(text)
        anew = anew or new or bool(head.speaker) or head.start_ms is not None
        speaker = head.speaker or speaker
        if head.start_ms is not None:
            held.start_ms, held.end_ms = head.start_ms, head.end_ms
        words = words_of(head.rest)
        if not words:
            continue
        if anew or not lines:
            lines.append(Line(words, speaker, held.start_ms, held.end_ms, place=f"line {n}"))
        else:
            last = lines[-1]
            lines[-1] = Line((*last.words, *words), last.speaker, last.start_ms, last.end_ms, place=last.place)
        held, anew = _Heading(), False
    return Script(kind, tuple(lines))


def read_plain(text: str, labels: Labels) -> Script:
    """Plain text as a script. Lines at its head that begin with # are remarks."""
    return read_lines([(line, False) for line in text.splitlines()], labels, "plain text")
