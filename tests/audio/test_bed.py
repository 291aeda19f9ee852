"""The noise over a mute is made, of the room's own level, and never of what it covers; a draft's tone is short and soft."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from archive.audio import cut
from archive.audio.bed import GUARD_MS, with_bed
from archive.audio.beep import BEEP_DBFS, with_beeps
from archive.audio.cut import clip_samples, emptied, make_clip
from archive.audio.mute import FADE_MS, edge_gain, kept_gain, need_silence
from archive.errors import Broken
from tests.audio import sounds
from tests.audio.test_clips import cleared, read

RATE = 48_000
ROOM_DBFS = -55.0
Samples = np.ndarray


def talk(seconds: float, seed: int = 5) -> Samples:
    """Bursts of something like a voice, 0.6 s of every 1.4 s, over a steady room."""
    t = np.arange(round(seconds * RATE)) / RATE
    return sounds.voicelike(seconds, seed=seed) * (t % 1.4 < 0.6) + sounds.noise(seconds, ROOM_DBFS, seed=seed)


def level_dbfs(sound: Samples) -> float:
    return float(10 * np.log10(np.mean(np.asarray(sound, dtype=np.float64) ** 2)))


def covered(sound: Samples, mutes: list[tuple[int, int]], seed: int = 1) -> Samples:
    kept, edges = kept_gain(len(sound), 0, RATE, mutes), edge_gain(len(sound), RATE)
    return with_bed(emptied(sound, kept, edges), kept, edges, RATE, seed)


def test_the_bed_has_the_level_and_the_colour_of_the_room() -> None:
    """Against scipy's Welch spectrum of the room alone: within 2 dB in the octaves of speech; level within 1.5 dB."""
    shaped = signal.lfilter(*signal.butter(1, 800, fs=RATE), sounds.noise(20, -40, seed=9)).astype(np.float32)
    t = np.arange(20 * RATE) / RATE
    out = covered(shaped + sounds.voicelike(20) * (t % 1.4 < 0.6), [(3_000, 6_000)])
    bed = out[3_000 * 48 : 6_000 * 48]
    assert level_dbfs(bed) == pytest.approx(level_dbfs(shaped), abs=1.5)
    hz, room = signal.welch(shaped, RATE, nperseg=4096)
    _, made = signal.welch(bed, RATE, nperseg=4096)
    for low in (125, 250, 500, 1_000, 2_000, 4_000):
        band = (hz >= low) & (hz < 2 * low)
        assert 10 * np.log10(made[band].mean() / room[band].mean()) == pytest.approx(0, abs=2), low
    steps = bed[: len(bed) // 4_800 * 4_800].reshape(-1, 4_800)
    assert np.ptp([level_dbfs(step) for step in steps]) < 4, "steady, without a beat"


@settings(max_examples=40, deadline=None)
@given(
    mutes=st.lists(st.tuples(st.integers(0, 7_900), st.integers(20, 2_500)), min_size=1, max_size=4),
    loud=st.sampled_from([1.0, 100.0, float("inf"), float("nan")]),
)
def test_what_is_masked_changes_not_one_bit_of_what_is_heard(mutes: list[tuple[int, int]], loud: float) -> None:
    """The masked source replaced by something loud, endless or no number at all (CHECKS §10: none of its energy is carried)."""
    quiet = [(start, start + length) for start, length in mutes]
    sound = talk(8)
    other = sound.copy()
    for start, end in quiet:
        other[start * 48 : end * 48] = loud
    assert np.array_equal(covered(sound, quiet), covered(other, quiet))
    assert len(covered(sound, quiet)) == len(sound)


def test_a_masked_tone_is_nowhere_in_the_file(tmp_path: Path) -> None:
    """The whole way from a master to a clip, loudness and all: the same bytes, whatever was said under the mute."""
    sound = talk(10)
    other = sound.copy()
    other[4_000 * 48 : 5_000 * 48] = sounds.sine(700, 1, -3)
    clip = cleared([(1_000, 9_000)], [(4_000, 5_000)])
    for name, pcm in (("a", sound), ("b", other)):
        make_clip(clip, sounds.write(tmp_path / f"{name}-master.wav", pcm), tmp_path / f"{name}.wav")
    assert (tmp_path / "a.wav").read_bytes() == (tmp_path / "b.wav").read_bytes()
    assert read(tmp_path / "a.wav")[3_100 * 48 : 3_900 * 48].any(), "with a bed, not a hole"


def test_the_bed_goes_through_the_same_gain_as_the_room(tmp_path: Path) -> None:
    """After loudness is set the mute is as loud as the pauses beside it, within 2 dB."""
    path = sounds.write(tmp_path / "master.wav", talk(14) * np.float32(0.05))
    make_clip(cleared([(0, 14_000)], [(4_200, 4_900)]), path, tmp_path / "clip.wav")
    sound = read(tmp_path / "clip.wav") / 32768
    assert level_dbfs(sound[4_300 * 48 : 4_800 * 48]) == pytest.approx(level_dbfs(sound[6_300 * 48 : 6_900 * 48]), abs=2)


def test_the_same_clip_is_the_same_again_and_another_is_another(tmp_path: Path) -> None:
    path = sounds.write(tmp_path / "master.wav", talk(10))
    one = cleared([(1_000, 9_000)], [(4_000, 5_000)])
    again, moved = clip_samples(one, path, bed=True), clip_samples(cleared([(1_010, 9_010)], [(4_000, 5_000)]), path, bed=True)
    assert np.array_equal(clip_samples(one, path, bed=True), again)
    first, second = again[3_100 * 48 : 3_900 * 48], moved[3_090 * 48 : 3_890 * 48]
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.05


def test_the_bed_lies_over_the_mute_and_its_fades_only() -> None:
    sound = talk(8)
    plain, bedded = emptied(sound, kept_gain(len(sound), 0, RATE, [(3_000, 3_700)]), edge_gain(len(sound), RATE)), covered(sound, [(3_000, 3_700)])
    fade = FADE_MS * 48
    assert np.array_equal(plain[: 3_000 * 48 - fade], bedded[: 3_000 * 48 - fade])
    assert np.array_equal(plain[3_700 * 48 + fade :], bedded[3_700 * 48 + fade :])
    assert not plain[3_000 * 48 : 3_700 * 48].any() and bedded[3_000 * 48 : 3_700 * 48].any()


def test_the_guard_beside_a_mute_teaches_the_bed_nothing() -> None:
    """A name's echo just outside the mute, the quietest moment of all, is not what the bed is made of."""
    sound = talk(8)
    for start, end in ((3_000 - GUARD_MS, 3_000), (3_700, 3_700 + GUARD_MS)):
        sound[start * 48 : end * 48] *= np.float32(0.01)
    out = covered(sound, [(3_000, 3_700)])
    assert level_dbfs(out[3_100 * 48 : 3_600 * 48]) == pytest.approx(ROOM_DBFS, abs=2)


def test_without_a_quiet_moment_the_bed_is_faint_and_without_sound_there_is_none() -> None:
    steady = sounds.voicelike(6)
    out = covered(steady, [(2_000, 3_000)])
    made = level_dbfs(out[2_100 * 48 : 2_900 * 48])
    assert level_dbfs(steady) - 60 < made < level_dbfs(steady) - 35
    assert not covered(steady, [(0, 6_000)]).any(), "a clip that is all mute stays silent"
    still = np.zeros(6 * RATE, dtype=np.float32)
    assert not covered(still, [(2_000, 3_000)]).any()


def test_no_mute_no_change() -> None:
    sound = talk(3)
    assert np.array_equal(covered(sound, []), sound * edge_gain(len(sound), RATE))


def test_whatever_leaves_energy_in_a_mute_is_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The energy test runs before the bed, on what the steps before it left."""
    path = sounds.write(tmp_path / "master.wav", talk(4))
    monkeypatch.setattr(cut, "thinned", lambda pcm, gain: pcm)
    with pytest.raises(Broken):
        make_clip(cleared([(0, 4_000)], [(1_000, 1_500)]), path, tmp_path / "clip.wav")
    assert not (tmp_path / "clip.wav").exists()
    kept = kept_gain(1_000, 0, 1_000, [(100, 200)])
    for wrong in (np.full(1_000, 1e-9, dtype=np.float32), np.full(1_000, np.nan, dtype=np.float32), np.zeros(999, dtype=np.float32)):
        with pytest.raises(Broken):
            need_silence(wrong, kept)


def test_a_draft_says_so_at_once_and_every_quarter_of_a_minute(tmp_path: Path) -> None:
    """1 kHz for 0.4 s (project choice). Found by its line in the spectrum; what is final has none; lengths are the same."""
    path = sounds.write(tmp_path / "master.wav", talk(35))
    pieces = [(500, 33_500)]
    sound = {}
    for name, draft, beep in (("draft", True, True), ("final", False, True), ("unmarked", True, False)):
        made = make_clip(cleared(pieces, draft=draft), path, tmp_path / f"{name}.wav", beep=beep)
        assert made.duration_ms == 33_000
        sound[name] = read(tmp_path / f"{name}.wav") / 32768
    assert np.array_equal(sound["final"], sound["unmarked"])
    added = sound["draft"] - sound["final"]
    loud = [n for n in range(330) if np.abs(added[n * 4_800 : (n + 1) * 4_800]).max() > 2 / 32768]
    assert loud == [0, 1, 2, 3, 150, 151, 152, 153, 300, 301, 302, 303]
    middle = added[4_800 : 3 * 4_800]
    assert np.argmax(np.abs(np.fft.rfft(middle * np.hanning(9_600)))) * 5 == 1_000
    assert 20 * np.log10(np.abs(middle).max()) == pytest.approx(BEEP_DBFS, abs=0.3)


def test_a_tone_over_a_loud_moment_stays_under_the_ceiling() -> None:
    from archive.audio.loudness import measure_array

    out = with_beeps(sounds.sine(1_000, 1, -1.2), RATE, -1.0)
    assert len(out) == RATE and (measure_array(out, RATE)[1] or 0) <= -1.0
    assert len(with_beeps(np.zeros(100, dtype=np.float32), RATE, -1.0)) == 100
