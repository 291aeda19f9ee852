"""What a find unit can be narrowed by beside its words and tags: how far its transcript has come, its language, how it sounds."""

from __future__ import annotations

from typing import Any

from archive.db import recordings, units
from archive.db.session import Row
from archive.db.units import UnitFacts
from archive.domain import soundcheck
from archive.domain.editing import least
from archive.domain.masking import merge
from archive.gate.heard import rest
from archive.gate.reading import Reading


def write_facts(reading: Reading, anew: bool = False) -> None:
    """Reckon it for the units of a recording. `anew`: the sound too where it was reckoned before, because it was measured again."""
    connection, recording_id = reading.connection, reading.recording_id
    found = units.units_of(connection, recording_id)
    sounds = _sounds(reading, [u for u in found if anew or not u.sound])
    units.write_facts(connection, recording_id, {u.id: UnitFacts(_state(reading, u), reading.languages.at(u.start_ms, u.end_ms), sounds.get(u.id, u.sound)) for u in found})


def _state(reading: Reading, unit: Row[Any]) -> str:
    said = [u.state for u in reading.overlapping(unit.start_ms, unit.end_ms) if any(unit.start_ms <= w.start_ms < unit.end_ms for w in u.words)]
    return least(said).value if said else ""


def _sounds(reading: Reading, wanted: list[Row[Any]]) -> dict[int, str]:
    """unit id → its fitness for a listening post, from what is heard there once the names withheld are muted; units of recordings that
    were never measured so are not in it."""
    measured = recordings.measurement_of(reading.connection, reading.recording_id) if wanted else None
    ears = recordings.ears_of(reading.connection, reading.recording_id) if measured is not None else ()
    if measured is None or not ears:
        return {}
    problems = soundcheck.problems_of(measured.flags, measured.damage)
    muted = rest(merge(reading.mutes()), reading.row.duration_ms) if reading.masks() else [(0, reading.row.duration_ms)]
    found = {}
    for unit in wanted:
        heard = soundcheck.shared([(unit.start_ms, unit.end_ms)], muted)
        near = [[(s, e) for s, e in channel if s < unit.end_ms and unit.start_ms < e] for channel in measured.speech_ms]
        figures = soundcheck.figures(ears, near, heard)
        inside = soundcheck.inside(problems, heard)
        found[unit.id] = soundcheck.judge(figures, inside, [soundcheck.shared(heard, c) for c in near], measured.rate_hz).fit.value
    return found
