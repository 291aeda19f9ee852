"""Faults that a recorder or a program left, on sounds made with each of them; the real recordings are asked in test_sound_check.py.

Limits are project choices (audio/faults.py).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.audio import sounds
from tests.audio.test_sound_check import FORMATS, at_rate, check, near, places, reading

__all__ = ["reading"]
RATE = 48_000


# -- a piece written twice ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("rate", "subtype", "ms"), [(*f, ms) for f, ms in zip(FORMATS, (21, 93, 400, 93), strict=True)])
def test_a_buffer_written_twice(tmp_path: Path, reading: np.ndarray, rate: int, subtype: str, ms: int) -> None:
    """The same samples once more right after themselves, inside speech; where the second of the two stands is said."""
    sound = at_rate(reading, rate)
    length, made, parts, done = rate * ms // 1000, [], [], 0
    for second in (2, 5):
        end = second * rate + int(np.argmax(np.abs(sound[second * rate : (second + 1) * rate])))
        parts += [sound[done:end], sound[end - length : end]]
        made.append(((end + len(made) * length) * 1000 // rate, (end + (len(made) + 1) * length) * 1000 // rate))
        done = end
    found = check(sounds.write(tmp_path / "a.wav", np.concatenate([*parts, sound[done:]]), rate, subtype), deaf=True)
    assert near(places(found, "repeated"), made, 5)


def test_on_both_sides_it_is_said_once(tmp_path: Path, reading: np.ndarray) -> None:
    both = np.stack([reading, np.roll(reading, 4_000) * np.float32(0.6)], axis=0)
    twice = np.concatenate([both[:, :120_000], both[:, 115_000:]], axis=1)
    found = [f for f in check(sounds.write(tmp_path / "a.wav", twice), deaf=True).flags if f[0] == "repeated"]
    assert len(found) == 1 and "channel" not in found[0][3]


@pytest.mark.parametrize("what", ["tone", "mains", "silence", "held", "coarse"])
def test_what_repeats_itself_by_nature_is_no_fault(tmp_path: Path, reading: np.ndarray, what: str) -> None:
    """A tone whose period is a whole number of samples, digital silence between words, a sample held, eight bits."""
    sound, subtype = reading.copy(), "PCM_16"
    if what in ("tone", "mains"):
        sound = sounds.sine(1_000 if what == "tone" else 50, 8, -12)
    elif what == "coarse":
        sound, subtype = sound * np.float32(0.2), "PCM_U8"
    else:
        sound[2 * RATE : 3 * RATE] = 0 if what == "silence" else 0.2
    assert places(check(sounds.write(tmp_path / "a.wav", sound, subtype=subtype), deaf=True), "repeated") == []


# -- cut off, and turned down later ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(("rate", "subtype", "down"), [(*f, down) for f, down in zip(FORMATS, (0.9, 0.06, 0.4, 0.4), strict=True)])
def test_clipping_that_was_turned_down(tmp_path: Path, reading: np.ndarray, rate: int, subtype: str, down: float) -> None:
    sound = at_rate(reading, rate)
    loud = slice(3 * rate, 5 * rate)
    sound[loud] = np.clip(sound[loud] * 12, -1, 1)
    true = np.flatnonzero(np.abs(sound) >= 1)
    found = check(sounds.write(tmp_path / "a.wav", sound * np.float32(down), rate, subtype), deaf=True)
    told = places(found, "clipped")
    assert told and abs(told[0][0] - true[0] * 1000 / rate) <= 100 and abs(told[-1][1] - true[-1] * 1000 / rate) <= 100
    assert all("turned down later" in words for code, *_, words in found.flags if code == "clipped")


def test_one_side_of_zero_is_enough(tmp_path: Path, reading: np.ndarray) -> None:
    """Amplifiers often cut off one side alone."""
    sound = np.minimum(reading * 6, 1) * np.float32(0.3)
    assert places(check(sounds.write(tmp_path / "a.wav", sound), deaf=True), "clipped")


@pytest.mark.parametrize("hz", [30, 50, 440, 1_000])
def test_a_tone_is_round_at_its_top(tmp_path: Path, hz: float) -> None:
    assert places(check(sounds.write(tmp_path / "a.wav", sounds.sine(hz, 6, -10)), deaf=True), "clipped") == []


@pytest.mark.parametrize(("level", "subtype"), [(0.9, "PCM_16"), (0.02, "PCM_16"), (0.9, "PCM_U8"), (0.3, "PCM_24")])
def test_a_voice_made_louder_or_softer_is_not_cut_off(tmp_path: Path, reading: np.ndarray, level: float, subtype: str) -> None:
    sound = reading * np.float32(level / np.abs(reading).max())
    assert places(check(sounds.write(tmp_path / "a.wav", sound, subtype=subtype), deaf=True), "clipped") == []


# -- sound that is gone ---------------------------------------------------------------------------------------------------
def talk(reading: np.ndarray, times: int) -> np.ndarray:
    """The reading again and again over a room's hiss."""
    return np.tile(reading, times) + sounds.noise(len(reading) * times / RATE, -66)


@pytest.mark.parametrize(("part", "left"), [((12, 33), 0.0), ((0, 14), 1e-5), ((8, 21), 0.0)])
def test_a_side_that_gives_nothing_for_a_part(tmp_path: Path, reading: np.ndarray, part: tuple[int, int], left: float) -> None:
    """It dies, is switched on late, or its plug is loose for a while: exact zeros, or the hiss of an input without a microphone."""
    first, second = talk(reading, 3), np.roll(talk(reading, 3), 30_000) * np.float32(0.7)
    start, end = part[0] * RATE, min(part[1] * RATE, len(second))
    hiss = np.random.default_rng(4).standard_normal(end - start) * left
    second[start:end] = hiss
    found = check(sounds.write(tmp_path / "a.wav", np.stack([first, second], axis=0), subtype="PCM_24"), deaf=True)
    assert near(places(found, "gone"), [(part[0] * 1000, end * 1000 // RATE)], 150)
    assert [w for c, *_, w in found.flags if c == "gone"][0].startswith("Channel 2")


def test_a_recording_that_dies(tmp_path: Path, reading: np.ndarray) -> None:
    sound = talk(reading, 3)
    sound[20 * RATE :] = 0
    found = check(sounds.write(tmp_path / "a.wav", sound), deaf=True)
    assert near(places(found, "gone"), [(20_000, len(sound) * 1000 // RATE)], 150)
    assert "Channel" not in [w for c, *_, w in found.flags if c == "gone"][0]


@pytest.mark.parametrize("how", ["pause", "gated", "short"])
def test_a_pause_is_no_sound_that_is_gone(tmp_path: Path, reading: np.ndarray, how: str) -> None:
    """Nobody speaks for a quarter of a minute; a recorder closes its gate between all words; a moment of nothing."""
    sound = talk(reading, 3)
    if how == "pause":
        sound[10 * RATE : 25 * RATE] = sounds.noise(15, -66)
    elif how == "gated":
        loud = np.convolve(np.abs(sound) > 0.01, np.ones(2_400), "same") > 0
        sound *= loud
        sound[20 * RATE :] = 0
    else:
        sound[10 * RATE : 15 * RATE] = 0
    assert places(check(sounds.write(tmp_path / "a.wav", sound), deaf=True), "gone") == []
