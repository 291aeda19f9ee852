"""Typed words put to the sound: which words of a line have no time of their own from a hearing, and the line with other times.

A part of the first door (whose line it is was asked) and of the third: the sound goes to our own computer, which is asked about too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from archive.db import sittings, words
from archive.domain.aligning import compared
from archive.domain.consent import told
from archive.domain.editing import Change, Line, place_of, placed
from archive.domain.values import Role, Viewer
from archive.errors import Refused
from archive.gate.custody import machine_may
from archive.gate.reading import Readings
from archive.gate.typing import kept, must_be_open, with_words


@dataclass(frozen=True, slots=True)
class ToFit:
    """A line with its words, and the numbers of those whose times no hearing gave."""

    line: Line
    which: frozenset[int]


def lines_to_fit(readings: Readings, viewer: Viewer, recording_id: int, lines: Sequence[Line], keys: Sequence[int]) -> list[ToFit]:
    """These lines, as they stand now, which follow each other or not. Raises Clash where one is not there any more, Refused where
    one is not this viewer's to read or our own computer may not listen to it."""
    some = [lines[place_of(lines, [key])] for key in keys]
    whole = with_words(readings, some)
    must_be_open(readings, viewer, recording_id, whole)
    for line in whole:
        decision = machine_may(readings.connection, recording_id, line.start_ms, line.end_ms, readings.context)
        if not decision.allowed:
            raise Refused("Our own computer may not listen here.", told(decision.reasons, Role.EDITOR), "The times stay as they are.")
    hearings = [v.id for v in sittings.versions_of(readings.connection, recording_id) if v.kind == "machine"]
    stretches = [(n.start_ms, n.end_ms) for n in whole]
    found = words.utterances_near(readings.connection, dict.fromkeys(hearings, stretches)) if hearings else {}
    heard = {(compared(w.text), w.start_ms, w.end_ms) for said in found.values() for u in said for w in u.words}
    return [
        ToFit(line, frozenset(n for n, w in enumerate(line.words) if (compared(w.text), w.start_ms, w.end_ms) not in heard))
        for line in whole
    ]


def fitted_change(readings: Readings, lines: Sequence[Line], asked: ToFit, found: Sequence[tuple[int, int] | None]) -> Change | None:
    """The change that gives a line the times that were found (ms); None where none is another. Raises Clash where it is not there any more."""
    line = asked.line
    first = place_of(lines, [line.key])
    made = placed(line.words, asked.which, found, line.start_ms, line.end_ms)
    if made == line.words:
        return None
    new = replace(line, key=0, words=made, start_ms=made[0].start_ms, end_ms=max(w.end_ms for w in made))
    return kept(readings, Change((line,), (new,), lines[first - 1].key if first else 0))
