"""The measuring pass on whole files: formats, times, peaks, levels."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from archive.audio.measure import Measured, measure
from archive.audio.probe import Caps
from archive.speech.vad import VoiceActivity
from tests.audio import sounds
from tests.needs import real_speech


class Deaf:
    """A voice finder that hears nobody."""

    def feed(self, pcm: object) -> None:
        """Take the next samples."""

    def finish(self) -> list[tuple[int, int]]:
        """Nobody spoke."""
        return []


def measured(path: Path) -> Measured:
    return measure(path, Caps(), VoiceActivity)


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sounds.write(tmp_path_factory.mktemp("sound") / "a.wav", sounds.voicelike(20))


@pytest.mark.parametrize(
    ("suffix", "codec", "depth", "tolerance_ms"),
    [("wav", "pcm_s16le", 16, 0), ("flac", "flac", 16, 0), ("mp3", "mp3float", None, 2), ("m4a", "aac", None, 25),
     ("opus", "opus", None, 2), ("ogg", "vorbis", None, 2), ("mka", "", None, 30), ("aiff", "pcm_s16be", 16, 0)],
)  # fmt: skip
def test_formats_of_the_trade(
    tmp_path: Path, source: Path, suffix: str, codec: str, depth: int | None, tolerance_ms: int
) -> None:
    found = measured(sounds.encoded(source, tmp_path / f"a.{suffix}"))
    assert abs(found.duration_ms - 20_000) <= tolerance_ms
    assert found.channels == 1 and found.rate_hz == 48_000
    if codec:
        assert (found.codec, found.bit_depth) == (codec, depth)
    assert found.damage == []
    assert len(found.peaks) == 2 * -(-found.duration_ms // found.peak_ms)


@pytest.mark.parametrize(
    ("rate", "subtype", "depth"),
    [(8_000, "PCM_16", 16), (16_000, "PCM_U8", 8), (44_100, "PCM_24", 24), (96_000, "PCM_24", 24), (48_000, "PCM_32", 32),
     (48_000, "FLOAT", 32), (22_050, "DOUBLE", 64), (11_025, "PCM_16", 16)],
)  # fmt: skip
def test_rates_and_depths_give_the_same_levels(tmp_path: Path, rate: int, subtype: str, depth: int) -> None:
    """The same tone at any rate and depth: same loudness, same peak (a 1 kHz sine on one channel reads 3 LU under its level)."""
    path = sounds.write(tmp_path / "a.wav", sounds.sine(1000, 10, -9, rate), rate, subtype)
    found = measured(path)
    assert (found.rate_hz, found.bit_depth, found.duration_ms) == (rate, depth, 10_000)
    assert found.loudness_lufs == pytest.approx(-12.0, abs=0.2)
    assert found.true_peak_dbtp == pytest.approx(-9.0, abs=0.3)


def test_24_bit_flac_is_called_so(tmp_path: Path) -> None:
    path = sounds.write(tmp_path / "a.flac", sounds.noise(2, -30), subtype="PCM_24")
    assert measured(path).bit_depth == 24


def test_peaks_are_those_of_the_samples(tmp_path: Path) -> None:
    """Against numpy on the whole array, at a rate whose steps are no whole samples."""
    sound = sounds.voicelike(7.013, 22_050)
    found = measured(sounds.write(tmp_path / "a.wav", sound, 22_050))
    back, _ = soundfile.read(str(tmp_path / "a.wav"), dtype="float32")
    pairs = np.frombuffer(found.peaks, dtype=np.int8).reshape(-1, 2)
    step = np.arange(len(back)) * 1000 // (22_050 * found.peak_ms)
    for n in range(len(pairs)):
        part = back[step == n]
        assert pairs[n, 0] == max(-127, -np.ceil(-min(part.min(), 0) * 127))
        assert pairs[n, 1] == min(127, np.ceil(max(part.max(), 0) * 127))


def test_two_channels_are_listened_to_apart() -> None:
    """stereo_diarization.wav: two speakers, one a channel (faster-whisper tests)."""
    found = measured(real_speech() / "stereo_diarization.wav")
    left, right = found.speech_ms
    assert left[0][0] < 400 and left[-1][1] > 4_000
    assert right[0][0] < 500 and right[-1][1] < 3_000
    assert [f for f in found.flags if f[0] in ("same_channels", "inverted", "dead_channel")] == []


def test_noise_is_no_voice() -> None:
    """noise3.wav: real noise (speechbrain samples)."""
    assert measured(real_speech() / "noise3.wav").speech_ms == [[]]


def test_silence_has_no_loudness_and_says_so(tmp_path: Path) -> None:
    """All-zero audio is -inf (BS.1770); under 0.4 s there is none."""
    found = measured(sounds.write(tmp_path / "a.wav", np.zeros(5 * 48_000, dtype=np.float32)))
    assert found.loudness_lufs is None and found.true_peak_dbtp is None and set(found.ears[0]) == {255}
    assert [f[0] for f in found.flags] == ["silent"]
    short = measured(sounds.write(tmp_path / "b.wav", sounds.sine(1000, 0.3, -20)))
    assert short.loudness_lufs is None and short.duration_ms == 300


def test_a_video_with_sound_that_begins_late_keeps_its_clock(tmp_path: Path) -> None:
    """Sound that starts 1.5 s into a film: the recording's clock is the film's, and decoding agrees."""
    from archive.audio.decode import pcm

    sound = sounds.write(tmp_path / "marks.wav", sounds.marks(6))
    film = tmp_path / "film.mkv"
    sounds.ffmpeg(
        "-f", "lavfi", "-i", "testsrc=size=64x64:rate=10:duration=8", "-itsoffset", "1.5", "-i", sound,
        "-map", "0:v", "-map", "1:a", "-c:a", "flac", film,
    )  # fmt: skip
    found = measured(film)
    assert abs(found.duration_ms - 7_500) <= 30
    assert found.damage == []
    for at in (2_000, 4_000):  # the marks of 1 s and 3 s stand at 2.5 s and 4.5 s
        piece = pcm(film, at, at + 1_000)
        assert abs(int(np.argmax(np.abs(piece))) / 16 - 510) <= 12


def test_a_measurement_survives_json(source: Path) -> None:
    import json

    found = measured(source)
    assert Measured.from_json(json.loads(json.dumps(found.to_json()))) == found


def test_memory_does_not_grow_with_length(tmp_path: Path) -> None:
    """Invariant 13: 24 minutes cost what 6 cost, but for peaks and levels (some 300 kB an hour)."""
    import tracemalloc

    used = []
    for minutes in (6, 24):
        path = sounds.silent_flac(tmp_path / f"{minutes}.flac", minutes / 60)
        tracemalloc.start()
        measure(path, Caps(), Deaf)
        used.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert used[1] < used[0] + (500 << 10)
