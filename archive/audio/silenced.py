"""A new master from an old one in which some of the speech is silent for good: same clock, same channels, same length."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import soundfile

from archive.audio.frames import FrameReader
from archive.audio.mute import kept_gain, need_silence, thinned
from archive.audio.probe import Caps

MOST_FLAC_CHANNELS = 8  # RFC 9639 §9.1.3
FLAC, WAV = "flac", "wav"
_FULL = 2.0**31


def kind_of(codec: str, channels: int) -> str:
    """The extension of the new file: FLAC, which loses nothing; WAV for what FLAC cannot hold (floating point, many channels)."""
    return WAV if channels > MOST_FLAC_CHANNELS or codec.startswith("pcm_f") else FLAC


def make_silenced(
    source: Path, out: Path, gone: Sequence[tuple[int, int]], codec: str, bit_depth: int | None, caps: Caps,
    tell: Callable[[int], None] = lambda ms: None, track: int = 0,
) -> None:  # fmt: skip
    """Write `source` to `out` (its extension by `kind_of`) with exact zeros in `gone` (ms, rounded outwards) and every other sample as it was,
    but for fades of 15 ms outside; of a lossy source as it is decoded.

    Read and written in pieces, so that four hours cost the memory of four minutes. Raises BadMedia, and what `tell` raises.
    """
    reader = FrameReader(source, caps, track)
    sound: soundfile.SoundFile | None = None
    floating = codec.startswith("pcm_f")
    try:
        for block in reader.blocks():
            if sound is None:
                subtype = "FLOAT" if floating else "PCM_16" if (bit_depth or 24) <= 16 else "PCM_24"
                form = "FLAC" if out.suffix == f".{FLAC}" else "RF64"
                sound = soundfile.SoundFile(str(out), "w", reader.rate_hz, reader.channels, subtype, format=form)
            for at in range(0, block.length, reader.rate_hz):
                length = min(reader.rate_hz, block.length - at)
                if block.pcm is None:
                    sound.write(np.zeros((length, reader.channels), dtype=np.float32))
                    continue
                gain = kept_gain(length, block.at + at, reader.rate_hz, gone)
                rows = np.stack([thinned(row, gain) for row in block.pcm[:, at : at + length]])
                for row in rows:
                    need_silence(row, gain)
                # libsndfile scales floats by 32767 on the way out and by 32768 on the way in: whole numbers stay as they are
                whole = np.clip(np.rint(rows.T.astype(np.float64) * _FULL), -_FULL, _FULL - 1).astype(np.int32)
                sound.write(rows.T if floating else whole)
            tell(reader.position_ms)
    finally:
        if sound is not None:
            sound.close()


def make_silent(out: Path, duration_ms: int, rate_hz: int, channels: int) -> None:
    """Write nothing but silence of this length, where a master cannot be read any more: nobody can tell whose sound is in it."""
    with soundfile.SoundFile(str(out), "w", rate_hz, channels, "PCM_16", format="FLAC" if out.suffix == f".{FLAC}" else "RF64") as sound:
        left = duration_ms * rate_hz // 1000
        while left > 0:
            sound.write(np.zeros((min(left, rate_hz), channels), dtype=np.int16))
            left -= rate_hz
