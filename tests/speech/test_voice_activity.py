"""Where somebody speaks."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
from faster_whisper.vad import get_speech_timestamps

from archive.speech.vad import VoiceActivity, voice_activity
from tests.needs import real_speech


def readings() -> np.ndarray:
    """Two readings with two seconds of nothing between them, 16 kHz."""
    parts = [soundfile.read(str(real_speech() / f"librivox-{n}.wav"), dtype="float32")[0] for n in ("0880", "0930")]
    return np.concatenate([parts[0], np.zeros(32_000, dtype=np.float32), parts[1]])


def test_two_sentences_and_the_pause_between_them() -> None:
    sound = readings()
    found = voice_activity(sound)
    assert len(found) == 2
    (a, b), (c, d) = found
    assert a < 350 and 2_500 <= b <= 3_100 and 4_990 <= c <= 5_400 and 7_800 <= d <= len(sound) / 16


def test_in_pieces_of_any_size_the_same() -> None:
    sound = readings()
    whole = voice_activity(sound)
    for size in (100, 513, 16_000, 200_000):
        finder = VoiceActivity()
        for at in range(0, len(sound), size):
            finder.feed(sound[at : at + size])
        assert finder.finish() == whole


def test_against_the_library_that_brings_the_detector() -> None:
    """faster-whisper 1.2.1's own function on the same sound, with the same settings: edges within two windows (64 ms)."""
    sound = np.concatenate(
        [readings(), np.zeros(16_000, dtype=np.float32)]
    )  # theirs ends with the sound, ours with the voice
    expected = get_speech_timestamps(
        sound, threshold=0.5, min_silence_duration_ms=500, speech_pad_ms=60, min_speech_duration_ms=100
    )
    found = voice_activity(sound)
    assert len(found) == len(expected)
    for (start, end), theirs in zip(found, expected, strict=True):
        assert abs(start - theirs["start"] / 16) <= 64 and abs(end - theirs["end"] / 16) <= 64


@pytest.mark.parametrize("name", ["noise3.wav"])
def test_real_noise_is_no_voice(name: str) -> None:
    """speechbrain samples."""
    sound, _ = soundfile.read(str(real_speech() / name), dtype="float32")
    assert voice_activity(sound) == []


def test_nothing_and_next_to_nothing() -> None:
    assert voice_activity(np.zeros(0, dtype=np.float32)) == []
    assert voice_activity(np.zeros(100, dtype=np.float32)) == []
    assert voice_activity(np.zeros(160_000, dtype=np.float32)) == []
