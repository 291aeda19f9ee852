"""Quality flags on sounds with known faults, and silence about sounds without (limits: common practice, no source)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from archive.audio.measure import Measured, measure
from archive.audio.probe import Caps
from archive.audio.quality import DropoutFinder, Runs
from archive.speech.vad import VoiceActivity
from tests.audio import sounds
from tests.needs import real_speech


def flags_of(path: Path) -> list[tuple[str, int | None, int | None, str]]:
    return measure(path, Caps(), VoiceActivity).flags


def codes(path: Path) -> set[str]:
    return {code for code, _, _, _ in flags_of(path)}


@pytest.fixture(scope="module")
def talk() -> np.ndarray:
    """Real speech, 24 s, 48 kHz: five readings one after the other (LibriVox, public domain [memory])."""
    from archive.audio.decode import pcm

    parts = []
    for path in sorted(real_speech().glob("librivox-*.wav")):
        parts.append(pcm(path, 0, int(path.stat().st_size / 32) - 2, rate_hz=48_000))
    return np.concatenate(parts)


def test_a_clean_voice_has_no_flags(tmp_path: Path, talk: np.ndarray) -> None:
    assert codes(sounds.write(tmp_path / "a.wav", talk)) == set()
    assert codes(sounds.write(tmp_path / "b.wav", sounds.voicelike(20))) == set()


@pytest.mark.parametrize(
    "name", ["mary.wav", "bobby.wav", "librivox-0870.wav", "librivox-0880.wav", "librivox-0890.wav", "librivox-0920.wav",
             "librivox-0930.wav", "multilingual.mp3", "stereo_diarization.wav"],
)  # fmt: skip
def test_no_false_alarm_on_real_speech(name: str) -> None:
    assert codes(real_speech() / name) <= {"dc_offset"}


def test_hum_that_is_really_there() -> None:
    """jfk.flac was recorded with mains hum in 1961: its pauses show lines at 120, 180, 240 and 300 Hz, 20 to 30 dB over
    their neighbours (seen in its spectrum; both channels carry the same)."""
    assert {"hum_60", "same_channels"} >= codes(real_speech() / "jfk.flac") >= {"hum_60"}


@pytest.mark.parametrize("base", [50, 60])
@pytest.mark.parametrize("harmonics", [(1, 2, 3), (2, 4, 6), (1, 3)])
def test_hum_under_a_voice(tmp_path: Path, talk: np.ndarray, base: int, harmonics: tuple[int, ...]) -> None:
    hum = sum(
        sounds.sine(base * k * 1.0005, len(talk) / 48_000, -38 - 3 * n)[: len(talk)] for n, k in enumerate(harmonics)
    )
    assert codes(sounds.write(tmp_path / "a.wav", talk + hum)) == {f"hum_{base}"}


def test_a_deep_steady_voice_is_no_hum(tmp_path: Path) -> None:
    """Pitch wandering by a few Hz round 100 and round 120 Hz, for a minute."""
    for pitch in (100, 120):
        rng = np.random.default_rng(pitch)
        t = np.arange(60 * 16_000) / 16_000
        wander = np.interp(t, np.arange(0, 61, 0.25), pitch + 4 * rng.standard_normal(244))
        phase = 2 * np.pi * np.cumsum(wander) / 16_000
        voice = (0.05 * sum(np.sin(k * phase) / k for k in range(1, 12))).astype(np.float32)
        voice *= np.float32(0.6) + np.float32(0.4) * np.sin(2 * np.pi * 3 * t).astype(np.float32)
        assert codes(sounds.write(tmp_path / f"{pitch}.wav", voice, 16_000)) == set()


def test_clipping_says_from_where_to_where(tmp_path: Path, talk: np.ndarray) -> None:
    loud = talk.copy()
    loud[5 * 48_000 : 7 * 48_000] = np.clip(loud[5 * 48_000 : 7 * 48_000] * 40, -1, 1)
    found = [f for f in flags_of(sounds.write(tmp_path / "a.wav", loud)) if f[0] == "clipped"]
    assert found and found[0][1] is not None and found[-1][2] is not None
    assert 4_990 <= found[0][1] <= 5_500 and 6_500 <= found[-1][2] <= 7_010


@pytest.mark.parametrize(("run", "flagged"), [(2, False), (3, True)])
def test_three_samples_in_a_row_are_clipped_two_are_not(tmp_path: Path, run: int, flagged: bool) -> None:
    """3 or more consecutive samples at or above -0.1 dBFS: common practice, no source."""
    sound = sounds.noise(12, -40)
    sound[200_000 : 200_000 + run] = 0.99
    sound[200_100] = 0.98  # below -0.1 dBFS
    assert ("clipped" in codes(sounds.write(tmp_path / "a.wav", sound))) is flagged


def test_a_very_quiet_recording(tmp_path: Path, talk: np.ndarray) -> None:
    """Integrated loudness under -35 LUFS: common practice, no source."""
    assert codes(sounds.write(tmp_path / "a.wav", talk * np.float32(0.1), subtype="PCM_24")) == {"low_level"}


def test_dropouts_inside_speech(tmp_path: Path, talk: np.ndarray) -> None:
    """Exact zeros of 5 ms and more inside speech: common practice, no source. Places as made, ±5 ms."""
    torn = talk + sounds.noise(len(talk) / 48_000, -70)[: len(talk)]
    places = []
    for at in range(48_000, len(torn) - 48_000, 4 * 48_000):
        loud = at + int(np.argmax(np.abs(torn[at : at + 48_000])))
        torn[loud + 20 : loud + 20 + 48 * 8] = 0.0
        torn[loud + 20 + 48 * 8] = 0.2
        places.append((loud + 20) / 48)
    found = [f for f in flags_of(sounds.write(tmp_path / "a.wav", torn)) if f[0] == "dropout"]
    assert len(found) >= 4
    assert all(min(abs(f[1] - p) for p in places) <= 5 for f in found if f[1] is not None)


def test_silence_between_sentences_is_no_dropout(tmp_path: Path, talk: np.ndarray) -> None:
    """A noise gate closes softly between sentences and leaves exact zeros there."""
    gated = talk.copy()
    for second in (7.1, 10.2, 15.3):
        at = round(second * 48_000)
        ramp = np.linspace(1, 0, 480, dtype=np.float32)
        gated[at - 480 : at] *= ramp
        gated[at : at + 4_800] = 0
        gated[at + 4_800 : at + 5_280] *= ramp[::-1]
    assert "dropout" not in codes(sounds.write(tmp_path / "a.wav", gated))


def test_a_short_hole_is_no_dropout() -> None:
    finder = DropoutFinder(48_000)
    sound = sounds.voicelike(1)
    sound[10_000 : 10_000 + 48 * 4] = 0  # 4 ms
    finder.feed(0, sound)
    assert finder.candidates == []


def test_dropouts_across_blocks_are_found_the_same() -> None:
    sound = sounds.sine(300, 1, -6) + sounds.noise(1, -60)
    sound[10_000:10_800] = 0
    sound[20_000:26_000] = 0
    found = []
    for size in (48_000, 5_000, 777):
        finder = DropoutFinder(48_000)
        for at in range(0, len(sound), size):
            finder.feed(at, sound[at : at + size])
        found.append(finder.candidates)
    assert found[0] == found[1] == found[2] == [(208, 225), (416, 542)]


def test_dc_offset(tmp_path: Path, talk: np.ndarray) -> None:
    found = flags_of(sounds.write(tmp_path / "a.wav", talk * np.float32(0.5) + np.float32(0.05)))
    assert [f[0] for f in found] == ["dc_offset"] and "+0.05" in found[0][3]


def test_a_dead_channel_is_named(tmp_path: Path, talk: np.ndarray) -> None:
    for dead in (np.zeros_like(talk), sounds.noise(len(talk) / 48_000, -90)[: len(talk)]):
        found = flags_of(sounds.write(tmp_path / "a.wav", np.stack([talk, dead])))
        assert [(f[0], f[3][:9]) for f in found] == [("dead_channel", "Channel 2")]


def test_crosstalk_is_no_dead_channel(tmp_path: Path, talk: np.ndarray) -> None:
    other = np.roll(talk, 300) * np.float32(0.03) + sounds.noise(len(talk) / 48_000, -65)[: len(talk)]
    assert codes(sounds.write(tmp_path / "a.wav", np.stack([talk, other]))) == set()


def test_opposite_phase_and_the_same_twice(tmp_path: Path, talk: np.ndarray) -> None:
    inverted = measured(sounds.write(tmp_path / "a.wav", np.stack([talk, -talk])))
    assert [f[0] for f in inverted.flags] == ["inverted"] and len(inverted.speech_ms) == 1
    same = measured(sounds.write(tmp_path / "b.wav", np.stack([talk, talk])))
    assert [f[0] for f in same.flags] == ["same_channels"] and len(same.speech_ms) == 1
    softer = measured(sounds.write(tmp_path / "c.wav", np.stack([talk, -talk * np.float32(0.6)])))
    assert [f[0] for f in softer.flags] == ["inverted"]


def measured(path: Path) -> Measured:
    return measure(path, Caps(), VoiceActivity)


def test_more_than_two_channels_are_said(tmp_path: Path, talk: np.ndarray) -> None:
    four = np.stack([talk, np.roll(talk, 4_800), np.roll(talk, 9_600), talk])
    found = measured(sounds.write(tmp_path / "a.wav", four))
    assert found.channels == 4 and len(found.speech_ms) == 2
    assert [f[0] for f in found.flags] == ["more_channels"]


def test_runs_across_blocks() -> None:
    mask = np.zeros(100, dtype=bool)
    mask[0:3] = mask[8:15] = mask[20:21] = mask[97:100] = True
    for size in (100, 10, 7, 1):
        runs = Runs(3)
        found = []
        for at in range(0, 100, size):
            found += runs.feed(at, mask[at : at + size])
        found += runs.close(100)
        assert found == [(0, 3), (8, 15), (97, 100)]
