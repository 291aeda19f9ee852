"""What a quote would look like outside, and what would stand around it: shown where a person ticks it as heard."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from archive.db import excerpts
from archive.db.session import Row
from archive.domain import reasons as say
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, PlayStretch, ShownBeside, ShownLeaving
from archive.domain.hearing import Hearing, standing
from archive.domain.phrases import many, told
from archive.domain.values import Role, Viewer, Way
from archive.gate.pinned import Pinned, source_line
from archive.gate.reading import Readings
from archive.gate.show import show_quote, show_tags, show_title, show_told_of

MOST_BESIDE = 12  # more are counted: a person reads these before they answer
OUTSIDE = Viewer("", Role.READER)  # a title is shown as somebody reads it who may know no hidden name
OF_THE_TEAM = Viewer("", Role.EDITOR)  # what stands around a quote is the same for everybody who may tick
HOLD_BACK = "rejected"
SAME_PANEL = "on the same panel"
SAME_SPEAKER = "by the same speaker"
QUESTION = "Together, do these name her or him?"
OF_THEM = "about somebody whose name is hidden here"
NONE_BESIDE = "No other quote for this use stands beside it."


class Neighbour:
    """A chosen excerpt, with what is asked of it beside every other one, each read once."""

    def __init__(self, readings: Readings, row: Row[Any]) -> None:
        self._readings, self._row = readings, row
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
        """Its words and the line under it, as they would leave; None where the team may not read it."""
        row = self._row
        if show_quote(self._readings, OF_THE_TEAM, row.recording_id, row.version_id, self._pinned.spans) is None:
            return None
        return self._pinned.leaves_as(), self._pinned.attribution()


@dataclass(frozen=True, slots=True)
class Around:
    """What is asked about every excerpt of a list: the archive's name, the margin of mutes (ms), every excerpt on the list."""

    collection: str
    margin_ms: int
    others: Sequence[Neighbour]


def around_all(readings: Readings, collection: str, margin_ms: int) -> Around:
    """The same for everything that is chosen today."""
    return Around(collection, margin_ms, [Neighbour(readings, row) for row in excerpts.chosen(readings.connection)])


def hearing_of(pinned: Pinned, use: str, around: Around) -> Hearing:
    """Which ticks stand for what is shown and heard for this use today. What stands around it was looked at for the
    excerpt's own use: a second tick is for no other."""
    row = pinned.row
    ticks = [t for t in excerpts.ticks(pinned.reading.connection, row.wording_sha256) if not t.second or use == row.use]
    hidden = pinned.hidden(use, around.margin_ms)
    seconds = any(t.second and t.excerpt_id == row.id for t in ticks)
    seen = marks(together(_leaving(pinned, OF_THE_TEAM, around))) if hidden and seconds else frozenset()
    return standing(ticks, row.id, pinned.shown_sha256(use, around.margin_ms), hidden, seen)


def draft_reason(pinned: Pinned, hearing: Hearing) -> str:
    """Why it leaves as a draft, in sentences; "" where it is final."""
    unchecked = pinned.translation is not None and not pinned.translation.final
    return " ".join(filter(None, (hearing.draft_reason, say.TRANSLATION_DRAFT if unchecked else "")))


def marks(lines: Sequence[str]) -> frozenset[str]:
    """A mark of each line of what stands around a quote, to see whether anything came or changed since."""
    return frozenset(hashlib.sha256(line.encode("utf-8", "surrogatepass")).hexdigest() for line in lines if line != NONE_BESIDE)


def show_leaving(readings: Readings, viewer: Viewer, pinned: Pinned, around: Around) -> ShownLeaving | None:
    """A quote as it would leave for its own use, or None where this viewer may not read it today.

    Where a second person has to hear it, with what would stand around it.
    """
    row = pinned.row
    if show_quote(readings, viewer, row.recording_id, row.version_id, pinned.spans) is None:
        return None
    return _leaving(pinned, viewer, around)


def _leaving(pinned: Pinned, viewer: Viewer, around: Around) -> ShownLeaving:
    row, reading = pinned.row, pinned.reading
    hidden = pinned.hidden(row.use, around.margin_ms)
    tags = [
        t
        for t in (show_tags(reading.readings, OF_THE_TEAM, row.recording_id) if hidden else ())
        if t.state != HOLD_BACK and any(t.start_ms < e and s < t.end_ms for (s, e), _ in pinned.parts())
    ]
    beside, more = _beside(pinned, around.others) if hidden else ([], 0)
    return ShownLeaving(
        token=GATE_TOKEN, words=pinned.shown_words(), attribution=pinned.attribution(), hidden=hidden,
        how_heard=pinned.how_heard(row.use), pieces=_to_hear(pinned, viewer), panel=row.panel,
        title=show_title(reading.readings, OUTSIDE, row.recording_id) if hidden else "",
        source_line=source_line(reading.row.recorded_on, around.collection), shows=row.shows, translated=pinned.translated_by(), dated=pinned.dated,
        translation=pinned.translation.text if pinned.translation is not None else "",
        translation_language=pinned.translation.language if pinned.translation is not None else "",
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


def dates_offered(readings: Readings, viewer: Viewer, pinned: Pinned) -> tuple[str, ...]:
    """Dates (EDTF) that may be noted after these words: on record, and not as they are told in them."""
    told_here = show_told_of(readings, viewer, pinned.row.recording_id, [stretch for stretch, _ in pinned.parts()])
    return tuple(dict.fromkeys(line.note for t in told_here for line in t.beside if line.note))


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
    return (*lines, *(() if leaving.beside else (NONE_BESIDE,)))
