"""Clips that leave: nothing of a mute is left, nothing changes its length (CHECKS §10)."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.audio.cut import clip_samples, make_clip
from archive.audio.decode import pcm_of
from archive.audio.mute import edge_faded, kept_gain, samples_down, samples_up, thinned
from archive.domain.cleared import GATE_TOKEN, ClearedCaption, ClearedClip, PlayStretch
from archive.errors import BadInput, NoSpace
from tests.audio import sounds

SECONDS = 12


def cleared(
    pieces: list[tuple[int, int]], mutes: list[tuple[int, int]] | None = None, channels: tuple[int, ...] = (), draft: bool = False
) -> ClearedClip:
    caption = ClearedCaption(token=GATE_TOKEN, item=1, speaker="", words=(), draft=draft)
    return ClearedClip(
        token=GATE_TOKEN,
        item=1,
        master_sha256="0" * 64,
        extension="wav",
        channels=channels,
        pieces=tuple(PlayStretch(*p) for p in pieces),
        mutes=tuple(PlayStretch(*m) for m in mutes or []),
        caption=caption,
        draft=draft,
    )


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    sound = sounds.voicelike(SECONDS) + sounds.noise(SECONDS, -45)
    return sounds.write(tmp_path_factory.mktemp("clip") / "source.wav", sound)


def read(path: Path) -> np.ndarray:
    sound, rate = soundfile.read(str(path), dtype="int16")
    assert rate == 48_000 and sound.ndim == 1
    return sound


def test_length_loudness_and_form(source: Path, tmp_path: Path) -> None:
    """-18 LUFS and -1 dBTP are a project choice; the loudness is read back with pyloudnorm."""
    made = make_clip(cleared([(1_000, 9_000)]), source, tmp_path / "clip.wav")
    sound = read(tmp_path / "clip.wav")
    assert made.duration_ms == 8_000 and len(sound) == 8 * 48_000
    loudness = pyloudnorm.Meter(48_000).integrated_loudness(sound / 32768)
    assert loudness == pytest.approx(-18.0, abs=0.3)
    assert made.loudness_lufs == pytest.approx(loudness, abs=0.2)
    assert made.true_peak_dbtp is not None and made.true_peak_dbtp <= -1.0
    assert abs(int(sound[0])) <= 1 and abs(int(sound[-1])) <= 40, "soft edges"


def test_a_clip_holds_sound_and_nothing_else(source: Path, tmp_path: Path) -> None:
    """Only the chunks `fmt ` and `data`: no names, no dates, no programs."""
    make_clip(cleared([(1_000, 3_000)]), source, tmp_path / "clip.wav")
    data = (tmp_path / "clip.wav").read_bytes()
    assert data[12:16] == b"fmt " and data[36:40] == b"data"
    assert len(data) == 44 + 2 * 48_000 * 2
    with wave.open(str(tmp_path / "clip.wav")) as clip:
        assert (clip.getnchannels(), clip.getsampwidth(), clip.getframerate()) == (1, 2, 48_000)


def test_a_mute_has_no_energy_and_its_fades_lie_outside(source: Path, tmp_path: Path) -> None:
    make_clip(cleared([(1_000, 9_000)], [(3_000, 3_700)]), source, tmp_path / "clip.wav", bed=False)
    sound = read(tmp_path / "clip.wav")
    assert len(sound) == 8 * 48_000
    assert not sound[2_000 * 48 : 2_700 * 48].any()
    assert sound[1_900 * 48 : 1_984 * 48].any() and sound[2_716 * 48 : 2_800 * 48].any()
    plain = clip_samples(cleared([(1_000, 9_000)]), source)
    faded = clip_samples(cleared([(1_000, 9_000)], [(3_000, 3_700)]), source)
    assert np.array_equal(plain[: 1_985 * 48], faded[: 1_985 * 48])
    assert np.array_equal(plain[2_715 * 48 + 1 :], faded[2_715 * 48 + 1 :])


@settings(max_examples=60, deadline=None)
@given(
    pieces=st.lists(st.tuples(st.integers(0, 9_000), st.integers(1, 2_500)), min_size=1, max_size=4),
    mutes=st.lists(st.tuples(st.integers(0, SECONDS * 1000), st.integers(1, 3_000)), max_size=5),
)
def test_any_mutes_leave_zeros_and_change_no_length(
    source: Path, pieces: list[tuple[int, int]], mutes: list[tuple[int, int]]
) -> None:
    """A muted span carries none of the source's energy; duration is unchanged (CHECKS §10)."""
    stretches = [(start, start + length) for start, length in pieces]
    quiet = [(start, start + length) for start, length in mutes]
    sound = clip_samples(cleared(stretches, quiet), source)
    assert len(sound) == sum(end - start for start, end in stretches) * 48
    at = 0
    for start, end in stretches:
        for a, b in quiet:
            low, high = max(start, a), min(end, b)
            if low < high:
                assert not sound[at + (low - start) * 48 : at + (high - start) * 48].any()
        at += (end - start) * 48


@settings(max_examples=100, deadline=None)
@given(
    rate=st.sampled_from([8_000, 11_025, 22_050, 24_000, 44_100, 48_000]),
    first_ms=st.integers(0, 5_000),
    start=st.integers(0, 6_000),
    length=st.integers(1, 900),
)
def test_mutes_round_outwards_at_any_rate(rate: int, first_ms: int, start: int, length: int) -> None:
    first = samples_down(first_ms, rate)
    ones = np.ones(rate, dtype=np.float32)
    out = thinned(ones, kept_gain(len(ones), first, rate, [(start, start + length)]))
    assert len(out) == rate and ones.all()
    moments = (np.arange(rate) + first) * 1000 / rate  # each sample's moment, ms
    inside = (moments >= start) & (moments < start + length)
    assert not out[inside].any()
    far = (moments < start - 17) | (moments > start + length + 17)
    assert (out[far] == 1).all()


def test_samples_of_a_moment() -> None:
    assert (samples_down(1, 44_100), samples_up(1, 44_100)) == (44, 45)
    assert samples_down(1_000, 48_000) == samples_up(1_000, 48_000) == 48_000


def test_infinities_in_the_source_are_muted_too() -> None:
    sound = np.full(1_000, np.inf, dtype=np.float32)
    out = thinned(sound, kept_gain(len(sound), 0, 1_000, [(100, 200)]))
    assert not out[100:200].any()


def test_edges_of_a_very_short_piece() -> None:
    assert len(edge_faded(np.ones(3, dtype=np.float32), 48_000)) == 3
    assert len(edge_faded(np.zeros(0, dtype=np.float32), 48_000)) == 0


def test_pieces_follow_without_overlap(source: Path) -> None:
    """pydub's own joining crossfades 100 ms (PITFALLS); ours adds up exactly."""
    sound = clip_samples(cleared([(1_000, 2_000), (5_000, 6_500)]), source)
    assert len(sound) == 2_500 * 48
    second = pcm_of(source, 5_000, 6_500, (), 48_000)
    assert np.allclose(sound[1_100 * 48 : 2_400 * 48], second[100 * 48 : 1_400 * 48], atol=1e-6)
    assert abs(float(sound[1_000 * 48])) < 1e-4, "a soft join"


def test_only_the_chosen_channel_is_heard(tmp_path: Path) -> None:
    two = np.stack([sounds.sine(300, 4, -12), sounds.sine(900, 4, -12)])
    path = sounds.write(tmp_path / "two.wav", two)
    make_clip(cleared([(500, 3_500)], channels=(1,)), path, tmp_path / "clip.wav")
    power = np.abs(np.fft.rfft(read(tmp_path / "clip.wav")[24_000:72_000] * np.hanning(48_000)))
    assert power[900] > 1000 * power[300]


def test_a_wholly_muted_clip_is_silence(source: Path, tmp_path: Path) -> None:
    made = make_clip(cleared([(1_000, 3_000)], [(0, 12_000)]), source, tmp_path / "clip.wav")
    assert made.loudness_lufs is None and made.true_peak_dbtp is None and made.duration_ms == 2_000
    assert not read(tmp_path / "clip.wav").any()


@pytest.mark.parametrize("suffix", ["mp3", "m4a", "opus", "flac"])
def test_clips_from_every_format(source: Path, tmp_path: Path, suffix: str) -> None:
    path = sounds.encoded(source, tmp_path / f"a.{suffix}")
    made = make_clip(cleared([(2_000, 5_000)], [(3_000, 3_500)]), path, tmp_path / "clip.wav", bed=False)
    sound = read(tmp_path / "clip.wav")
    assert made.duration_ms == 3_000 and len(sound) == 144_000
    assert not sound[48_000:72_000].any() and sound[75_000:100_000].any()


def test_what_is_no_clip_is_refused(source: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput):
        make_clip(cleared([]), source, tmp_path / "clip.wav")
    with pytest.raises(BadInput, match="15 minutes"):
        make_clip(cleared([(0, 16 * 60_000)]), source, tmp_path / "clip.wav")
    assert not (tmp_path / "clip.wav").exists()


def test_a_full_disk_leaves_no_half_clip(source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import errno

    from archive.audio import cut

    def full(pcm: object, rate: int, out: Path) -> None:
        out.write_bytes(b"RIFF")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(cut, "write_wav", full)
    with pytest.raises(NoSpace):
        make_clip(cleared([(0, 1_000)]), source, tmp_path / "clip.wav")
    assert not (tmp_path / "clip.wav").exists()
