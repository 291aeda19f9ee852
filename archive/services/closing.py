"""What our own computer made of speech goes when a newer answer closes that speech."""

from __future__ import annotations

from archive.db import likeness, recordings, themes, vectors
from archive.db.session import Connection
from archive.gate import custody
from archive.services.rooms import Rooms


def forget_what_closed(connection: Connection, rooms: Rooms) -> None:
    """Forget what was heard of voices, learned of themes and made of meaning wherever that may not be today. Called in the transaction of
    whatever changed who allows what."""
    for recording_id in likeness.recordings_with(connection):
        length_ms = recordings.by_id(connection, recording_id).duration_ms
        if not custody.machine_may(connection, recording_id, 0, length_ms, rooms.context()).allowed:
            likeness.forget(connection, [recording_id])
    themes.forget_taught(connection, [r.id for r in recordings.everything(connection)])
    vectors.forget_closed(connection, vectors.open_to(connection, rooms.today(), rooms.options.exhibition, rooms.options.cooling_off_days))
