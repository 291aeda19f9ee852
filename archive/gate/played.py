"""The first door, for sound as it would leave: what a person listens to before they tick is what the clip would have."""

from __future__ import annotations

from typing import Any

from archive.db import recordings
from archive.db.session import Row
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, ClearedCaption, ClearedClip, PlayStretch
from archive.domain.values import Viewer, Way
from archive.errors import NotFound, Refused
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.gate.voices import DISGUISED, voice_key


def play_leaving(readings: Readings, viewer: Viewer, row: Row[Any], start_ms: int, end_ms: int, margin_ms: int) -> ClearedClip:
    """The piece of an excerpt's clip that this stretch lies in: its own mutes and hushed edges, and the voice it has for its use.

    Where the clip plays a little more than this viewer may hear, the words alone. Where another person reads, or no voice
    leaves, it is the speaker's own, muted: the words are heard against the sound. Raises NotFound, Refused.
    """
    pinned = Pinned(readings, row)
    open_pieces = pinned.today.open_pieces(viewer, TEAM, Way.VOICE)
    pieces = [*pinned.pieces(), *(stretch for stretch, _ in pinned.parts())]
    inside = [(s, e) for s, e in pieces if s <= start_ms < end_ms <= e]
    if not inside:
        raise NotFound("There is no such stretch to play.", "Load the page again: the excerpt plays otherwise now.")
    piece = next((p for p in inside if any(s <= p[0] and p[1] <= e for s, e in open_pieces)), None)
    if piece is None:
        raise Refused("This stretch is not open for you to hear.", (), "What may be heard is marked on the recording's page.")
    master = recordings.master_of(readings.connection, row.recording_id)
    mutes = [(max(s, piece[0]), min(e, piece[1])) for s, e in pinned.muted(margin_ms) if s < piece[1] and piece[0] < e]
    return ClearedClip(
        token=GATE_TOKEN, item=0, master_sha256=master.sha256, extension=master.extension, channels=(),
        pieces=(PlayStretch(*piece),), mutes=tuple(PlayStretch(s, e) for s, e in mutes),
        caption=ClearedCaption(token=GATE_TOKEN, item=0, speaker="", words=(), draft=True), draft=True,
        disguised=pinned.how_heard(row.use) == DISGUISED, voice=voice_key(pinned.decide(row.use, Way.VOICE)),
    )  # fmt: skip
