"""The sound check on sounds with faults of known place and strength, and its silence about real recordings without them.

Limits: CHECKS §3 ("common practice, no source") for clipping, low level, hum and dropouts; wind, handling and the verdict are choices of
this project. References: scipy's filters, and the table of IEC 61672-1 (from memory) for the ear's curve.
"""

from __future__ import annotations

import tempfile
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from archive.audio.bands import BandTrack, a_weighting_db
from archive.audio.decode import pcm
from archive.audio.measure import Measured, measure
from archive.audio.probe import Caps
from archive.domain import soundcheck
from archive.domain.soundcheck import Fit
from archive.speech.vad import VoiceActivity
from tests.audio import sounds
from tests.audio.test_measuring_pass import Deaf
from tests.needs import real_speech

NEAR_MS = 100
FORMATS = [(8_000, "PCM_16"), (44_100, "PCM_24"), (48_000, "FLOAT"), (96_000, "PCM_24")]


def check(path: Path, deaf: bool = False) -> Measured:
    return measure(path, Caps(), Deaf if deaf else VoiceActivity)


def places(found: Measured, code: str) -> list[tuple[int, int]]:
    return [(s, e) for c, s, e, _ in found.flags if c == code and s is not None and e is not None]


def near(found: list[tuple[int, int]], wanted: list[tuple[int, int]], ms: int = NEAR_MS) -> bool:
    """As many, and each begins and ends where it was made."""
    return len(found) == len(wanted) and all(abs(a - b) <= ms for f, w in zip(found, wanted, strict=True) for a, b in zip(f, w, strict=True))


def verdict(found: Measured) -> soundcheck.Verdict:
    problems = soundcheck.problems_of(found.flags, found.damage)
    figures = soundcheck.figures(found.ears, found.speech_ms, [(0, found.duration_ms)])
    return soundcheck.judge(figures, problems, found.speech_ms, found.rate_hz)


@pytest.fixture(scope="module")
def reading() -> np.ndarray:
    """Real speech at 48 kHz, 11 s: two readings (LibriVox, public domain [memory]) with a second of the room's hiss around them; what rumbles
    under 70 Hz in them is taken out, so that only the wind that a test adds is there."""
    parts = [pcm(real_speech() / name, 0, ms, rate_hz=48_000) for name, ms in (("librivox-0870.wav", 7_100), ("librivox-0880.wav", 2_990))]
    high = scipy.signal.butter(4, 70, "high", fs=48_000, output="sos")
    gap = np.zeros(48_000)
    whole = np.concatenate([gap, parts[0], gap, parts[1], gap])
    return (scipy.signal.sosfilt(high, whole) + sounds.noise(len(whole) / 48_000, -75)[: len(whole)]).astype(np.float32)


def at_rate(sound: np.ndarray, rate: int) -> np.ndarray:
    return scipy.signal.resample_poly(sound, rate // np.gcd(rate, 48_000), 48_000 // np.gcd(rate, 48_000)).astype(np.float32)


# -- the real recordings (the samples: tests/services/test_sound_checking.py): what is there, and nothing else -------------------------------------------------
# jfk.flac and noise3.wav really hum (their spectra show lines at 60 Hz k and at 50 Hz k, 20 to 40 dB over their neighbours).
REAL = {"jfk.flac": {"hum_60"}, "noise3.wav": {"hum_50"}}

def test_no_false_alarm_on_any_real_recording() -> None:
    names = [p.name for p in real_speech().iterdir() if p.suffix in (".wav", ".flac", ".mp3")]
    assert len(names) >= 10
    found = {name: {f[0] for f in check(real_speech() / name).flags} for name in sorted(names)}
    assert found == {name: REAL.get(name, set()) for name in sorted(names)}


# -- wind and handling ------------------------------------------------------------------------------------------------------
def wind(samples: int, rate: int, dbfs: float, stretches: list[tuple[int, int]], seed: int = 5) -> np.ndarray:
    """Noise between 15 and 90 Hz of a root-mean-square level, there in these stretches (ms), with edges of 10 ms."""
    rng = np.random.default_rng(seed)
    rumble = scipy.signal.sosfilt(scipy.signal.butter(2, [15, 90], "band", fs=rate, output="sos"), rng.standard_normal(samples))
    there = np.zeros(samples)
    for start_ms, end_ms in stretches:
        there[start_ms * rate // 1000 : end_ms * rate // 1000] = 1
    edge = rate // 100
    return (10 ** (dbfs / 20) * rumble / rumble.std() * np.convolve(there, np.ones(edge) / edge, "same")).astype(np.float32)


@pytest.mark.parametrize("dbfs", [-30, -20, -12])
@pytest.mark.parametrize(("rate", "subtype"), FORMATS)
def test_wind_from_where_to_where(tmp_path: Path, reading: np.ndarray, rate: int, subtype: str, dbfs: float) -> None:
    made = [(2_000, 4_500), (8_000, 9_000)]
    sound = at_rate(reading, rate)
    windy = sound + wind(len(sound), rate, dbfs, made)
    found = check(sounds.write(tmp_path / "a.wav", windy * np.float32(0.7), rate, subtype), deaf=True)
    assert near(places(found, "wind"), made)
    assert {f[0] for f in found.flags} <= {"wind", "clipped"}


def test_wind_on_one_side_is_said_to_be_there(tmp_path: Path, reading: np.ndarray) -> None:
    blown = reading + wind(len(reading), 48_000, -20, [(3_000, 5_000)])
    found = check(sounds.write(tmp_path / "a.wav", np.stack([np.roll(reading, 9_000), blown])), deaf=True)
    assert near(places(found, "wind"), [(3_000, 5_000)]) and "channel 2" in found.flags[0][3]


@pytest.mark.parametrize("dbfs", [-18, -8])
def test_a_knock_on_the_recorder(tmp_path: Path, reading: np.ndarray, dbfs: float) -> None:
    """A table that is hit swings at 40 Hz and dies away in half a second: found where it begins."""
    t = np.arange(24_000) / 48_000
    knock = 10 ** (dbfs / 20) * np.exp(-t / 0.15) * np.sin(2 * np.pi * 40 * t)
    sound = reading.copy()
    sound[5 * 48_000 : 5 * 48_000 + len(knock)] += knock.astype(np.float32)
    ((start_ms, end_ms),) = places(check(sounds.write(tmp_path / "a.wav", sound), deaf=True), "wind")
    assert abs(start_ms - 5_000) <= NEAR_MS and 5_150 <= end_ms <= 5_700


@pytest.mark.parametrize("steady", ["hum", "rumble", "deep voice"])
def test_what_is_steady_or_a_voice_is_no_wind(tmp_path: Path, reading: np.ndarray, steady: str) -> None:
    seconds = len(reading) / 48_000
    t = np.arange(len(reading)) / 48_000
    under = {
        "hum": sounds.sine(50, seconds, -30)[: len(reading)],
        "rumble": sounds.sine(33, seconds, -34)[: len(reading)] * (1 + 0.2 * np.sin(2 * np.pi * t)),
        "deep voice": 0.1 * sum(np.sin(2 * np.pi * 76 * k * t) / k for k in range(1, 30)) * (0.5 + 0.5 * np.sin(2 * np.pi * 3 * t)),
    }[steady]
    found = check(sounds.write(tmp_path / "a.wav", (reading + under).astype(np.float32)), deaf=True)
    assert places(found, "wind") == []


# -- clipping, dropouts, hum ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("times", [10, 40])
@pytest.mark.parametrize(("rate", "subtype"), FORMATS)
def test_clipping_from_where_to_where(tmp_path: Path, reading: np.ndarray, rate: int, subtype: str, times: float) -> None:
    sound = at_rate(reading, rate)
    loud = slice(3 * rate, 5 * rate)
    sound[loud] = np.clip(sound[loud] * times, -1, 1)
    true = np.flatnonzero(np.abs(sound) >= 1)
    found = places(check(sounds.write(tmp_path / "a.wav", sound, rate, subtype), deaf=True), "clipped")
    assert found and abs(found[0][0] - true[0] * 1000 / rate) <= NEAR_MS and abs(found[-1][1] - true[-1] * 1000 / rate) <= NEAR_MS


def test_floating_point_may_lie_above_full_scale(tmp_path: Path, reading: np.ndarray) -> None:
    """32-bit float keeps what is louder than full scale: nothing is cut off, and lowering brings it back. A flat top is cut off."""
    loud = reading * np.float32(2 / np.abs(reading).max())
    assert {f[0] for f in check(sounds.write(tmp_path / "a.wav", loud, subtype="FLOAT"), deaf=True).flags} == set()
    cut = check(sounds.write(tmp_path / "b.wav", np.clip(loud, -1.2, 1.2), subtype="FLOAT"), deaf=True)
    assert {f[0] for f in cut.flags} == {"clipped"}


@pytest.mark.parametrize("how", ["zeros", "repeated"])
@pytest.mark.parametrize(("rate", "subtype"), FORMATS)
@pytest.mark.parametrize("ms", [8, 60, 300])
def test_dropouts_from_where_to_where(tmp_path: Path, reading: np.ndarray, rate: int, subtype: str, ms: int, how: str) -> None:
    """Exact zeros, or one sample repeated, of 5 ms and more inside speech."""
    sound = at_rate(reading, rate)
    made = []
    for second in (2, 5):
        first = second * rate + int(np.argmax(np.abs(sound[second * rate : (second + 1) * rate]))) + 3
        end = first + ms * rate // 1000
        sound[first:end] = 0 if how == "zeros" else sound[first - 1]
        sound[end] = 0.15
        made.append((first * 1000 // rate, end * 1000 // rate))
    found = check(sounds.write(tmp_path / "a.wav", sound, rate, subtype))
    assert near(places(found, "dropout"), made, 5)


def test_a_coarse_quiet_file_has_no_dropouts(tmp_path: Path, reading: np.ndarray) -> None:
    """Eight bits: what is fainter than a step or two stands still for long, and nothing is lost by it."""
    found = check(sounds.write(tmp_path / "a.wav", at_rate(reading, 16_000) * np.float32(0.5), 16_000, "PCM_U8"))
    assert places(found, "dropout") == []


@pytest.mark.parametrize("base", [50, 60])
@pytest.mark.parametrize(("dbfs", "harmonic_db", "flagged"), [(-36, -48, True), (-42, -56, True), (-45, None, False), (-95, -95, False)])
def test_the_mains_with_a_faint_harmonic(tmp_path: Path, base: int, dbfs: float, harmonic_db: float | None, flagged: bool) -> None:
    """The line of the mains far over its neighbours and a harmonic now and then: hum. The line alone is none: the LibriVox readings
    have 60 Hz at -53 dBFS, 25 dB over its neighbours (seen in their spectra), and nobody hears it."""
    voice = sounds.voicelike(24)
    voice[8 * 48_000 :] = sounds.noise(16, -70)  # the harmonic is seen where nobody speaks
    for k, level in ((1, dbfs), (3, harmonic_db)):
        if level is not None:
            voice += sounds.sine(base * k, 24, level)
    found = check(sounds.write(tmp_path / "a.wav", voice, subtype="PCM_24"), deaf=True)
    assert {f[0] for f in found.flags} == ({f"hum_{base}"} if flagged else set())


# -- how loud it is to an ear -------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("hz", "wanted_db"),
    [(31.5, -39.4), (63, -26.2), (125, -16.1), (250, -8.6), (500, -3.2), (1000, 0.0), (2000, 1.2), (4000, 1.0), (8000, -1.1)],
)
def test_the_ear_s_curve(hz: float, wanted_db: float) -> None:
    """IEC 61672-1, the table of frequency weightings (from memory): nominal frequencies, one decimal."""
    assert float(a_weighting_db(np.array([hz]))[0]) == pytest.approx(wanted_db, abs=0.15)


@pytest.mark.parametrize("hz", [63, 125, 500, 1000, 4000])
def test_a_tone_has_its_level_at_every_step(hz: float) -> None:
    """A sine of -20 dBFS has a mean square of -23 dB, less what the ear takes off."""
    track = BandTrack()
    tone = sounds.sine(hz, 3, -20, 16_000)
    for at in range(0, len(tone), 777):
        track.feed(tone[at : at + 777])
    levels = np.frombuffer(track.finish().ear, dtype=np.uint8) / -2
    assert len(levels) == 60
    assert np.all(np.abs(levels[1:-1] - (-23.01 + a_weighting_db(np.array([float(hz)]))[0])) <= 1.0)


def a_weighted_db(sound: np.ndarray, rate: int) -> float:
    """The A-weighted level of a whole array, by scipy: the analogue filter of IEC 61672-1 made digital."""
    f1, f2, f3, f4 = 20.598997, 107.65265, 737.86223, 12194.217
    poles = -2 * np.pi * np.array([f1, f1, f2, f3, f4, f4])
    z, p, k = scipy.signal.bilinear_zpk([0, 0, 0, 0], poles, (2 * np.pi * f4) ** 2 * 10 ** (2.0 / 20), rate)
    return float(10 * np.log10(np.mean(scipy.signal.sosfilt(scipy.signal.zpk2sos(z, p, k), sound)[rate // 10 :] ** 2)))


@pytest.mark.parametrize("apart_db", [5, 15, 25, 40])
@pytest.mark.parametrize("rate", [16_000, 48_000])
def test_how_far_the_voice_stands_over_the_noise(tmp_path: Path, rate: int, apart_db: float) -> None:
    """Real speech mixed with white noise so that scipy's A-weighted levels lie this far apart; judged to 2 dB."""
    voice = pcm(real_speech() / "librivox-0870.wav", 300, 6_800, rate_hz=rate)
    hiss = sounds.noise(len(voice) / rate + 6, -40, rate)
    if rate == 48_000:  # nothing over 8 kHz is measured, and hardly any of a voice is there
        hiss = scipy.signal.sosfilt(scipy.signal.butter(8, 7_500, fs=rate, output="sos"), hiss).astype(np.float32)
    gain = 10 ** ((apart_db + a_weighted_db(hiss, rate) - a_weighted_db(voice, rate)) / 20)
    sound = hiss.copy()
    sound[3 * rate : 3 * rate + len(voice)] += np.float32(gain) * voice
    scale = np.float32(0.5 / np.abs(sound).max())
    found = check(sounds.write(tmp_path / "a.wav", sound * scale, rate, "PCM_24"))
    figures = soundcheck.figures(found.ears, found.speech_ms, [(0, found.duration_ms)])
    assert figures.from_pauses and figures.noise_dbfs == pytest.approx(a_weighted_db(hiss * scale, rate), abs=1.5)
    assert figures.ratio_db == pytest.approx(apart_db, abs=2.0)
    wanted = Fit.POST if apart_db > 20 else Fit.LISTEN if apart_db > 10 else Fit.READ
    assert verdict(found).fit == wanted


def test_each_side_has_its_own_levels(tmp_path: Path, reading: np.ndarray) -> None:
    found = check(sounds.write(tmp_path / "a.wav", np.stack([reading, np.roll(reading, 5_000) * np.float32(0.1)])), deaf=True)
    loud, soft = (np.frombuffer(track, dtype=np.uint8) for track in found.ears)
    assert len(loud) == len(soft) == -(-found.duration_ms // soundcheck.EAR_MS)
    assert 15 <= np.median(soft[40:100].astype(float) - loud[40:100]) / 2 <= 25


# -- whatever comes -----------------------------------------------------------------------------------------------------------
@settings(max_examples=25)
@given(
    sound=arrays.arrays(np.float32, st.integers(1, 30_000), elements=st.floats(width=32, allow_nan=True, allow_infinity=True), fill=st.sampled_from([0.0, 0.5, -1.0, 1e-9, float("nan"), float("inf"), 3e38])),
    rate=st.sampled_from([8_000, 16_000, 48_000]), channels=st.integers(1, 2),
)  # fmt: skip
def test_any_numbers_at_all_are_measured(sound: np.ndarray, rate: int, channels: int) -> None:
    """NaN, infinities, numbers no microphone makes, silence, constants: an answer, in order, inside the recording."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.wav"
        soundfile.write(str(path), np.stack([sound] * channels, axis=1), rate, subtype="FLOAT")
        found = check(path, deaf=True)
    for code in ("clipped", "wind", "dropout"):
        stretches = places(found, code)
        assert all(0 <= s < e <= found.duration_ms + soundcheck.EAR_MS for s, e in stretches)
        assert channels == 2 or all(a[1] <= b[0] for a, b in pairwise(stretches))
    assert soundcheck.problems_of(found.flags, found.damage) is not None and verdict(found).reasons
    assert Measured.from_json(found.to_json()) == found
