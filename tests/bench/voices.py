"""Who speaks, suggested: share of speech time assigned rightly, wrongly, and not at all. Budget of time: 0.1 of the length.

The samples with one microphone have the engine's utterances (a demo archive) and sample_media/speakers.csv as truth. The real recordings
are put one after another, so that who speaks is known: jfk.flac and stereo_diarization.wav (faster-whisper tests), a LibriVox reader
(pocketsphinx), mary.wav and bobby.wav with hand-labelled words (praatIO). About ten seconds of each are named first, or half of what there is.
"""

from __future__ import annotations

import csv
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from archive.app import Archive
from archive.audio import decode
from archive.db import recordings
from archive.gate import custody
from archive.rules.whose_voice import ASKED_MS, Piece, Voices
from archive.services.demo import SAMPLES
from archive.speech.likeness import RATE_HZ, likenesses, windows_of
from archive.speech.vad import voice_activity
from tests.bench.conversations import conversations, judged

REAL = Path(__file__).resolve().parents[3] / "shared" / "real-speech"
Said = tuple[int, int, str]  # start_ms, end_ms, who


@dataclass
class Share:
    """Milliseconds of speech that was not named, by what became of it."""

    sure_right: int = 0
    sure_wrong: int = 0
    perhaps_right: int = 0
    perhaps_wrong: int = 0
    nobody: int = 0
    two: list[str] = field(default_factory=list)

    def told(self) -> str:
        whole = max(1, self.sure_right + self.sure_wrong + self.perhaps_right + self.perhaps_wrong + self.nobody)
        parts = [f"{n / whole:.1%} {what}" for n, what in (
            (self.sure_right, "sure and right"), (self.sure_wrong, "sure and wrong"), (self.perhaps_right, "perhaps and right"),
            (self.perhaps_wrong, "perhaps and wrong"), (self.nobody, "unassigned"))]  # fmt: skip
        return f"{whole / 1000:.0f} s: {', '.join(parts)}; perhaps two voices {len(self.two)} times"


def shared(pcm: np.ndarray, said: Sequence[Said], share: Share, named: dict[str, int]) -> None:
    """Name the first utterances of each (ms asked for, by who), suggest the rest, and count. `said`: utterances with the true speaker."""
    pieces = []
    for n, (start_ms, end_ms, who) in enumerate(said):
        windows = windows_of(start_ms, end_ms)
        pieces.append((who, Piece(n, start_ms, end_ms, tuple(windows), likenesses(pcm, windows))))
    people, have, known, rest = sorted(named), dict.fromkeys(named, 0), {}, []
    for who, piece in pieces:
        if have[who] < named[who]:
            have[who] += piece.end_ms - piece.start_ms
            known.setdefault(people.index(who), []).append(piece.vectors)
        else:
            rest.append((who, piece))
    voices = Voices({p: np.concatenate(v) for p, v in known.items()}, range(len(people)))
    for who, piece in rest:
        found, length = voices.suggest(piece), piece.end_ms - piece.start_ms
        if len(piece.vectors) and voices.two_voices(piece):
            share.two.append(who)
        if found is None:
            share.nobody += length
            continue
        kind = f"{'sure' if found.sure else 'perhaps'}_{'right' if people[found.person_id] == who else 'wrong'}"
        setattr(share, kind, getattr(share, kind) + length)


def sample_truth() -> dict[str, list[tuple[int, int, str]]]:
    """file → stretches (ms) and who speaks there, of sample_media/speakers.csv."""
    truth: dict[str, list[tuple[int, int, str]]] = {}
    with (SAMPLES / "speakers.csv").open(encoding="utf-8") as sheet:
        for row in csv.DictReader(sheet):
            stretch = (round(float(row["start_s"]) * 1000), round(float(row["end_s"]) * 1000), row["person"])
            truth.setdefault(row["file"], []).append(stretch)
    return truth


def whose(stretches: Sequence[Said], start_ms: int, end_ms: int) -> str:
    """Who speaks most of a stretch."""
    return max(stretches, key=lambda s: min(end_ms, s[1]) - max(start_ms, s[0]))[2]


def real_talk() -> tuple[np.ndarray, list[Said]]:
    """Five real voices, turn by turn, 16 kHz; utterances are the stretches of voice activity, with who speaks."""
    turns = [
        ("librivox-0870.wav", None, 7100, "reader"), ("jfk.flac", None, 11000, "jfk"), ("stereo_diarization.wav", 0, 5000, "left"),
        ("mary.wav", None, 1870, "mary"), ("bobby.wav", None, 1190, "bobby"), ("stereo_diarization.wav", 1, 2700, "right"),
        ("librivox-0880.wav", None, 2990, "reader"), ("librivox-0890.wav", None, 5300, "reader"),
        ("librivox-0920.wav", None, 6050, "reader"), ("librivox-0930.wav", None, 3290, "reader"),
    ]  # fmt: skip
    sounds, said, at = [], [], 0
    for name, channel, length_ms, who in turns:
        pcm = decode.pcm(REAL / name, 0, length_ms, channel, RATE_HZ)
        said += [(at + s, at + e, who) for s, e in voice_activity(pcm)]
        sounds.append(pcm)
        at += length_ms
    return np.concatenate(sounds), said


def real_share() -> Share:
    """The reader and jfk named; the others were never named: whatever is suggested for them is wrong."""
    pcm, said = real_talk()
    share = Share()
    shared(pcm, [s for s in said if s[2] in ("reader", "jfk")], share, {"reader": ASKED_MS, "jfk": ASKED_MS // 3})
    return share


def strangers() -> tuple[int, int]:
    """(suggested, all) ms of voices that nobody named, where the reader and jfk are."""
    pcm, said = real_talk()
    known = {"reader": 0, "jfk": 1}
    vectors: dict[int, list[np.ndarray]] = {0: [], 1: []}
    wrong = whole = 0
    for start_ms, end_ms, who in said:
        if who in known:
            vectors[known[who]].append(likenesses(pcm, windows_of(start_ms, end_ms)))
    voices = Voices({p: np.concatenate(v) for p, v in vectors.items()}, (0, 1, 2))
    for start_ms, end_ms, who in said:
        if who not in known:
            windows = windows_of(start_ms, end_ms)
            whole += end_ms - start_ms
            wrong += (end_ms - start_ms) * (voices.suggest(Piece(0, start_ms, end_ms, tuple(windows), likenesses(pcm, windows))) is not None)
    return wrong, whole


def voices(home: Path, say: Callable[[str], None]) -> None:
    """Figures on the samples with one microphone and on real voices; then the time it takes."""
    if REAL.is_dir():
        say(f"voices, real, reader and jfk: {real_share().told()}")
        wrong, whole = strangers()
        for talk in conversations():
            say(f"voices, labelled, {judged(talk)}")
        say(f"voices, real, four that nobody named: {wrong / whole:.1%} of {whole / 1000:.0f} s suggested (never as sure)")
    else:
        say("voices, real: ../shared/real-speech is not here")
    folder = Path(os.environ.get("TOLDHERE_BENCH_DEMO", home / "demo"))
    if not folder.is_dir():
        say("voices on the samples: run `wer voices` together, or set TOLDHERE_BENCH_DEMO to a copy of a demo archive")
        return
    archive, truth, all_of_them = Archive.open(folder), sample_truth(), Share()
    took = busy = length = 0.0
    with archive._db.read() as connection:
        for row in recordings.everything(connection):
            stretches = truth.get(row.original_name)
            times = custody.times_of_utterances(connection, row.id)
            if not stretches or not times:
                continue
            master = recordings.master_of(connection, row.id)
            said = [(s, e, whose(stretches, s, e)) for _, s, e, _ in times]
            begun, cpu = time.perf_counter(), time.process_time()
            pcm = decode.pcm(archive.rooms.masters.path(master.sha256, master.extension), 0, row.duration_ms)
            share = Share()
            shared(pcm, said, share, dict.fromkeys({who for *_, who in said}, ASKED_MS))
            took, busy = took + time.perf_counter() - begun, busy + time.process_time() - cpu
            length += row.duration_ms / 1000
            say(f"voices, {row.original_name}: {share.told()}")
            for name in ("sure_right", "sure_wrong", "perhaps_right", "perhaps_wrong", "nobody", "two"):
                setattr(all_of_them, name, getattr(all_of_them, name) + getattr(share, name))
    archive.close()
    say(f"voices, samples in all: {all_of_them.told()}; {took / length:.3f} of the recordings' length (budget 0.1), {busy / length:.3f} of processor time")
