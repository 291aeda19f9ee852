"""What a quote would look like outside, and what would stand around it: shown where a person ticks it as heard."""

from __future__ import annotations

from dataclasses import dataclass

from archive.db import excerpts
from archive.domain.cleared import GATE_TOKEN, PlayStretch, ShownBeside, ShownLeaving
from archive.domain.hearing import Hearing
from archive.domain.phrases import told
from archive.domain.values import Role, Viewer, Way
from archive.gate.clear import Pinned, source_line
from archive.gate.reading import Readings
from archive.gate.show import TEAM, show_quote, show_tags, show_title

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


def hearing_of(pinned: Pinned, around: Around) -> Hearing:
    """Which ticks stand for this excerpt in its own use."""
    return pinned.hearing(pinned.row.use, around.margin_ms)


def show_leaving(readings: Readings, pinned: Pinned, around: Around) -> ShownLeaving | None:
    """A quote as it would leave for its own use, or None where this viewer may not read it today.

    Where a second person has to hear it, with what would stand around it.
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
    return ShownLeaving(
        token=GATE_TOKEN, words=pinned.shown_words(), attribution=pinned.attribution(), hidden=hidden,
        how_heard=pinned.how_heard(use), pieces=_to_hear(pinned, viewer), panel=row.panel,
        title=show_title(readings, OUTSIDE, row.recording_id) if hidden else "",
        source_line=source_line(reading.row.recorded_on, around.collection),
        places=tuple(dict.fromkeys(t.value for t in tags if t.kind == "place")),
        dates=tuple(dict.fromkeys(told(t.value) for t in tags if t.kind == "date")),
        beside=tuple(_beside(readings, pinned, viewer)) if hidden else (),
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


def _beside(readings: Readings, pinned: Pinned, viewer: Viewer) -> list[ShownBeside]:
    """Other quotes for the same use that a visitor would read together with this one."""
    mine = {p for p in pinned.speakers() if p is not None}
    hidden_here = pinned.people_hidden()
    panel = pinned.row.panel.casefold().strip()
    found = []
    for row in excerpts.chosen(readings.connection):
        if row.id == pinned.row.id or row.use != pinned.row.use:
            continue
        other = Pinned(readings, row)
        theirs, named = {p for p in other.speakers() if p is not None}, other.people_named()
        why = [
            words
            for words, true in (
                (SAME_PANEL, bool(panel) and row.panel.casefold().strip() == panel),
                (SAME_SPEAKER, bool(mine & theirs)),
                (OF_THEM, bool((hidden_here - mine) & (theirs | named) or hidden_here & mine & named - theirs)),
            )
            if true
        ]
        if why and show_quote(readings, viewer, row.recording_id, row.version_id, other.spans) is not None:
            found.append(
                ShownBeside(
                    token=GATE_TOKEN, code=row.code, why=", ".join(why), words=other.shown_words(), attribution=other.attribution()
                )
            )
    return found


def together(leaving: ShownLeaving) -> tuple[str, ...]:
    """What stands around a quote, in lines, for the question whether together they name somebody."""
    lines = [
        f"Panel: {leaving.panel or 'not said yet'}.", f"Under it: {leaving.attribution}. {leaving.source_line}",
        f"The recording's title, as it would be shown: {leaving.title or 'none'}.",
        f"Places in it: {'; '.join(leaving.places) or 'none noted'}.", f"Dates in it: {'; '.join(leaving.dates) or 'none noted'}.",
    ]  # fmt: skip
    lines += [f"{other.code}, {other.why}: “{other.words}” ({other.attribution})" for other in leaving.beside]
    return (*lines, *(() if leaving.beside else ("No other quote for this use stands beside it.",)))
