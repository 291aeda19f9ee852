"""Two microphones in one room, mixed from real recordings: the engine hears each voice on both, and each is written once."""

from __future__ import annotations

import numpy as np
import pytest

from archive.audio.decode import pcm
from archive.audio.levels import stretch_levels
from archive.rules.crosstalk import Loud, without_crosstalk
from archive.speech.engine import RATE_HZ
from archive.speech.vad import voice_activity
from archive.speech.whisper import WhisperEngine
from tests.needs import real_speech

LEVEL = 0.05  # RMS of each speaker on their own microphone
LATE = 24  # samples that the sound takes to the other one: half a metre


def as_loud(name: str, length_ms: int) -> np.ndarray:
    sound = pcm(real_speech() / name, 0, length_ms)
    return sound * np.float32(LEVEL / np.sqrt(np.mean(sound**2)))


def hear(engine: WhisperEngine, sound: np.ndarray) -> list[Loud]:
    heard = engine.hear(sound, "en", (), voice_activity(sound)).words
    return list(map(Loud, heard, stretch_levels(sound, [(w.start_ms, w.end_ms) for w in heard], RATE_HZ)))


@pytest.fixture(scope="module")
def sides(engine: WhisperEngine) -> tuple[list[Loud], list[Loud]]:
    """jfk.flac (faster-whisper tests) on the left, then librivox-0890 (pocketsphinx) on the right, each at -20 dB on the other's too."""
    asks, tells = as_loud("jfk.flac", 11_000), as_loud("librivox-0890.wav", 5_300)
    length = len(asks) + len(tells) + RATE_HZ
    left, right = (1e-4 * np.random.default_rng(n).standard_normal(length).astype(np.float32) for n in (1, 2))
    left[: len(asks)] += asks
    right[-len(tells) :] += tells
    across = np.float32(10 ** (-20 / 20))
    return (
        hear(engine, left + across * np.roll(right, LATE)),
        hear(engine, right + across * np.roll(left, LATE)),
    )


def test_each_voice_is_written_once_on_its_own_side(sides: tuple[list[Loud], list[Loud]]) -> None:
    """Both sides hear both speakers (else this tests nothing); what stays is jfk's 22 words on the left and the reading on the right."""
    assert len(sides[0]) > 30 and len(sides[1]) > 30
    left, right, _ = without_crosstalk(*sides)
    said = " ".join(w.text for w in left).lower()
    assert said.count("country") == 2 and "selfish" not in said and 20 <= len(left) <= 24
    told = " ".join(w.text for w in right).lower()
    assert "country" not in told and told.count("selfish") == 1 and 12 <= len(right) <= 16
