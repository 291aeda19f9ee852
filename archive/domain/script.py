"""A transcript that somebody brings: its lines as they stand there, before they are put into a recording's time. Pure."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Line:
    """One speaker's words in a row. Times in ms, None where the script has none; they are as written, also where they
    run backwards. `at`: each word's own (start_ms, end_ms), or (). `place`: where it stands, for people ("cue 3")."""

    words: tuple[str, ...]
    speaker: str = ""
    start_ms: int | None = None
    end_ms: int | None = None
    at: tuple[tuple[int, int], ...] = ()
    place: str = ""


@dataclass(frozen=True, slots=True)
class Script:
    """A script as read. `kind`: the format in a person's words; `captions`: its lines are pieces of utterances, cut to be
    read on a screen; `notes`: what a person should know of the reading, in sentences."""

    kind: str
    lines: tuple[Line, ...]
    captions: bool = False
    notes: tuple[str, ...] = ()

    @property
    def timed(self) -> bool:
        """True where any line has a time."""
        return any(line.start_ms is not None for line in self.lines)

    @property
    def words(self) -> int:
        """How many words."""
        return sum(len(line.words) for line in self.lines)
