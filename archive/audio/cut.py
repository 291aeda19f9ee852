"""Clips that leave: made from a ClearedClip and nothing else."""

from __future__ import annotations

import errno
import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from archive.audio import disguise
from archive.audio.bed import with_bed
from archive.audio.beep import with_beeps
from archive.audio.clipwriter import wav_bytes, write_wav
from archive.audio.decode import LONGEST_MS, pcm_of
from archive.audio.level import set_loudness
from archive.audio.loudness import measure_array
from archive.audio.mute import edge_gain, kept_gain, need_silence, samples_down, samples_up, thinned
from archive.domain.cleared import ClearedClip
from archive.errors import BadInput, Broken, NoSpace

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
    bed: bool = True,
    beep: bool = True,
    disguise_seed: int = 0,
) -> Clip:
    """Write the clip as WAV, 48 kHz, 16 bit, mono; its length is that of the pieces. Nothing of the source is in a mute.

    `bed`: made noise in the mutes; `beep`: a draft says so; `disguise_seed`: how far a voice is
    moved that leaves disguised. Raises BadInput, BadMedia, Broken, NoSpace; no half file stays.
    """
    sound = set_loudness(clip_samples(clip, source, bed, disguise_seed), CLIP_RATE_HZ, loudness_lufs, true_peak_dbtp)
    if clip.draft and beep:
        sound = with_beeps(sound, CLIP_RATE_HZ, true_peak_dbtp)
    try:
        write_wav(sound, CLIP_RATE_HZ, out)
    except OSError as trouble:
        out.unlink(missing_ok=True)
        if trouble.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoSpace("There is no room for the clip.") from trouble
        raise
    loudness, peak = measure_array(sound, CLIP_RATE_HZ)
    return Clip(round(len(sound) * 1000 / CLIP_RATE_HZ), loudness, peak)


def clip_samples(clip: ClearedClip, source: Path, bed: bool = False, disguise_seed: int = 0) -> Samples:
    """The clip's samples at 48 kHz before its loudness is set: pieces in order, muted, faded; then, if asked for, the bed.

    Whatever changes the voice comes between the mutes and the bed, and ends with `emptied`. Raises Broken where a mute is not silent.
    """
    if not clip.pieces:
        raise BadInput("A clip needs at least one stretch of sound.")
    if sum(p.end_ms - p.start_ms for p in clip.pieces) > LONGEST_MS:
        raise BadInput("A clip may last 15 minutes at most.")
    raw = [pcm_of(source, p.start_ms, p.end_ms, clip.channels, CLIP_RATE_HZ, clip.track) for p in clip.pieces]
    kept, edges = _gains(clip)
    sound = emptied(np.concatenate(raw), kept, edges)
    if clip.disguised:  # silent before, so that nothing of a name is smeared into what is heard; and again after
        sound = emptied(disguise.disguised(sound, CLIP_RATE_HZ, disguise_seed), kept, edges)
    return with_bed(sound, kept, edges, CLIP_RATE_HZ, _seed(clip)) if bed else sound


def piece_of_clip(clip: ClearedClip, source: Path, start_ms: int, end_ms: int, disguise_seed: int) -> bytes:
    """A stretch of a clip of one piece as a WAV, 48 kHz, 16 bit, mono: the clip's own samples, but for loudness, bed and beeps.
    Silence is easier to check than made noise. Raises as `make_clip` does."""
    (piece,) = clip.pieces
    first, last = samples_down(start_ms, CLIP_RATE_HZ), samples_up(end_ms, CLIP_RATE_HZ)
    begins = samples_down(piece.start_ms, CLIP_RATE_HZ)
    return wav_bytes(clip_samples(clip, source, disguise_seed=disguise_seed)[first - begins : last - begins], CLIP_RATE_HZ)


def emptied(sound: Samples, kept: Samples, edges: Samples) -> Samples:
    """Exact zeros over the mutes and soft edges, looked at again. Raises Broken where that failed."""
    if len(sound) != len(kept):
        raise Broken("The clip has not the length of its pieces; nothing was given.")
    out = thinned(sound, kept * edges)
    need_silence(out, kept)
    return out


def _gains(clip: ClearedClip) -> tuple[Samples, Samples]:
    """For each sample of the clip how much of it stays beside the mutes, and at the edges of its piece."""
    mutes = [(m.start_ms, m.end_ms) for m in clip.mutes]
    spans = [(samples_down(p.start_ms, CLIP_RATE_HZ), samples_up(p.end_ms, CLIP_RATE_HZ)) for p in clip.pieces]
    kept = [kept_gain(last - first, first, CLIP_RATE_HZ, mutes) for first, last in spans]
    return np.concatenate(kept), np.concatenate([edge_gain(last - first, CLIP_RATE_HZ) for first, last in spans])


def _seed(clip: ClearedClip) -> int:
    """The same clip made again has the same noise."""
    told = repr((clip.master_sha256, clip.channels, clip.pieces, clip.mutes))
    return int.from_bytes(hashlib.sha256(told.encode("utf-8")).digest()[:8], "big")
