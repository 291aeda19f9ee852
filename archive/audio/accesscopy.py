"""The access copy of a whole recording: Opus (RFC 6716) in Ogg (RFC 7845), 48 kHz, mono or stereo, at one loudness.

Three readings, each in pieces, so that four hours cost the memory of four minutes: how loud the mix is; the copy, with one gain
and a limiter; and the copy itself, read back. It is on the master's clock: Ogg says how many samples the codec needs first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import numpy.typing as npt
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler
from av.audio.stream import AudioStream

from archive.audio.frames import FrameReader
from archive.audio.level import LOOK_MS, MOST_GAIN_DB, limiting_gain, oversampled_peak
from archive.audio.loudness import LoudnessMeter
from archive.audio.probe import Caps

Samples = npt.NDArray[np.float32]
Tell = Callable[[int], None]
RATE_HZ = 48000
CEILING_DBTP = -1.0  # EBU R 128
HEADROOM_DB = 1.0  # the codec moves peaks; what it moved too far is made again, lower
BIT_RATE = {1: 64_000, 2: 112_000}  # speech is transparent well below (RFC 7587 §3.1.1: full-band speech 28–40 kb/s a channel)
MOST_TRIES = 3
READINGS = 3
_PIECE = RATE_HZ // 2
_AROUND = 4 * RATE_HZ * LOOK_MS // 1000 + 64  # what the limiter looks at beyond a piece


@dataclass(frozen=True, slots=True)
class AccessCopy:
    """What was made. None where it is silent or shorter than 0.4 s."""

    channels: int
    loudness_lufs: float | None
    true_peak_dbtp: float | None


def make_access_copy(
    source: Path, out: Path, use: tuple[int, ...], stereo: bool, loudness_lufs: float, caps: Caps, tell: Tell = lambda ms: None
) -> AccessCopy:
    """Write the copy to `out`, a staging path of the caller's; `use`: channels of the source, from 0; `stereo`: two of them side by side.

    `tell` is called about twice for each second of work with ms read so far, of READINGS × the length; what it raises ends
    the making. Raises BadMedia; what is half done is the caller's to remove.
    """
    channels = 2 if stereo else 1
    meter, read_ms = LoudnessMeter(RATE_HZ, channels), 0
    for piece in _mixed(source, use, stereo, caps):
        meter.feed(piece)
        read_ms += piece.shape[1] * 1000 // RATE_HZ
        tell(read_ms)
    whole_ms = read_ms
    gain_db = 0.0 if meter.loudness_lufs is None else min(loudness_lufs - meter.loudness_lufs, MOST_GAIN_DB)
    ceiling_dbtp = CEILING_DBTP - HEADROOM_DB
    for _ in range(MOST_TRIES):
        _encode(_levelled(_mixed(source, use, stereo, caps), gain_db, ceiling_dbtp), out, channels, lambda ms: tell(whole_ms + ms))
        made = measured_copy(out, channels, lambda ms: tell(2 * whole_ms + ms))
        over_db = (made.true_peak_dbtp if made.true_peak_dbtp is not None else CEILING_DBTP) - CEILING_DBTP
        if over_db <= 0:
            break
        ceiling_dbtp -= over_db + 0.2
    return made


def measured_copy(path: Path, channels: int, tell: Tell = lambda ms: None) -> AccessCopy:
    """Loudness and true peak of a finished copy, by decoding it from its start to its end."""
    meter, done = LoudnessMeter(RATE_HZ, channels), 0
    for piece in _mixed(path, tuple(range(channels)), channels == 2, Caps(max_duration_ms=2**31 - 1, max_bytes=2**62)):
        meter.feed(piece)
        done += piece.shape[1]
        tell(done * 1000 // RATE_HZ)
    return AccessCopy(channels, meter.loudness_lufs, meter.true_peak_dbtp)


def _mixed(source: Path, use: tuple[int, ...], stereo: bool, caps: Caps) -> Iterator[Samples]:
    """float32 [1 or 2, n] at 48 kHz in pieces of about half a second, holes as silence: the recording's own clock."""
    reader = FrameReader(source, caps)
    layout = "stereo" if stereo else "mono"
    resampler = AudioResampler(format="fltp", layout=layout, rate=RATE_HZ)
    for block in reader.blocks():
        for rows in _rows(block.pcm, block.length, use, stereo, reader.rate_hz):
            frame = AudioFrame.from_ndarray(rows, format="fltp", layout=layout)
            frame.sample_rate = reader.rate_hz
            yield from (np.asarray(f.to_ndarray(), dtype=np.float32) for f in resampler.resample(frame))
    if reader.rate_hz:
        yield from (np.asarray(f.to_ndarray(), dtype=np.float32) for f in resampler.resample(None))


def _rows(pcm: Samples | None, length: int, use: tuple[int, ...], stereo: bool, rate_hz: int) -> Iterator[Samples]:
    if pcm is None:
        for at in range(0, length, rate_hz):
            yield np.zeros((2 if stereo else 1, min(rate_hz, length - at)), dtype=np.float32)
        return
    chosen = np.nan_to_num(pcm[list(use)], posinf=1.0, neginf=-1.0)
    yield np.ascontiguousarray(chosen if stereo else chosen.mean(axis=0, keepdims=True), dtype=np.float32)


def _levelled(pieces: Iterator[Samples], gain_db: float, ceiling_dbtp: float) -> Iterator[Samples]:
    """The same with one gain, and turned down where peaks would pass the ceiling: as if it were done on the whole at once.

    Two channels are turned down together, so that nobody moves from side to side.
    """
    ceiling, factor = 10 ** (ceiling_dbtp / 20), np.float32(10 ** (gain_db / 20))
    held: Samples | None = None
    before = 0  # samples at the front of `held` that went out already and are looked at once more
    for piece in pieces:
        louder = piece * factor
        held = louder if held is None else np.concatenate([held, louder], axis=1)
        ready = held.shape[1] - _AROUND
        if ready - before >= _PIECE:
            yield _limited(held, ceiling)[:, before:ready]
            cut = max(0, ready - _AROUND)
            held, before = held[:, cut:], ready - cut
    if held is not None and held.shape[1] > before:
        yield _limited(held, ceiling)[:, before:]


def _limited(sound: Samples, ceiling: float) -> Samples:
    gain = limiting_gain(np.max([oversampled_peak(row) for row in sound], axis=0), RATE_HZ, ceiling)
    return sound if gain is None else np.asarray(sound * gain, dtype=np.float32)


def _encode(pieces: Iterator[Samples], out: Path, channels: int, tell: Tell) -> None:
    layout, at = "stereo" if channels == 2 else "mono", 0
    with av.open(str(out), "w", format="ogg") as container:
        stream = container.add_stream("libopus", rate=RATE_HZ, options={"application": "audio", "vbr": "on"})
        assert isinstance(stream, AudioStream)
        stream.layout = layout
        stream.bit_rate = BIT_RATE[channels]
        for piece in pieces:
            interleaved = np.ascontiguousarray(piece.T.reshape(1, -1), dtype=np.float32)
            frame = AudioFrame.from_ndarray(interleaved, format="flt", layout=layout)
            frame.sample_rate, frame.time_base, frame.pts = RATE_HZ, Fraction(1, RATE_HZ), at
            at += piece.shape[1]
            container.mux(stream.encode(frame))
            tell(at * 1000 // RATE_HZ)
        container.mux(stream.encode(None))
