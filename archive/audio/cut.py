"""Clips that leave: made from a ClearedClip and nothing else."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from archive.audio.clipwriter import write_wav
from archive.audio.decode import LONGEST_MS, pcm_of
from archive.audio.level import set_loudness
from archive.audio.loudness import measure_array
from archive.audio.mute import edge_faded, muted, samples_down
from archive.domain.cleared import ClearedClip
from archive.errors import BadInput, NoSpace

Samples = npt.NDArray[np.float32]
CLIP_RATE_HZ = 48000
LISTENING_LUFS = -18.0  # no published standard for listening posts was found: project choice (CHECKS §2)
CEILING_DBTP = -1.0  # EBU R 128


@dataclass(frozen=True, slots=True)
class Clip:
    """What was written. None where the clip is silent or shorter than 0.4 s."""

    duration_ms: int
    loudness_lufs: float | None
    true_peak_dbtp: float | None


def make_clip(
    clip: ClearedClip,
    source: Path,
    out: Path,
    loudness_lufs: float = LISTENING_LUFS,
    true_peak_dbtp: float = CEILING_DBTP,
) -> Clip:
    """Write the clip as WAV, 48 kHz, 16 bit, mono. Muted stretches hold exact zeros and the length is that of the pieces.

    Pieces are joined without overlap, each with short fades. Raises BadInput, BadMedia, NoSpace; no half file stays.
    """
    sound = set_loudness(clip_samples(clip, source), CLIP_RATE_HZ, loudness_lufs, true_peak_dbtp)
    try:
        write_wav(sound, CLIP_RATE_HZ, out)
    except OSError as trouble:
        out.unlink(missing_ok=True)
        if trouble.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoSpace("There is no room for the clip.") from trouble
        raise
    loudness, peak = measure_array(sound, CLIP_RATE_HZ)
    return Clip(round(len(sound) * 1000 / CLIP_RATE_HZ), loudness, peak)


def clip_samples(clip: ClearedClip, source: Path) -> Samples:
    """The clip's samples at 48 kHz before its loudness is set: pieces in order, muted and faded."""
    if not clip.pieces:
        raise BadInput("A clip needs at least one stretch of sound.")
    if sum(p.end_ms - p.start_ms for p in clip.pieces) > LONGEST_MS:
        raise BadInput("A clip may last 15 minutes at most.")
    mutes = [(m.start_ms, m.end_ms) for m in clip.mutes]
    pieces = []
    for piece in clip.pieces:
        sound = pcm_of(source, piece.start_ms, piece.end_ms, clip.channels, CLIP_RATE_HZ)
        first = samples_down(piece.start_ms, CLIP_RATE_HZ)
        pieces.append(edge_faded(muted(sound, first, CLIP_RATE_HZ, mutes), CLIP_RATE_HZ))
    return np.concatenate(pieces)
