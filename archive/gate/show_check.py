"""The first door, for the sound check: problems and levels of what a viewer may hear, and of nothing else."""

from __future__ import annotations

from archive.db import recordings
from archive.domain import soundcheck
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, ShownSoundCheck
from archive.domain.masking import merge
from archive.domain.values import Viewer, Way
from archive.gate.heard import rest
from archive.gate.reading import Reading, Readings
from archive.gate.show import sees_names, show_title, unheard


def show_sound_check(readings: Readings, viewer: Viewer, recording_id: int) -> ShownSoundCheck | None:
    """The check of what this viewer may hear: neither places nor levels of closed speech and of names withheld from them are
    in it. None where nothing was measured, or nothing may be heard."""
    reading = readings.of(recording_id)
    measured = recordings.measurement_of(readings.connection, recording_id)
    playable = reading.open_pieces(viewer, TEAM, Way.VOICE)
    heard = rest(merge(unheard(reading, viewer, playable)), reading.row.duration_ms)
    if measured is None or not heard:
        return None
    ears = recordings.ears_of(readings.connection, recording_id)
    found = soundcheck.inside(soundcheck.problems_of(measured.flags, measured.damage), heard)
    speech = [[(s, e) for s, e in channel] for channel in measured.speech_ms]
    if ears and sees_names(viewer):
        found = (*_sides(reading, ears, speech), *found)
    figures = soundcheck.figures(ears, speech, heard) if ears else None
    return ShownSoundCheck(
        token=GATE_TOKEN, code=reading.row.code, title=show_title(readings, viewer, recording_id), problems=found, figures=figures,
        verdict=soundcheck.judge(figures, found, [soundcheck.shared(heard, c) for c in speech], measured.rate_hz) if figures else None,
    )  # fmt: skip


def _sides(
    reading: Reading, ears: tuple[bytes, ...], speech: list[list[tuple[int, int]]]
) -> list[soundcheck.Problem]:  # fmt: skip
    """The question whether left and right were swapped, for who knows who sat where."""
    left, right = (reading.roles.get(p, "") for p in (reading.row.left_person_id, reading.row.right_person_id))
    asked = soundcheck.perhaps_swapped(ears, speech, left, right)
    return [asked] if asked is not None else []
