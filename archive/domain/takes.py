"""Which files of a card belong together: parts of one take, and microphones beside each other. Pure.

Names alone prove nothing: cards repeat them. A part is sure only where name, form, the recorder's own clock and the sound
agree; what is less is said to a person and not acted upon.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

CLOCK_MS = 2_000  # clocks in files have whole seconds, and FAT's times of files steps of two
COUNTED_MS = 2  # where the start is counted in samples
FILE_TIME_MS = 4_000
LONG_MS = 60_000  # a shorter file says nothing by the time it was closed at
SAME_LENGTH_MS = 40
# How recorders mark the channel in a name (common practice, no source): Tr1, CH02, mic-1, _L, -right
_MARK = re.compile(r"(?i)(?<![a-z])(?:(?P<word>track|tr|channel|chan|ch|mic|input|in)[ _-]?(?P<number>\d{1,2})|(?P<side>left|right|l|r))(?![a-z0-9])")


@dataclass(frozen=True, slots=True)
class Came:
    """One file as far as its neighbours are told by it. Times in ms; `started_ms` is on the recorder's own clock."""

    name: str
    form: tuple[str, int, int | None, int]  # codec, rate in Hz, bit depth, channels
    duration_ms: int
    started_ms: int | None = None
    counted: bool = False  # `started_ms` is counted in samples
    closed_ms: int | None = None


class Agree(StrEnum):
    """What time stamps say about two files."""

    YES = "yes"
    MAYBE = "maybe"  # only the times at which the files were closed say so
    OPEN = "open"
    NO = "no"


class Tie(StrEnum):
    """How a file belongs to another."""

    GOES_ON = "goes on"
    BESIDE = "beside"


def next_by_name(first: str, second: str) -> bool:
    """Whether a name is the next after another: one number in it (or a last letter) is higher by one, the rest the same."""
    a, b = _stem(first), _stem(second)
    if a[1] != b[1] or (_mark(a[0]) != _mark(b[0])):
        return False
    left, right = re.split(r"(\d+)", a[0]), re.split(r"(\d+)", b[0])
    if len(left) == len(right):
        differ = [n for n, pair in enumerate(zip(left, right, strict=True)) if pair[0] != pair[1]]
        if len(differ) == 1 and differ[0] % 2:
            return int(right[differ[0]]) == int(left[differ[0]]) + 1
    letters = a[0][-1:] + b[0][-1:]
    return a[0][:-1] == b[0][:-1] and len(letters) == 2 and letters.isascii() and letters.isalpha() and ord(letters[1]) == ord(letters[0]) + 1


def beside_by_name(first: str, second: str) -> bool:
    """Whether two names differ in the mark of the channel alone, the lower one (or the left) first."""
    a, b = _stem(first), _stem(second)
    marks = _mark(a[0]), _mark(b[0])
    if a[1] != b[1] or marks[0] is None or marks[1] is None:
        return False
    bare = [_MARK.sub("\0", text, count=1) for text in (a[0], b[0])]
    return bare[0] == bare[1] and marks[0][0] == marks[1][0] and marks[0][1] < marks[1][1]


def goes_on(first: Came, second: Came) -> Agree:
    """Whether the second starts when the first ends, by time stamps."""
    if first.started_ms is not None and second.started_ms is not None:
        apart = abs(second.started_ms - first.started_ms - first.duration_ms)
        return Agree.YES if apart <= (COUNTED_MS if first.counted and second.counted else CLOCK_MS) else Agree.NO
    if first.closed_ms is None or second.closed_ms is None or second.duration_ms < LONG_MS:
        return Agree.OPEN
    return Agree.MAYBE if abs(second.closed_ms - first.closed_ms - second.duration_ms) <= FILE_TIME_MS else Agree.OPEN


def at_once(first: Came, second: Came) -> Agree:
    """Whether both were recorded at the same time: same start, same length."""
    if abs(first.duration_ms - second.duration_ms) > SAME_LENGTH_MS:
        return Agree.NO
    if first.started_ms is not None and second.started_ms is not None:
        apart = abs(second.started_ms - first.started_ms)
        return Agree.YES if apart <= (COUNTED_MS if first.counted and second.counted else CLOCK_MS) else Agree.NO
    if first.closed_ms is not None and second.closed_ms is not None and abs(second.closed_ms - first.closed_ms) <= FILE_TIME_MS:
        return Agree.MAYBE
    return Agree.OPEN


def _stem(name: str) -> tuple[str, str]:
    stem, dot, extension = name.rpartition(".")
    return (stem, extension.lower()) if dot else (name, "")


def _mark(stem: str) -> tuple[str, int] | None:
    found = _MARK.search(stem)
    if found is None:
        return None
    if found["side"]:
        return "side", 1 if found["side"][0] in "lL" else 2
    return found["word"].lower(), int(found["number"])
