"""What masks cost: on the page of a three-hour interview, and in the measuring pass."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from archive.app import Archive
from archive.audio import measure as measuring
from archive.audio.levels import LevelTrack
from archive.audio.probe import Caps
from archive.domain.values import Word
from archive.gate.reading import Reading
from archive.speech.vad import VoiceActivity
from tests import cast

UTTERANCES, WORDS = 900, 30
EVERY = 3  # a name in every third utterance


def _best_ms(work: Callable[[], object], times: int = 1) -> float:
    """Of this process's own time, so that a busy machine changes little."""
    found = []
    for _ in range(times):
        begun = time.process_time()
        work()
        found.append((time.process_time() - begun) * 1000)
    return min(found)


def long_interview(home: Path) -> Archive:
    """The cast's archive with an interview of 27,000 words in three hours, a name that is hidden in every third utterance."""
    archive = cast.build(home / "masked")
    media = home / "masked-card"
    media.mkdir()
    noise = np.random.default_rng(1).standard_normal(8000 * 10_800) * 0.01
    soundfile.write(media / "IV-99.flac", noise.astype("float32"), 8000)
    (media / "recordings.csv").write_text(
        "file,interview,part,recorded_on,title,participants\nIV-99.flac,IV-99,1,2025-02-01,Talk,N-21:narrator;N-25:narrator\n", encoding="utf-8"
    )
    archive.ingest.take(cast.EDITOR, [media])
    chance = random.Random(1)
    vocabulary = ["the", "ferry", "river", "came", "and", "we", "went", "down", "to", "Net", "Row", "by", "night", "in", "1968", "with", "bread", "water", "chain", "winter", "boat", "they", "said"]
    lines, at = [], 500
    for n in range(UTTERANCES):
        texts = [chance.choice(vocabulary) for _ in range(WORDS)]
        if n % EVERY == 0:
            texts[10:12] = ["Walter", "Brine"]
        lines.append((("N-21", "N-25")[n % 2], [Word(t, at + k * 380, at + k * 380 + 300, 0.9) for k, t in enumerate(texts)]))
        at += WORDS * 380 + 300
    cast.give_words(archive, "IV-99.1", lines)
    return archive


def masks(home: Path, say: Callable[[str], None]) -> None:
    """A reader's page with its masks and mutes, and the same page as if nothing were hidden. Budget: 20 ms more."""
    archive = long_interview(home)

    def page() -> object:
        return archive.recordings.page(cast.READER, "IV-99.1")

    page()
    shown = page()
    hidden = sum(w.masked for u in shown.shown.utterances for w in u.words)  # type: ignore[attr-defined]
    real = Reading.masks
    whole, plain = [], []
    for _ in range(9):
        whole.append(_best_ms(page))
        Reading.masks = lambda _self: []  # type: ignore[method-assign]
        plain.append(_best_ms(page))
        Reading.masks = real  # type: ignore[method-assign]
    about = f"page of {UTTERANCES * WORDS} words, {hidden} masks: {min(whole):.0f} ms, without any {min(plain):.0f} ms"
    say(f"masks: {about}, so {min(whole) - min(plain):.0f} ms more (budget 20)")
    _levels(home, say)


def _levels(home: Path, say: Callable[[str], None]) -> None:
    """Levels in the measuring pass, of ten minutes of 48 kHz stereo, with the voice finder that ingest uses."""
    sound = np.random.default_rng(2).standard_normal((48_000 * 600, 2)).astype("float32") * 0.05
    path = home / "ten-minutes.wav"
    soundfile.write(path, sound, 48_000)
    took: dict[str, list[float]] = {"with": [], "without": []}
    real = LevelTrack.feed
    for name in ("with", "without", "with", "without"):
        if name == "without":
            LevelTrack.feed = lambda _self, _pcm: None  # type: ignore[method-assign]
        took[name].append(_best_ms(lambda: measuring.measure(path, Caps(), VoiceActivity)) / 1000)
        LevelTrack.feed = real  # type: ignore[method-assign]
    track, pcm = LevelTrack(), np.ascontiguousarray(sound[: 16_000 * 60, 0])
    alone = _best_ms(lambda: [track.feed(pcm[n : n + 8_000]) for n in range(0, len(pcm), 8_000)], 5)
    say(
        f"levels: measuring 10 min of stereo {min(took['with']):.2f} s, without levels {min(took['without']):.2f} s; "
        f"by themselves {alone / 1000 * 60:.2f} s an hour and channel"
    )

