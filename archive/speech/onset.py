"""Where a word really begins after a pause. The engine puts the first word of a stretch at the stretch's very start."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from archive.domain.values import Word
from archive.speech.vad import voice_activity

Samples = npt.NDArray[np.float32]
RATE_HZ = 16000
HOP_MS = 10
PAUSE_MS = 150  # a word after less than this is not a first word
INNER_PAUSE_MS = 300  # no stop consonant is silent for so long: the word begins after it
LEAST_LEFT_MS = 60  # of the word, after its start was moved
LEAD_MS = 20  # soft consonants rise slowly; better a breath early than a sound late
OVER_NOISE_DB = 9.0
UNDER_PEAK_DB = 30.0
AROUND_MS = 500  # of sound on both sides of a word, for the voice detector to settle
VOICE_SLACK_MS = 40  # the voice detector's own edge is 32 ms coarse
STEADY_HOPS = 3


def levels_db(pcm: Samples) -> npt.NDArray[np.float64]:
    """Level of each 10 ms of 16 kHz sound in dB, after a difference that lifts soft consonants over rumble."""
    lifted = np.diff(pcm.astype(np.float64), prepend=0.0) * 2.0 + 0.3 * pcm
    hop = RATE_HZ * HOP_MS // 1000
    whole = lifted[: len(lifted) // hop * hop].reshape(-1, hop)
    return np.asarray(10 * np.log10(np.mean(whole**2, axis=1) + 1e-12), dtype=np.float64)


def move_first_words(words: list[Word], pcm: Samples) -> list[Word]:
    """Words whose start lies in silence moved forward to where the sound begins; ends stay.

    Looked at are words after a pause, and words stretched over one. Times are ms from the start of `pcm`.
    """
    levels = levels_db(pcm)
    floor = float(np.percentile(levels, 10)) if len(levels) else -120.0
    out: list[Word] = []
    for word in words:
        first = not out or word.start_ms - out[-1].end_ms >= PAUSE_MS
        loud = _loud(word, levels, floor)
        if first:
            loud[: _voice_hops(word, pcm)] = False  # a click before the voice is no word
        hops = _onset_hops(loud, first)
        start = (
            word.start_ms if hops is None else max(word.start_ms, (word.start_ms // HOP_MS + hops) * HOP_MS - LEAD_MS)
        )
        start = max(word.start_ms, min(start, word.end_ms - LEAST_LEFT_MS))
        out.append(Word(word.text, start, word.end_ms, word.probability))
    return out


def _loud(word: Word, levels: npt.NDArray[np.float64], floor: float) -> npt.NDArray[np.bool_]:
    """For each 10 ms of the word: does it sound, steadily."""
    part = levels[word.start_ms // HOP_MS : word.end_ms // HOP_MS]
    if not len(part):
        return np.zeros(0, dtype=np.bool_)
    over = part >= max(floor + OVER_NOISE_DB, float(part.max()) - UNDER_PEAK_DB)
    steady = np.zeros_like(over)
    for at in range(len(over) - STEADY_HOPS + 1):
        if over[at : at + STEADY_HOPS].all():
            steady[at : at + STEADY_HOPS] = True
    return steady


def _voice_hops(word: Word, pcm: Samples) -> int:
    """Hops from the word's start to where the voice detector first hears a voice; 0 where it hears none or at once."""
    begin_ms = max(0, word.start_ms - AROUND_MS)
    around = pcm[begin_ms * RATE_HZ // 1000 : (word.end_ms + AROUND_MS) * RATE_HZ // 1000]
    for start, end in voice_activity(around):
        if begin_ms + end > word.start_ms and begin_ms + start < word.end_ms:
            return max(0, begin_ms + start - VOICE_SLACK_MS - word.start_ms) // HOP_MS
    return 0


def _onset_hops(loud: npt.NDArray[np.bool_], first: bool) -> int | None:
    """Hops from the word's start to its onset; None where the start may stay."""
    sounding = np.flatnonzero(loud)
    if not len(sounding):
        return None
    gaps = np.flatnonzero(np.diff(sounding) > INNER_PAUSE_MS // HOP_MS)
    if len(gaps):  # the tail of the word before, a pause, and then this word
        return int(sounding[gaps[0] + 1])
    return int(sounding[0]) if first or sounding[0] > INNER_PAUSE_MS // HOP_MS else None
