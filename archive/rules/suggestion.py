"""What a rule proposes, with its evidence. A suggestion stays one until a person decides. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from archive.domain.values import MIN_WORD_MS, Word


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One proposal for a stretch. `kind`: place, date or theme; `value`: place name, EDTF or theme name.

    `first_word`, `last_word`: indices in the words given, inclusive; `evidence`: those words as spoken; `reckoning`: how
    the value follows; `sure`: 0..1; `decades`: first years, empty where the value is only offered;
    `about`: of what a date is told, where that is on record as well (memory.py).
    """

    kind: str
    value: str
    first_word: int
    last_word: int
    start_ms: int
    end_ms: int
    evidence: str
    rule: str
    reckoning: str
    sure: float
    decades: tuple[int, ...] = ()
    about: str = ""
    taught_by: tuple[int, ...] = ()  # ids of recordings whose decided passages taught it; () where the rules alone say so


def suggest(
    kind: str,
    value: str,
    words: Sequence[Word],
    first: int,
    last: int,
    *,
    rule: str,
    reckoning: str = "",
    sure: float,
    decades: Sequence[int] = (),
    evidence: str = "",
    about: str = "",
) -> Suggestion:
    """A suggestion over words first..last (inclusive); its evidence are these words unless others are given."""
    run = words[first : last + 1]
    start_ms = min(w.start_ms for w in run)
    end_ms = max(max(w.end_ms for w in run), start_ms + MIN_WORD_MS)
    said = evidence or " ".join(w.text.strip() for w in run)
    return Suggestion(
        kind, value, first, last, start_ms, end_ms, said, rule, reckoning, round(sure, 2), tuple(decades), about
    )
