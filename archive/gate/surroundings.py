"""What a quote would look like outside, and what would stand around it: shown where a person ticks it as heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from archive.db import excerpts
from archive.db.session import Row
from archive.domain.cleared import GATE_TOKEN, PlayStretch, ShownBeside, ShownLeaving
from archive.domain.hearing import Hearing
from archive.domain.phrases import many, told
from archive.domain.values import Role, Viewer, Way
from archive.gate.pinned import Pinned, source_line
from archive.gate.reading import Readings
from archive.gate.show import TEAM, show_quote, show_tags, show_title

MOST_BESIDE = 12  # more are counted: a person reads these before they answer
OUTSIDE = Viewer("", Role.READER)  # a title is shown as somebody reads it who may know no hidden name
HOLD_BACK = "rejected"
SAME_PANEL = "on the same panel"
SAME_SPEAKER = "by the same speaker"
QUESTION = "Together, do these name her or him?"
OF_THEM = "about somebody whose name is hidden here"


@dataclass(frozen=True, slots=True)
class Around:
    """What is asked about every excerpt of a list: the viewer, the archive's name, the margin of mutes (ms)."""

    viewer: Viewer
    collection: str
    margin_ms: int


class Neighbour:
    """A chosen excerpt, with what is asked of it beside every other one, each read once."""

    def __init__(self, readings: Readings, viewer: Viewer, row: Row[Any]) -> None:
        self._readings, self._viewer, self._row = readings, viewer, row
        self.id, self.code, self.use, self.panel = int(row.id), str(row.code), str(row.use), str(row.panel).casefold().strip()

    @cached_property
    def _pinned(self) -> Pinned:
        return Pinned(self._readings, self._row)

    @cached_property
    def speakers(self) -> frozenset[int]:
        """Who speaks in it, as far as somebody is assigned."""
        return frozenset(p for p in self._pinned.speakers() if p is not None)

    @cached_property
    def named(self) -> frozenset[int]:
        """Whoever on record is named or pointed to in it."""
        return frozenset(self._pinned.people_named())

    @cached_property
    def told(self) -> tuple[str, str] | None:
        """Its words and the line under it, as they would leave; None where this viewer may not read it."""
        row = self._row
        if show_quote(self._readings, self._viewer, row.recording_id, row.version_id, self._pinned.spans) is None:
            return None
        return self._pinned.shown_words(), self._pinned.attribution()


def neighbours(readings: Readings, viewer: Viewer) -> list[Neighbour]:
    """Every excerpt on the list."""
    return [Neighbour(readings, viewer, row) for row in excerpts.chosen(readings.connection)]


def hearing_of(pinned: Pinned, around: Around) -> Hearing:
    """Which ticks stand for this excerpt in its own use."""
    return pinned.hearing(pinned.row.use, around.margin_ms)


def show_leaving(readings: Readings, pinned: Pinned, around: Around, others: Sequence[Neighbour]) -> ShownLeaving | None:
    """A quote as it would leave for its own use, or None where this viewer may not read it today.

    Where a second person has to hear it, with what would stand around it (of `others`).
    """
    row, viewer = pinned.row, around.viewer
    if show_quote(readings, viewer, row.recording_id, row.version_id, pinned.spans) is None:
        return None
    use = row.use
    hidden = pinned.hidden(use, around.margin_ms)
    reading = pinned.reading
    tags = [
        t
        for t in (show_tags(readings, viewer, row.recording_id) if hidden else ())
        if t.state != HOLD_BACK and any(t.start_ms < e and s < t.end_ms for (s, e), _ in pinned.parts())
    ]
    beside, more = _beside(pinned, others) if hidden else ([], 0)
    return ShownLeaving(
        token=GATE_TOKEN, words=pinned.shown_words(), attribution=pinned.attribution(), hidden=hidden,
        how_heard=pinned.how_heard(use), pieces=_to_hear(pinned, viewer), panel=row.panel,
        title=show_title(readings, OUTSIDE, row.recording_id) if hidden else "",
        source_line=source_line(reading.row.recorded_on, around.collection),
        places=tuple(dict.fromkeys(t.value for t in tags if t.kind == "place")),
        dates=tuple(dict.fromkeys(told(t.value) for t in tags if t.kind == "date")),
        beside=tuple(beside), more=more,
    )  # fmt: skip


def _to_hear(pinned: Pinned, viewer: Viewer) -> tuple[PlayStretch, ...]:
    """The clip's own stretches; without what lies around the words where that is closed to this viewer."""
    open_pieces = pinned.today.open_pieces(viewer, TEAM, Way.VOICE)

    def is_open(start_ms: int, end_ms: int) -> bool:
        return any(s <= start_ms and end_ms <= e for s, e in open_pieces)

    pieces = pinned.pieces()
    if not all(is_open(*piece) for piece in pieces):
        pieces = [stretch for stretch, _ in pinned.parts()]
    return tuple(PlayStretch(s, e) for s, e in pieces)


def _beside(pinned: Pinned, others: Sequence[Neighbour]) -> tuple[list[ShownBeside], int]:
    """Other quotes for the same use that a visitor would read together with this one, those on its panel first; and how
    many more there are."""
    mine = {p for p in pinned.speakers() if p is not None}
    hidden_here = pinned.people_hidden()
    panel = pinned.row.panel.casefold().strip()
    found: list[tuple[bool, Neighbour, str]] = []
    for other in others:
        if other.id == pinned.row.id or other.use != pinned.row.use:
            continue
        why = {
            SAME_PANEL: bool(panel) and other.panel == panel,
            SAME_SPEAKER: bool(mine & other.speakers),
            OF_THEM: bool((hidden_here - mine) & (other.speakers | other.named) or hidden_here & mine & other.named - other.speakers),
        }
        if any(why.values()):
            found.append((not why[SAME_PANEL], other, ", ".join(words for words, true in why.items() if true)))
    found.sort(key=lambda each: each[0])
    told = [(other, words, other.told) for _, other, words in found[:MOST_BESIDE]]
    shown = [
        ShownBeside(token=GATE_TOKEN, code=other.code, why=words, words=said[0], attribution=said[1])
        for other, words, said in told
        if said is not None
    ]
    return shown, len(found[MOST_BESIDE:])


def together(leaving: ShownLeaving) -> tuple[str, ...]:
    """What stands around a quote, in lines, for the question whether together they name somebody."""
    lines = [
        f"Panel: {leaving.panel or 'not said yet'}.", f"Under it: {leaving.attribution}. {leaving.source_line}",
        f"The recording's title, as it would be shown: {leaving.title or 'none'}.",
        f"Places in it: {'; '.join(leaving.places) or 'none noted'}.", f"Dates in it: {'; '.join(leaving.dates) or 'none noted'}.",
    ]  # fmt: skip
    lines += [f"{other.code}, {other.why}: “{other.words}” ({other.attribution})" for other in leaving.beside]
    if leaving.more:
        lines.append(f"And {many(leaving.more, 'more quote')} by the same speaker, about the same person or on the same panel: see the list.")
    return (*lines, *(() if leaving.beside else ("No other quote for this use stands beside it.",)))
