"""One stretch of a master as samples, found by seeking; nothing before it is kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler

from archive.audio.ffmpeg import pcm_bytes
from archive.audio.mute import samples_down, samples_up
from archive.audio.probe import header
from archive.audio.quality import INVERTED_CORRELATION
from archive.errors import BadInput

Samples = npt.NDArray[np.float32]
LONGEST_MS = 15 * 60_000  # longer windows cost memory that grows with the recording
_EXACT = frozenset({".wav", ".flac"})
_PIECE = 1 << 16
# Holes in damaged files become silence, as in the measuring pass; the first sample is the moment asked for.
_ANCHOR = "aresample=async=1:min_hard_comp=0.020:first_pts=0"


def pcm(path: Path, start_ms: int, end_ms: int, channel: int | None = None, rate_hz: int = 16000, track: int = 0) -> Samples:
    """float32 [n], mono, full scale 1.0, n = length x rate; `channel` from 0, None: the mean of the first two.

    The first sample is the one asked for. Past the end of the recording comes silence. Raises BadInput, BadMedia.
    """
    return pcm_of(path, start_ms, end_ms, () if channel is None else (channel,), rate_hz, track)


def pcm_of(path: Path, start_ms: int, end_ms: int, channels: Sequence[int], rate_hz: int, track: int = 0) -> Samples:
    """As `pcm`, as the mean of several channels (empty: of the first two). `track`: of a file that has several, from 0."""
    if not 0 <= start_ms < end_ms:
        raise BadInput("A stretch must end after it starts, and start at 0 or later.")
    if end_ms - start_ms > LONGEST_MS:
        raise BadInput("That stretch is too long to be read at once.")
    wanted = samples_up(end_ms, rate_hz) - samples_down(start_ms, rate_hz)
    found = _exactly(path, start_ms, end_ms, channels, rate_hz) if path.suffix.lower() in _EXACT else None
    if found is None:
        found = _by_ffmpeg(path, start_ms, end_ms, channels, rate_hz, track)
    if len(found) < wanted:
        found = np.pad(found, (0, wanted - len(found)))
    return np.ascontiguousarray(found[:wanted], dtype=np.float32)


def _pick(available: int, channels: Sequence[int]) -> list[int]:
    chosen = list(channels) or list(range(min(2, available)))
    if not all(0 <= c < available for c in chosen):
        raise BadInput(f"The recording has {available} channel(s), no channel {max(chosen) + 1}.")
    return chosen


def _exactly(path: Path, start_ms: int, end_ms: int, channels: Sequence[int], rate_hz: int) -> Samples | None:
    """WAV and FLAC by sample number. None where the file is damaged, so that ffmpeg may try."""
    try:
        with soundfile.SoundFile(str(path)) as sound:
            chosen = _pick(sound.channels, channels)
            first = min(samples_down(start_ms, sound.samplerate), sound.frames)
            last = min(samples_up(end_ms, sound.samplerate), sound.frames)
            if last < samples_up(end_ms, sound.samplerate) - sound.samplerate // 10:
                return None  # past the end, or a header that was never finished and says 0: ffmpeg reads on
            sound.seek(first)
            resampler = AudioResampler(format="fltp", layout="stereo" if len(chosen) == 2 else "mono", rate=rate_hz)
            out: list[Samples] = []
            left = last - first
            while left > 0:
                block = sound.read(min(_PIECE, left), dtype="float32", always_2d=True)
                if not len(block):
                    return None
                left -= len(block)
                rows = np.nan_to_num(block[:, chosen].T, posinf=1.0, neginf=-1.0)
                rows = rows if len(chosen) <= 2 else rows.mean(axis=0, keepdims=True, dtype=np.float32)
                out += _resampled(resampler, rows, sound.samplerate, rate_hz)
            if sound.samplerate != rate_hz:
                out += [np.asarray(f.to_ndarray(), dtype=np.float32) for f in resampler.resample(None)]
    except (soundfile.LibsndfileError, RuntimeError, OSError):
        return None
    return _together(np.concatenate(out, axis=1)) if out else np.zeros(0, dtype=np.float32)


def _resampled(resampler: AudioResampler, rows: Samples, from_hz: int, to_hz: int) -> list[Samples]:
    if from_hz == to_hz:
        return [rows]
    layout = "stereo" if len(rows) == 2 else "mono"
    frame = AudioFrame.from_ndarray(np.ascontiguousarray(rows, dtype=np.float32), format="fltp", layout=layout)
    frame.sample_rate = from_hz
    return [np.asarray(f.to_ndarray(), dtype=np.float32) for f in resampler.resample(frame)]


def _by_ffmpeg(path: Path, start_ms: int, end_ms: int, channels: Sequence[int], rate_hz: int, track: int) -> Samples:
    chosen = _pick(header(path, None, track).channels, channels)
    if len(chosen) == 2:
        mix, rows = f"pan=stereo|c0=c{chosen[0]}|c1=c{chosen[1]}", 2
    else:
        mix, rows = "pan=mono|c0=" + "+".join(f"{1 / len(chosen):.6f}*c{c}" for c in chosen), 1
    raw = pcm_bytes(path, start_ms / 1000, (end_ms - start_ms) / 1000 + 0.05, f"{mix},{_ANCHOR}", rate_hz, rows, track)
    whole = np.frombuffer(raw[: len(raw) // (4 * rows) * 4 * rows], dtype="<f4").astype(np.float32)
    return _together(whole.reshape(-1, rows).T)


def _together(rows: Samples) -> Samples:
    """One channel from one or two. Two in opposite phase would cancel out: then the first alone (as its flag says)."""
    if len(rows) == 1:
        return np.asarray(rows[0], dtype=np.float32)
    left, right = rows
    norm = float(np.sqrt(np.dot(left, left) * np.dot(right, right)))
    if norm > 0 and float(np.dot(left, right)) <= INVERTED_CORRELATION * norm:
        return np.asarray(left, dtype=np.float32)
    return np.asarray((left + right) / 2, dtype=np.float32)
