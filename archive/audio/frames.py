"""Decoding packet by packet, anchored on the file's own time stamps. One bad packet costs itself, not the rest.

The recording's clock: 0 is the container's start time; a hole in the time stamps is silence, never a shift.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import av.error
import numpy as np
import numpy.typing as npt
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.container import InputContainer
from av.packet import Packet

from archive.audio.probe import Caps, open_sound, sound_stream, too_long
from archive.errors import BadMedia

Samples = npt.NDArray[np.float32]
HOLE_MS = 20  # time stamps of some containers are rounded to a millisecond or a frame; less than this is no hole
BLOCK_MS = 500
MOST_OVER = 1000.0  # 60 dB over full scale: floating-point files of no microphone hold any number
MOST_DAMAGE = 200
MOST_FAILURES = 1000  # in a row, of the reader itself: then what follows is not sound

_SCALE = {"u8": 128.0, "s16": 32768.0, "s32": 2147483648.0, "s64": 9223372036854775808.0}


@dataclass(frozen=True, slots=True)
class Block:
    """Samples [channels, n] from sample `at` on; `pcm` is None for a hole of `length` samples."""

    at: int
    length: int
    pcm: Samples | None


@dataclass(slots=True)
class Damage:
    """Where a file is not as it should be, in ms, with a person's words."""

    start_ms: int
    end_ms: int
    words: str


class FrameReader:
    """Streams one file as blocks of about half a second. Memory does not grow with length."""

    def __init__(self, path: Path, caps: Caps, track: int | None = 0) -> None:
        self._path = path
        self._track = track
        self._caps = caps
        self.rate_hz = 0
        self.channels = 0
        self.samples = 0
        self.packets = 0
        self.bad_packets = 0
        self.damage: list[Damage] = []

    def blocks(self) -> Iterator[Block]:
        """All sound of the file in order. Raises BadMedia (over_caps) as soon as a cap is passed."""
        waiting: list[Samples] = []
        held = 0
        with open_sound(self._path) as container:
            stream = sound_stream(container, self._track)
            start_s = _start_s(container, stream)
            for frame in self._frames(container, stream):
                if not self._fits(frame):
                    continue
                hole = self._hole(frame, stream, start_s)
                if hole:
                    if waiting:
                        yield Block(self.samples - held, held, np.concatenate(waiting, axis=1))
                        waiting, held = [], 0
                    yield Block(self.samples, hole, None)
                    self._advance(hole)
                pcm = to_float(frame)
                waiting.append(pcm)
                held += pcm.shape[1]
                self._advance(pcm.shape[1])
                if held >= self.rate_hz * BLOCK_MS // 1000:
                    yield Block(self.samples - held, held, np.concatenate(waiting, axis=1))
                    waiting, held = [], 0
        if waiting:
            yield Block(self.samples - held, held, np.concatenate(waiting, axis=1))

    @property
    def position_ms(self) -> int:
        """How far the recording was read."""
        return self.samples * 1000 // self.rate_hz if self.rate_hz else 0

    def _advance(self, count: int) -> None:
        self.samples += count
        if self.position_ms > self._caps.max_duration_ms:
            raise too_long(self.position_ms, self._caps)

    def _fits(self, frame: AudioFrame) -> bool:
        channels = len(frame.layout.channels)
        if not self.rate_hz:
            self.rate_hz, self.channels = frame.sample_rate, channels
            if channels > self._caps.max_channels or self.rate_hz > self._caps.max_rate_hz:
                raise BadMedia(
                    "over_caps",
                    f"The sound has {channels} channels and {self.rate_hz} samples a second, which is over the limits.",
                    "It is probably damaged. Copy it again, or convert it.",
                )
        if frame.sample_rate == self.rate_hz and channels == self.channels:
            return True
        self._note("The sound changes its form here; this moment was left silent.")
        return False

    def _hole(self, frame: AudioFrame, stream: AudioStream, start_s: float) -> int:
        """Samples of silence before this frame, from its time stamp; 0 where it follows on."""
        base = frame.time_base or stream.time_base
        if frame.pts is None or base is None:
            return 0
        at = round((float(frame.pts * base) - start_s) * self.rate_hz)
        missing = at - self.samples
        if missing * 1000 <= HOLE_MS * self.rate_hz:
            return 0
        if self.samples:
            end_ms = at * 1000 // self.rate_hz
            self._add(
                Damage(
                    self.position_ms, end_ms, f"{(end_ms - self.position_ms) / 1000:.2f} s of sound are missing here."
                )
            )
        return missing

    def _frames(self, container: InputContainer, stream: AudioStream) -> Iterator[AudioFrame]:
        for packet in self._packets(container, stream):
            if packet.size:
                self.packets += 1
            try:
                frames = packet.decode()
            except (av.error.FFmpegError, ValueError):
                self.bad_packets += 1
                self._note("A piece of the file cannot be read here.")
                continue
            for frame in frames:
                if isinstance(frame, AudioFrame):
                    if frame.is_corrupt:
                        self.bad_packets += 1
                        self._note("A piece of the file is damaged here.")
                    yield frame

    def _packets(self, container: InputContainer, stream: AudioStream) -> Iterator[Packet[AudioStream]]:
        failures = 0
        while failures < MOST_FAILURES:
            try:
                for packet in container.demux(stream):
                    failures = 0
                    yield packet
                return
            except av.error.EOFError:
                return
            except av.error.FFmpegError:
                failures += 1
                self.bad_packets += 1
                self._note("A piece of the file cannot be read here.")

    def _note(self, words: str) -> None:
        self._add(Damage(self.position_ms, self.position_ms + 50, words))

    def _add(self, new: Damage) -> None:
        if self.damage and new.start_ms - self.damage[-1].end_ms <= 100:
            self.damage[-1].end_ms = max(self.damage[-1].end_ms, new.end_ms)
        elif len(self.damage) < MOST_DAMAGE:
            self.damage.append(new)
        else:
            self.damage[-1].end_ms = new.end_ms
            self.damage[-1].words = "From here on the file is damaged in many places."


def to_float(frame: AudioFrame) -> Samples:
    """Samples of one frame as float32 [channels, n], full scale 1.0."""
    raw = frame.to_ndarray()
    channels = len(frame.layout.channels)
    if not frame.format.is_planar:
        raw = raw.reshape(-1, channels).T
    name = frame.format.name.removesuffix("p")
    if name in ("flt", "dbl"):
        given = np.nan_to_num(np.ascontiguousarray(raw, dtype=np.float32), nan=0.0, posinf=1.0, neginf=-1.0)
        return np.clip(given, -MOST_OVER, MOST_OVER)
    pcm = np.ascontiguousarray(raw, dtype=np.float32)
    if name == "u8":
        pcm = pcm - 128.0
    return np.asarray(pcm / np.float32(_SCALE[name]), dtype=np.float32)


def _start_s(container: InputContainer, stream: AudioStream) -> float:
    if len(container.streams) == 1 and stream.start_time is not None and stream.time_base is not None:
        return float(stream.start_time * stream.time_base)
    return container.start_time / 1_000_000 if container.start_time is not None else 0.0
