"""Short edits in pydub's hands: samples to a 16-bit WAV without any metadata."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

import numpy as np
import numpy.typing as npt

from archive.audio.ffmpeg import ffmpeg_path

with warnings.catch_warnings():  # at import pydub warns of its own old syntax and of an ffmpeg it then is given below
    warnings.simplefilter("ignore")
    from pydub import AudioSegment


def segment(pcm: npt.NDArray[np.float32], rate_hz: int) -> AudioSegment:
    """Mono float32 [n] as a pydub segment of 16 bits; exact zeros stay exact zeros."""
    AudioSegment.converter = ffmpeg_path()
    whole = np.clip(np.rint(pcm.astype(np.float64) * 32767.0), -32768, 32767).astype("<i2")
    return AudioSegment(data=whole.tobytes(), sample_width=2, frame_rate=rate_hz, channels=1)


def write_wav(pcm: npt.NDArray[np.float32], rate_hz: int, out: Path) -> None:
    """Write a WAV of 16 bits. The caller hands a staging path and deals with what is half done."""
    out.write_bytes(wav_bytes(pcm, rate_hz))


def wav_bytes(pcm: npt.NDArray[np.float32], rate_hz: int) -> bytes:
    """A WAV of 16 bits."""
    stream = io.BytesIO()
    segment(pcm, rate_hz).export(stream, format="wav")
    return stream.getvalue()
