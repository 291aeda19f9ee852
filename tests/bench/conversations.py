"""Two voices on one microphone, with who speaks known: how the time that nobody named is assigned, and the diarization error.

Who speaks when: mary.wav and bobby.wav by their hand-labelled words (praatIO), jfk.flac and the LibriVox reader by which file a turn comes
from, stereo_diarization.wav by which side speaks; in these two speech is where our own voice activity hears it in the file alone. What is
suggested is looked for in the joined or mixed sound, without knowing any of it. Error as NIST counts it (from memory): missed, false and
confused time over the time spoken, 0.25 s on both sides of every true edge left out; what a person named is left out as well.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from archive.audio import decode
from archive.rules.whose_voice import Piece, Voices
from archive.speech.likeness import RATE_HZ, likenesses, windows_of
from archive.speech.vad import voice_activity

REAL = Path(__file__).resolve().parents[3] / "shared" / "real-speech"
STEP_MS = 10
COLLAR_MS = 250
GAP_MS = 300
Turn = tuple[int, int, str]  # start_ms, end_ms, who


@dataclass
class Talk:
    """One conversation: its sound, who really speaks, and what a person named."""

    name: str
    pcm: np.ndarray
    turns: list[Turn]
    named: list[Turn] = field(default_factory=list)


def words_of(path: Path) -> list[tuple[int, int]]:
    """Words (ms) of the tier “word” of a TextGrid, long or short form."""
    values = re.findall(r'"[^"]*"|(?<![\w.\[])\d+(?:\.\d+)?(?![\w\]])', path.read_text(encoding="utf-8"))
    at = values.index('"word"') + 4  # after the name: first, last, how many
    rows = [values[n : n + 3] for n in range(at, at + 3 * int(values[at - 1]), 3)]
    return [(round(float(a) * 1000), round(float(b) * 1000)) for a, b, text in rows if text.strip('"')]


def joined(name: str, pieces: Sequence[tuple[np.ndarray, list[tuple[int, int]], str]], name_ms: int) -> Talk:
    """Pieces (sound, where somebody speaks in it, who) one after another; the first `name_ms` of each voice, or half, are named."""
    gap, sounds, turns, at = np.zeros(GAP_MS * RATE_HZ // 1000, dtype=np.float32), [], [], 0
    for pcm, spoken, who in pieces:
        sounds += [pcm, gap]
        turns += [(at + s, at + e, who) for s, e in spoken]
        at += len(pcm) * 1000 // RATE_HZ + GAP_MS
    return named(Talk(name, np.concatenate(sounds), turns), name_ms)


def named(talk: Talk, name_ms: int) -> Talk:
    """Name the first turns of each voice up to so many ms; of a voice of a single turn its first half."""
    for who in {w for *_, w in talk.turns}:
        own = [t for t in talk.turns if t[2] == who]
        left = min(name_ms, sum(e - s for s, e, _ in own) // 2)
        for start_ms, end_ms, _ in own:
            if left > 0:
                talk.named.append((start_ms, min(end_ms, start_ms + left), who))
                left -= end_ms - start_ms
    return talk


def conversations() -> list[Talk]:
    """All three."""
    def cut(file: str, stretches: Sequence[tuple[int, int]], who: str) -> list[tuple[np.ndarray, list[tuple[int, int]], str]]:
        return [(decode.pcm(REAL / file, s, e, None, RATE_HZ), [(0, e - s)], who) for s, e in stretches]

    halves = {}
    for who in ("mary", "bobby"):
        words = words_of(REAL / f"{who}.TextGrid")
        half = len(words) // 2
        halves[who] = cut(f"{who}.wav", [(words[0][0], words[half - 1][1]), (words[half][0], words[-1][1])], who)
    short = joined("mary and bobby, by hand-labelled words", [p for pair in zip(halves["mary"], halves["bobby"], strict=True) for p in pair], 10_000)

    def whole(file: str, start_ms: int, end_ms: int, who: str) -> tuple[np.ndarray, list[tuple[int, int]], str]:
        pcm = decode.pcm(REAL / file, start_ms, end_ms, None, RATE_HZ)
        return pcm, voice_activity(pcm), who

    turns = [
        whole("librivox-0870.wav", 0, 7_100, "reader"), whole("jfk.flac", 0, 2_700, "jfk"), whole("librivox-0880.wav", 0, 2_990, "reader"),
        whole("jfk.flac", 2_700, 5_000, "jfk"), whole("librivox-0890.wav", 0, 5_300, "reader"), whole("jfk.flac", 5_000, 8_000, "jfk"),
        whole("librivox-0920.wav", 0, 6_050, "reader"), whole("jfk.flac", 8_000, 11_000, "jfk"), whole("librivox-0930.wav", 0, 3_290, "reader"),
    ]  # fmt: skip
    left, right = (decode.pcm(REAL / "stereo_diarization.wav", 0, 60_000, side, RATE_HZ) for side in (0, 1))
    sides = sorted([(s, e, "left") for s, e in voice_activity(left)] + [(s, e, "right") for s, e in voice_activity(right)])
    return [short, joined("jfk and the reader, turn by turn", turns, 10_000), named(Talk("stereo_diarization.wav mixed down", (left + right) / 2, sides), 10_000)]


def judged(talk: Talk) -> str:
    """Suggest, and count: a line of figures."""
    people = sorted({w for *_, w in talk.turns})
    known = {n: np.concatenate([likenesses(talk.pcm, windows_of(s, e)) for s, e, w in talk.named if w == who]) for n, who in enumerate(people)}
    voices = Voices(known, range(len(people)))
    steps = len(talk.pcm) * 1000 // RATE_HZ // STEP_MS + 1
    true, said, sure, scored = np.zeros(steps, int), np.zeros(steps, int), np.zeros(steps, bool), np.ones(steps, bool)
    for start_ms, end_ms, who in talk.turns:
        true[start_ms // STEP_MS : end_ms // STEP_MS] |= 1 << people.index(who)
    for start_ms, end_ms, _ in talk.named:
        scored[start_ms // STEP_MS : end_ms // STEP_MS] = False
    parts = [p for s, e in voice_activity(talk.pcm) for p in _without(s, e, talk.named)]
    two = 0
    for n, (start_ms, end_ms) in enumerate(parts):
        windows = windows_of(start_ms, end_ms)
        piece = Piece(n, start_ms, end_ms, tuple(windows), likenesses(talk.pcm, windows))
        two += len(piece.vectors) > 0 and voices.two_voices(piece) is not None
        if found := voices.suggest(piece):
            here = slice(start_ms // STEP_MS, end_ms // STEP_MS)
            said[here], sure[here] = 1 << found.person_id, found.sure
    rest = scored & (true > 0)
    right = (said & true) > 0
    shares = {"sure and right": sure & right, "sure and wrong": sure & ~right, "perhaps and right": ~sure & right, "perhaps and wrong": ~sure & ~right & (said > 0), "unassigned": said == 0}
    told = ", ".join(f"{(rest & part).sum() / max(1, rest.sum()):.0%} {what}" for what, part in shares.items())
    for edge in {t for s, e, _ in talk.turns for t in (s, e)}:
        scored[max(0, edge - COLLAR_MS) // STEP_MS : (edge + COLLAR_MS) // STEP_MS] = False
    spoken = scored & (true > 0)
    if not spoken.any():
        return f"{talk.name}: {told}; too short: nothing is left between the edges of turns"
    parts_of_error = {"missed": spoken & (said == 0), "false": scored & (true == 0) & (said > 0), "confused": spoken & (said > 0) & ~right}
    total = int(spoken.sum())
    errors = ", ".join(f"{part.sum() / total:.0%} {what}" for what, part in parts_of_error.items())
    rate = sum(int(part.sum()) for part in parts_of_error.values()) / total
    return (f"{talk.name}: {sum(e - s for s, e, _ in talk.named) / 1000:.1f} s named, {rest.sum() * STEP_MS / 1000:.1f} s not: {told}; perhaps two voices {two} times; "
            f"diarization error {rate:.0%} of {total * STEP_MS / 1000:.1f} s ({errors})")  # fmt: skip


def _without(start_ms: int, end_ms: int, named: Sequence[Turn]) -> list[tuple[int, int]]:
    """What is left of a stretch where the named ones are taken out."""
    left = [(start_ms, end_ms)]
    for s, e, _ in named:
        left = [p for a, b in left for p in ((a, min(b, s)), (max(a, e), b)) if p[1] - p[0] >= 100]
    return left
