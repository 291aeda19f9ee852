"""One stretch by seeking: the first sample is the one asked for (budget: within 10 ms), in every format."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from archive.audio.decode import pcm, pcm_of
from archive.audio.probe import Caps, header
from archive.errors import BadInput, BadMedia
from tests.audio import sounds

LENGTH_S = 90
PLACES_MS = (0, 700, 1_500, 2_300, 44_990, 86_400)


@pytest.fixture(scope="module")
def marks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two channels: the left as made, the right at half level."""
    left = sounds.marks(LENGTH_S)
    folder = tmp_path_factory.mktemp("marks")
    return sounds.write(folder / "marks.wav", np.stack([left, left * np.float32(0.5)]))


def lag_ms(found: np.ndarray, expected: np.ndarray) -> float:
    """How much later `found` begins, by cross-correlation at 16 kHz."""
    reach = 1_600
    return float(np.argmax(np.correlate(np.pad(found, reach), expected, "valid")) - reach) / 16


@pytest.mark.parametrize(
    ("suffix", "options"),
    [
        ("wav", ()),
        ("flac", ()),
        ("mp3", ("-b:a", "128k")),
        ("m4a", ("-b:a", "128k")),
        ("opus", ("-b:a", "64k")),
        ("ogg", ("-c:a", "libvorbis")),
        ("mka", ("-c:a", "libopus")),
        ("m4a", ("-ar", "44100")),
        ("mp3", ("-ar", "22050")),
    ],
)
def test_the_first_sample_is_the_one_asked_for(
    tmp_path: Path, marks: Path, suffix: str, options: tuple[str, ...]
) -> None:
    path = sounds.encoded(marks, tmp_path / f"a.{suffix}", *options)
    truth = sounds.marks(LENGTH_S)[::3]  # 16 kHz; the marks lie under 3.5 kHz
    for at in PLACES_MS:
        found = pcm(path, at, at + 2_500)
        assert found.dtype == np.float32 and found.shape == (40_000,)
        assert abs(lag_ms(found, truth[at * 16 : at * 16 + 40_000])) <= (10 if suffix == "ogg" else 2), f"at {at} ms"


def test_pieces_put_together_are_the_whole(marks: Path, tmp_path: Path) -> None:
    for suffix in ("wav", "flac", "mp3", "m4a", "opus"):
        path = sounds.encoded(marks, tmp_path / f"a.{suffix}") if suffix != "wav" else marks
        whole = pcm(path, 0, 9_000)
        parts = np.concatenate([pcm(path, at, at + 3_000) for at in (0, 3_000, 6_000)])
        assert len(whole) == len(parts) == 144_000
        assert np.sqrt(np.mean((whole - parts) ** 2)) < 0.02 * np.sqrt(np.mean(whole**2))


@pytest.mark.parametrize("suffix", ["wav", "flac", "m4a", "mp3"])
def test_channels_apart_and_together(marks: Path, tmp_path: Path, suffix: str) -> None:
    path = sounds.encoded(marks, tmp_path / f"a.{suffix}") if suffix != "wav" else marks

    def level(channel: int | None) -> float:
        return float(np.abs(pcm(path, 4_900, 5_100, channel)).max())

    assert level(1) == pytest.approx(level(0) / 2, rel=0.1)
    assert level(None) == pytest.approx(level(0) * 0.75, rel=0.1)
    with pytest.raises(BadInput, match="no channel 3"):
        pcm(path, 0, 1_000, 2)


@pytest.mark.parametrize("suffix", ["wav", "flac", "m4a"])
@pytest.mark.parametrize("rate", [16_000, 48_000])
def test_channels_in_opposite_phase_do_not_cancel_out(tmp_path: Path, suffix: str, rate: int) -> None:
    """A cable soldered the wrong way round: mixed to one, a whole interview would be silent."""
    voice = sounds.voicelike(4)
    two = sounds.write(tmp_path / "two.wav", np.stack([voice, -voice]))
    path = two if suffix == "wav" else sounds.encoded(two, tmp_path / f"a.{suffix}")
    sound = pcm(path, 500, 3_500, rate_hz=rate)
    assert np.sqrt(np.mean(sound**2)) == pytest.approx(float(np.sqrt(np.mean(voice**2))), rel=0.1)


def test_the_first_two_of_four_channels(tmp_path: Path) -> None:
    tones = np.stack([sounds.sine(hz, 2, -12) for hz in (300, 500, 700, 900)])
    path = sounds.write(tmp_path / "a.wav", tones)

    def tones_in(sound: np.ndarray) -> list[int]:
        power = np.abs(np.fft.rfft(sound[:16_000] * np.hanning(16_000)))
        return [hz for hz in (300, 500, 700, 900) if power[hz] > power.max() / 4]

    assert tones_in(pcm(path, 0, 1_500)) == [300, 500]
    assert tones_in(pcm(path, 0, 1_500, 3)) == [900]
    assert tones_in(pcm_of(path, 0, 1_500, (1, 2), 16_000)) == [500, 700]


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 96_000])
@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
def test_every_rate_and_depth(tmp_path: Path, rate: int, subtype: str) -> None:
    path = sounds.write(tmp_path / "a.wav", sounds.sine(440, 3, -12, rate), rate, subtype)
    sound = pcm(path, 500, 2_500)
    assert len(sound) == 32_000
    assert np.abs(sound[1_000:-1_000]).max() == pytest.approx(10 ** (-12 / 20), rel=0.02)
    power = np.abs(np.fft.rfft(sound[:16_000] * np.hanning(16_000)))
    assert int(np.argmax(power)) == 440


@pytest.mark.parametrize("suffix", ["wav", "mp3"])
def test_past_the_end_comes_silence(marks: Path, tmp_path: Path, suffix: str) -> None:
    path = sounds.encoded(marks, tmp_path / f"a.{suffix}") if suffix != "wav" else marks
    sound = pcm(path, LENGTH_S * 1000 - 500, LENGTH_S * 1000 + 1_500)
    assert len(sound) == 32_000
    assert sound[:7_000].any() and not sound[9_000:].any()
    assert not pcm(path, LENGTH_S * 1000 + 5_000, LENGTH_S * 1000 + 6_000).any()


@pytest.mark.parametrize(("start", "end"), [(-1, 5), (5, 5), (6, 5), (0, 16 * 60_000)])
def test_what_is_no_stretch_is_refused(marks: Path, start: int, end: int) -> None:
    with pytest.raises(BadInput):
        pcm(marks, start, end)


def test_a_name_that_looks_like_an_option_or_an_address(marks: Path, tmp_path: Path) -> None:
    for name in ("-y.mp3", "http:x.mp3", "a b ü%03d.mp3", "concat:a|b.mp3"):
        path = tmp_path / name
        path.write_bytes(sounds.encoded(marks, tmp_path / "plain.mp3").read_bytes())
        assert np.abs(pcm(path, 900, 1_200)).max() > 0.1


def test_what_is_no_sound_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.mp3").write_text("no sound " * 100, encoding="utf-8")
    (tmp_path / "a.wav").write_text("no sound " * 100, encoding="utf-8")
    for name in ("a.mp3", "a.wav"):
        with pytest.raises(BadMedia):
            pcm(tmp_path / name, 0, 1_000)


def test_a_damaged_flac_goes_on_behind_its_damage(tmp_path: Path, marks: Path) -> None:
    data = bytearray(sounds.encoded(marks, tmp_path / "a.flac").read_bytes())
    at = len(data) // 3
    data[at : at + 500] = bytes(500)
    (tmp_path / "bad.flac").write_bytes(data)
    sound = pcm(tmp_path / "bad.flac", 69_500, 70_500)
    assert abs(int(np.argmax(np.abs(sound))) / 16 - 510) <= 10


def test_what_was_taken_in_under_raised_caps_is_decoded(tmp_path: Path) -> None:
    """archive.toml may raise max_hours and max_channels; a master is not held against the defaults a second time."""
    long = sounds.silent_flac(tmp_path / "long.flac", 9)
    sounds.ffmpeg("-i", long, "-c", "copy", tmp_path / "long.mka")
    with pytest.raises(BadMedia):
        header(tmp_path / "long.mka", Caps())
    assert len(pcm(tmp_path / "long.mka", 8 * 3_600_000, 8 * 3_600_000 + 500)) == 8_000
    many = sounds.write(tmp_path / "many.wav", np.stack([sounds.sine(440, 1, -12)] * 12))
    sounds.ffmpeg("-i", many, "-c", "copy", tmp_path / "many.mka")
    with pytest.raises(BadMedia):
        header(tmp_path / "many.mka", Caps())
    assert np.abs(pcm(tmp_path / "many.mka", 200, 700, channel=11)).max() > 0.2
