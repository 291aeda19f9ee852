"""Voice disguise: pitch and formants moved, length and level kept, mutes still silent (CHECKS §10; figures: issue 4)."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import jiwer
import numpy as np
import pytest

from archive.audio import disguise
from archive.audio.cut import CLIP_RATE_HZ, clip_samples
from archive.audio.decode import pcm
from archive.audio.loudness import measure_array
from archive.domain.cleared import GATE_TOKEN, ClearedCaption, ClearedClip, PlayStretch
from archive.speech.engine import RATE_HZ
from archive.speech.whisper import WhisperEngine
from tests.audio import sounds

SAMPLES = Path(__file__).resolve().parents[2] / "sample_media"
STRETCHES = (("TW-06.flac", 0, 24_000), ("TW-01.flac", 0, 24_000), ("TW-05.mp3", 0, 24_000))
LOW, HIGH = 2, 0  # seeds of a disguise downwards and one upwards


@pytest.fixture(scope="module")
def speech() -> dict[str, np.ndarray]:
    return {name: pcm(SAMPLES / name, start, end, None, CLIP_RATE_HZ) for name, start, end in STRETCHES}


def clip(pieces: list[tuple[int, int]], mutes: list[tuple[int, int]]) -> ClearedClip:
    caption = ClearedCaption(token=GATE_TOKEN, item=1, speaker="", words=(), draft=False)
    return ClearedClip(
        token=GATE_TOKEN, item=1, master_sha256="0" * 64, extension="flac", channels=(), caption=caption, draft=False, disguised=True,
        pieces=tuple(PlayStretch(*p) for p in pieces), mutes=tuple(PlayStretch(*m) for m in mutes),
    )  # fmt: skip


def pitch_hz(sound: np.ndarray, rate: int) -> float:
    """Median pitch of the voiced 40 ms by autocorrelation (common practice; no outside library at hand)."""
    size, found = rate // 25, []
    for at in range(0, len(sound) - size, size):
        part = sound[at : at + size] - sound[at : at + size].mean()
        if np.std(part) < 0.3 * np.std(sound):
            continue
        similar = np.correlate(part, part, "full")[size - 1 :]
        low, high = rate // 350, rate // 65
        best = low + int(similar[low:high].argmax())
        if similar[best] > 0.5 * similar[0]:
            found.append(rate / best)
    return float(np.median(found))


def test_seeds_draw_both_directions_and_stay_in_their_bounds() -> None:
    drawn = [disguise.factors(seed) for seed in range(200)]
    assert disguise.factors(LOW)[0] < 1 < disguise.factors(HIGH)[0]
    for pitch, formants in drawn:
        low_pitch, low_formants = disguise.DOWN
        high_pitch, high_formants = disguise.UP
        down = low_pitch[0] <= pitch <= low_pitch[1] and low_formants[0] <= formants <= low_formants[1]
        up = high_pitch[0] <= pitch <= high_pitch[1] and high_formants[0] <= formants <= high_formants[1]
        assert down != up
    assert len({round(pitch, 3) for pitch, _ in drawn}) > 50, "what undoes one does not undo the next"


def test_one_voice_is_the_same_within_an_export_and_another_in_the_next() -> None:
    key, other = b"1" * 16, b"2" * 16
    assert disguise.seed_for(key, "a") == disguise.seed_for(key, "a")
    assert len({disguise.seed_for(k, v) for k in (key, other) for v in ("a", "b")}) == 4


@pytest.mark.parametrize("seed", [LOW, HIGH])
def test_pitch_moves_and_length_and_level_stay(speech: dict[str, np.ndarray], seed: int) -> None:
    """Level: root mean square within 1 dB, and loudness by the outside meter (EBU R 128, ffmpeg) within 1 LU."""
    for name, sound in speech.items():
        made = disguise.disguised(sound, CLIP_RATE_HZ, seed)
        assert len(made) == len(sound) and made.dtype == np.float32
        level = 20 * np.log10(np.std(made) / np.std(sound))
        assert abs(level) <= 1.0, name
        before, after = measure_array(sound, CLIP_RATE_HZ)[0], measure_array(made, CLIP_RATE_HZ)[0]
        assert before is not None and after is not None and abs(after - before) <= 1.0, name
    name = "TW-05.mp3"  # the voice with the clearest pitch of these
    moved = pitch_hz(disguise.disguised(speech[name], CLIP_RATE_HZ, seed), CLIP_RATE_HZ) / pitch_hz(speech[name], CLIP_RATE_HZ)
    assert moved == pytest.approx(disguise.factors(seed)[0], rel=0.05)


@pytest.mark.parametrize("seed", [LOW, HIGH])
def test_formants_move_and_by_less_than_the_pitch(seed: int) -> None:
    """A pulse train of 120 Hz through one resonance at 1500 Hz. Its centre of gravity moves, and not as far as the pitch; played
    faster or slower alone it would move just as far (measured: the filter holds formants in part)."""
    rate, seconds = CLIP_RATE_HZ, 4
    pulses = np.zeros(rate * seconds, dtype=np.float64)
    pulses[:: rate // 120] = 1.0
    ring = np.arange(rate // 20) / rate
    voiced = np.convolve(pulses, np.exp(-1200 * ring) * np.sin(2 * np.pi * 1500 * ring))[: len(pulses)].astype(np.float32)

    def centre_hz(sound: np.ndarray) -> float:
        power = np.abs(np.fft.rfft(sound[rate : 3 * rate] * np.hanning(2 * rate))) ** 2
        hz = np.fft.rfftfreq(2 * rate, 1 / rate)
        near = (hz > 700) & (hz < 2600)
        return float((hz[near] * power[near]).sum() / power[near].sum())

    pitch, _ = disguise.factors(seed)
    moved = centre_hz(disguise.disguised(voiced, rate, seed)) / centre_hz(voiced)
    assert min(pitch, 1) < moved < max(pitch, 1)
    assert abs(moved - 1) >= 0.05 and abs(moved - pitch) >= 0.03, (moved, pitch)


def test_silence_and_the_shortest_sounds_pass() -> None:
    silent = np.zeros(4800, dtype=np.float32)
    assert not disguise.disguised(silent, CLIP_RATE_HZ, LOW).any()
    for length in (1, 100, 4801):
        assert len(disguise.disguised(sounds.noise(1, -20)[:length], CLIP_RATE_HZ, LOW)) == length


def test_mutes_of_a_disguised_clip_hold_exact_zeros() -> None:
    asked = clip([(1000, 5000), (8000, 11_000)], [(2000, 2600), (8000, 8400)])
    made = clip_samples(asked, SAMPLES / "TW-06.flac", bed=False, disguise_seed=HIGH)
    plain = clip_samples(clip([(1000, 5000), (8000, 11_000)], []), SAMPLES / "TW-06.flac", bed=False, disguise_seed=HIGH)
    assert len(made) == 7 * CLIP_RATE_HZ
    for start_s, end_s in ((1.0, 1.6), (4.0, 4.4)):
        inside = slice(round(start_s * CLIP_RATE_HZ), round(end_s * CLIP_RATE_HZ))
        assert not made[inside].any() and plain[inside].any()


def test_nothing_of_a_muted_stretch_is_smeared_beside_it() -> None:
    """A loud tone under the mute, near silence beside it: disguised, nothing of the tone is heard before or after."""
    rate = CLIP_RATE_HZ
    sound = sounds.noise(3, -70)
    sound[rate : 2 * rate] += sounds.sine(800, 1, -6)
    muted = sound.copy()
    muted[rate : 2 * rate] = 0
    made = disguise.disguised(muted, rate, LOW)
    around = np.concatenate([made[rate // 2 : rate], made[2 * rate : 2 * rate + rate // 2]])
    assert 20 * np.log10(np.sqrt(np.mean(around**2)) + 1e-12) < -60


def test_without_the_filter_it_is_not_possible(monkeypatch: pytest.MonkeyPatch) -> None:
    assert disguise.possible(), "the bundled ffmpeg has it"
    monkeypatch.setattr(disguise, "has_filter", lambda name: False)
    assert not disguise.possible()


def plain_words(text: str) -> list[str]:
    return re.findall(r"[a-z0-9']+", text.lower())


def test_disguised_speech_is_still_understood(speech: dict[str, np.ndarray], engine: WhisperEngine) -> None:
    """Word error rate (jiwer) of three disguised sample stretches against their scripts ≤ 2 × the plain ones + 2 points."""

    def errors(sound: np.ndarray, name: str) -> tuple[float, int]:
        heard = [w.text for w in engine.transcribe(_slower(sound), "en")]
        with open(SAMPLES / "scripts" / f"{name.split('.')[0]}.csv", encoding="utf-8", newline="") as stream:
            script = plain_words(" ".join(line["words"] for line in csv.DictReader(stream)))
        hypothesis = plain_words(" ".join(heard))
        best = min(  # where the script stands at the end of the stretch
            (jiwer.process_words(" ".join(script[:n]), " ".join(hypothesis)) for n in range(len(hypothesis) - 8, len(hypothesis) + 9)),
            key=lambda o: o.substitutions + o.deletions + o.insertions,
        )
        return best.substitutions + best.deletions + best.insertions, best.substitutions + best.deletions + best.hits

    plain = [errors(sound, name) for name, sound in speech.items()]
    changed = [errors(disguise.disguised(sound, CLIP_RATE_HZ, seed), name) for (name, sound), seed in zip(speech.items(), (LOW, HIGH, LOW), strict=True)]
    plain_rate = sum(e for e, _ in plain) / sum(n for _, n in plain)
    changed_rate = sum(e for e, _ in changed) / sum(n for _, n in changed)
    assert changed_rate <= 2 * plain_rate + 0.02, (plain_rate, changed_rate)


def _slower(sound: np.ndarray) -> np.ndarray:
    from av.audio.frame import AudioFrame
    from av.audio.resampler import AudioResampler

    frame = AudioFrame.from_ndarray(sound[np.newaxis, :].astype(np.float32), format="fltp", layout="mono")
    frame.sample_rate = CLIP_RATE_HZ
    resampler = AudioResampler(format="fltp", layout="mono", rate=RATE_HZ)
    return np.concatenate([f.to_ndarray()[0] for part in (frame, None) for f in resampler.resample(part)]).astype(np.float32)
