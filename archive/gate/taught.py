"""What decisions about themes may teach: passages in the words that all of the team may read today, and whose themes somebody decided.

Nothing of it is kept: it is read anew whenever it is needed, so that a withdrawal, a seal or a mask reaches it at once. What is learned
of it is shown to keepers and editors; where it led to a suggestion, the recordings that taught it are kept by their ids
(`db/themes.forget_taught`).
"""

from __future__ import annotations

from collections.abc import Set
from functools import lru_cache
from typing import Any

from archive.db import recordings, themes
from archive.db.session import Row
from archive.db.themes import Condition
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, ShownGroup, ShownTaught
from archive.domain.marks import spoken
from archive.domain.masking import mask_words
from archive.domain.values import Role, Stretch, Viewer, Way
from archive.gate.custody import may_listen
from archive.gate.reading import Reading, Readings
from archive.gate.show import show_hits
from archive.rules.analysis import BOUNDARY, Or, Term, analyse
from archive.rules.grouping import Lexical, groups
from archive.rules.learned import Decided, TaughtTheme

MOST_DECISIONS = 1200  # the newest: each passage is read anew, and whoever ends a sitting at the desk waits for it
_ANYBODY = Viewer("machine", Role.READER)


def decided_passages(readings: Readings) -> list[Decided]:
    """Passages with decided themes, in order. Left out: a decision whose evidence is closed to anybody of the team, what our own computer
    may not hear, closed and masked words, and every word of a name on record."""
    rows = themes.decided(readings.connection, MOST_DECISIONS)
    near = readings.near(Stretch(r.recording_id, r.from_ms, r.until_ms) for r in rows)
    names = _names(readings)
    states: dict[tuple[int, int, int], dict[str, set[str]]] = {}
    for row in rows:
        reading, stretch = near[row.recording_id], (row.start_ms, row.end_ms)
        if reading.judge(stretch, reading.people_in(*stretch), TEAM, Way.WORDS, _ANYBODY).allowed:
            key = (row.recording_id, row.from_ms, row.until_ms)
            states.setdefault(key, {}).setdefault(row.state, set()).add(row.value)
    found = []
    for (recording_id, start_ms, end_ms), by_state in states.items():
        reading = near[recording_id]
        if may_listen(reading, start_ms, end_ms):
            yes, no = frozenset(by_state.get("confirmed", ())), frozenset(by_state.get("rejected", ()))
            said = _words(reading, start_ms, end_ms, names)
            found.append(Decided(recording_id, reading.row.interview_id or -recording_id, start_ms, said, yes, no - yes))
    return found


def _words(reading: Reading, start_ms: int, end_ms: int, names: Set[str]) -> dict[str, str]:
    """stem → as it is spoken here, of what a reader may read."""
    found: dict[str, str] = {}
    for utterance in reading.overlapping(start_ms, end_ms):
        for run in reading.runs(utterance, _ANYBODY):
            inside = [w for w in run.words if start_ms <= w.start_ms < end_ms]
            if not inside:
                continue
            masks = reading.masks_in(inside[0].start_ms, max(w.end_ms for w in inside))
            for token in mask_words(inside, masks):
                for exact, stemmed in _tokens(token.text) if not token.masked else ():
                    if exact not in names:
                        found.setdefault(stemmed, exact)
    return found


@lru_cache(maxsize=50_000)  # the same words come again and again
def _tokens(text: str) -> tuple[tuple[str, str], ...]:
    """(as spoken, stem) of one word."""
    said = analyse(spoken(text))
    return tuple(zip(said.exact, said.stem, strict=True))


def show_taught(readings: Readings, taught: TaughtTheme) -> tuple[ShownTaught, ...]:
    """The words that decisions taught about one theme, each with the passages that hold it: open to all of the team, as they were read."""
    codes = recordings.codes_of(readings.connection, [p.recording_id for w in taught.words for p in w.passages])
    return tuple(
        ShownTaught(
            token=GATE_TOKEN, spoken=w.spoken, speaks_for=w.weight > 0, here=w.here, all_here=w.all_here, there=w.there, all_there=w.all_there,
            passages=tuple((codes[p.recording_id], p.start_ms) for p in w.passages), off=w.off,
        )
        for w in taught.words
    )  # fmt: skip


def show_undescribed(readings: Readings, viewer: Viewer, visible: Condition, most: int, shown: int) -> tuple[tuple[ShownGroup, ...], int]:
    """What passages share that no theme describes, of the `most` newest that are `visible`, each group with the first `shown` of them; and
    how many such passages there are. Their words are those that readers search: nothing masked, and no name on record."""
    names = _names(readings)
    rows, number = themes.undescribed(readings.connection, visible, most)
    beside = themes.described(readings.connection, visible, most)
    found = groups([_lexical(r, names) for r in rows], (_lexical(r, names) for r in beside))
    at = {r.id: Stretch(r.recording_id, r.start_ms, r.end_ms) for r in rows}
    return tuple(
        ShownGroup(
            token=GATE_TOKEN, words=tuple(spoken for _, spoken in group.words), number=len(group.keys),
            hits=show_hits(readings, viewer, [(key, at[key]) for key in group.keys[:shown]], Or(tuple(Term(s, t) for t, s in group.words)), (), {}),
        )
        for group in found
    ), number  # fmt: skip


def _lexical(row: Row[Any], names: Set[str]) -> Lexical:
    pairs = zip(row.shown_exact.split(), row.shown_stem.split(), strict=True)
    return Lexical(row.id, row.recording_id, {stem: exact for exact, stem in pairs if exact != BOUNDARY and exact not in names})


def _names(readings: Readings) -> Set[str]:
    """Every word of a name on record."""
    return {token for known in readings.names.values() for name in known for token in analyse(name.text).exact}
