"""The one measuring pass at ingest: what a recording is, how loud, where damaged, where somebody speaks."""

from __future__ import annotations

import base64
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler

from archive.audio.bands import Bands, BandTrack
from archive.audio.faults import RepeatFinder, TopFinder, gone
from archive.audio.frames import Block, Damage, FrameReader
from archive.audio.levels import LevelTrack, loudest
from archive.audio.loudness import LoudnessMeter
from archive.audio.peaks import PEAK_MS, PeakTrack
from archive.audio.probe import Caps, Header, clock, header
from archive.audio.quality import LOW_LUFS, ClipFinder, DropoutFinder, Flag, HumFinder, Sums, channel_flags
from archive.domain.soundcheck import shared
from archive.errors import BadMedia

Samples = npt.NDArray[np.float32]
USED_CHANNELS = 2
SPEECH_RATE_HZ = 16000
HOLE_PIECE_S = 10


class Voice(Protocol):
    """Finds voice in 16 kHz mono sound that comes in pieces."""

    def feed(self, pcm: Samples) -> None:
        """Take the next samples."""

    def finish(self) -> list[tuple[int, int]]:
        """Stretches with voice, ms, in order, not touching."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What the measuring pass found. Times in ms of the recording; peaks are int8 pairs (lowest, highest) a step.
    `levels`: one byte a step of audio.levels, the loudest of the channels that are listened to.
    `ears`: one byte a step of audio.bands for each of these channels, how loud it is to an ear.

    `speech_ms`: one list a channel that is listened to (one entry where mono, the same twice, or opposite phase).
    `channels`: as in the file; the first two are listened to.
    """

    container: str
    codec: str
    rate_hz: int
    bit_depth: int | None
    channels: int
    duration_ms: int
    loudness_lufs: float | None
    true_peak_dbtp: float | None
    speech_ms: list[list[tuple[int, int]]]
    damage: list[tuple[int, int, str]]
    flags: list[tuple[str, int | None, int | None, str]]
    peak_ms: int
    peaks: bytes
    levels: bytes
    ears: list[bytes]

    def to_json(self) -> dict[str, Any]:
        """Plain values; peaks, levels and ears as base64."""
        tracks = {name: base64.b64encode(getattr(self, name)).decode("ascii") for name in ("peaks", "levels")}
        return asdict(self) | tracks | {"ears": [base64.b64encode(track).decode("ascii") for track in self.ears]}

    @classmethod
    def from_json(cls, found: dict[str, Any]) -> Measured:
        """The reverse of to_json."""
        values = dict(found)
        values |= {name: base64.b64decode(values[name]) for name in ("peaks", "levels")}
        values["ears"] = [base64.b64decode(track) for track in values["ears"]]
        values["speech_ms"] = [[(int(s), int(e)) for s, e in channel] for channel in values["speech_ms"]]
        values["damage"] = [(int(s), int(e), str(w)) for s, e, w in values["damage"]]
        values["flags"] = [(str(c), s, e, str(w)) for c, s, e, w in values["flags"]]
        return cls(**values)


class _Channel:
    """What one channel is asked."""

    def __init__(self, rate_hz: int, voice: Voice, claims: Header) -> None:
        self.clips = ClipFinder(rate_hz, above_full=claims.codec.startswith("pcm_f"))
        step = 2.0 ** (1 - claims.bit_depth) if claims.bit_depth else 0.0
        self.dropouts = DropoutFinder(rate_hz, step)
        self.repeats = RepeatFinder(rate_hz, step)
        self.tops = TopFinder(rate_hz, step)
        self.flat: list[tuple[int, int]] = []
        self.hum = HumFinder()
        self.levels = LevelTrack()
        self.bands = BandTrack()
        self.heard = Bands(b"", b"", b"")
        self.speech: list[tuple[int, int]] = []
        self._voice = voice
        self._rate_hz = rate_hz
        self._resampler = AudioResampler(format="fltp", layout="mono", rate=SPEECH_RATE_HZ)

    def feed(self, at: int, pcm: Samples) -> None:
        self.clips.feed(at, pcm)
        self.dropouts.feed(at, pcm)
        self.repeats.feed(at, pcm)
        self.tops.feed(at, pcm)
        self.listen(pcm, hum=True)

    def listen(self, pcm: Samples, hum: bool) -> None:
        frame = AudioFrame.from_ndarray(np.ascontiguousarray(pcm[np.newaxis, :]), format="fltp", layout="mono")
        frame.sample_rate = self._rate_hz
        self._hand_on(self._resampler.resample(frame), hum)

    def _hand_on(self, frames: list[AudioFrame], hum: bool) -> None:
        for frame in frames:
            sound = np.asarray(frame.to_ndarray()[0], dtype=np.float32)
            if sound.size:
                self._voice.feed(sound)
                self.levels.feed(sound)
                self.bands.feed(sound)
                if hum:
                    self.hum.feed(sound)

    def finish(self, samples: int, duration_ms: int) -> None:
        self._hand_on(self._resampler.resample(None), hum=False)
        self.clips.finish(samples)
        self.repeats.finish()
        self.flat = self.tops.finish(samples)
        self.heard = self.bands.finish()
        self.speech = [(s, min(e, duration_ms)) for s, e in self._voice.finish() if s < duration_ms]


class _Pass:
    def __init__(self, reader: FrameReader, claims: Header, voice: Callable[[], Voice]) -> None:
        rate = reader.rate_hz
        used = min(USED_CHANNELS, reader.channels)
        self._rate_hz = rate
        self.channels = [_Channel(rate, voice(), claims) for _ in range(used)]
        self.loudness = LoudnessMeter(rate, used)
        self.sums = Sums(used)
        self.peaks = PeakTrack(rate)

    def feed(self, block: Block) -> None:
        if block.pcm is None:
            self._hole(block)
            return
        pcm = block.pcm[: len(self.channels)]
        self.peaks.feed(block.at, pcm, block.length)
        self.loudness.feed(pcm)
        self.sums.feed(pcm)
        for channel, sound in zip(self.channels, pcm, strict=True):
            channel.feed(block.at, sound)

    def _hole(self, block: Block) -> None:
        self.peaks.feed(block.at, None, block.length)
        left = block.length
        while left > 0:  # silence goes to the voice finder so that its clock stays right, in pieces so that memory does
            piece = np.zeros(min(left, HOLE_PIECE_S * self._rate_hz), dtype=np.float32)
            left -= len(piece)
            for channel in self.channels:
                channel.listen(piece, hum=False)


def measure(path: Path, caps: Caps, voice: Callable[[], Voice], track: int | None = None) -> Measured:
    """Read the whole file once, packet by packet. `voice` makes one voice finder a channel. Raises BadMedia.

    `track`: which sound track, from 0; None: the only one, and a file with several is refused.
    """
    claims = header(path, caps, track)
    reader = FrameReader(path, caps, track)
    work: _Pass | None = None
    for block in reader.blocks():
        work = work or _Pass(reader, claims, voice)
        work.feed(block)
    if work is None or reader.samples == 0:
        raise _nothing_heard(reader)
    duration_ms = max(1, reader.position_ms)
    _judge_damage(reader, claims, duration_ms)
    for channel in work.channels:
        channel.finish(reader.samples, duration_ms)
    flags = _flags(work, reader.channels)
    one = len(work.channels) == 1 or any(f.code in ("same_channels", "inverted") for f in flags)
    heard = work.channels[:1] if one else work.channels
    return Measured(
        claims.container,
        claims.codec,
        reader.rate_hz,
        claims.bit_depth,
        reader.channels,
        duration_ms,
        work.loudness.loudness_lufs,
        work.loudness.true_peak_dbtp,
        [channel.speech for channel in heard],
        [(d.start_ms, max(d.end_ms, d.start_ms + 1), d.words) for d in reader.damage],
        [(f.code, f.start_ms, f.end_ms, f.words) for f in flags],
        PEAK_MS,
        work.peaks.finish(),
        loudest([channel.levels.finish() for channel in work.channels]),
        [channel.heard.ear for channel in work.channels],
    )


def _nothing_heard(reader: FrameReader) -> BadMedia:
    if reader.bad_packets:
        return BadMedia(
            "damaged",
            "Nothing in this file can be decoded: it is damaged.",
            "Copy it again from the card. If this is the only copy, keep it and have it repaired.",
        )
    return BadMedia("no_sound", "The file holds no sound at all.", "Look whether the right file was copied.")


def _judge_damage(reader: FrameReader, claims: Header, duration_ms: int) -> None:
    """Refuse what is mostly lost; add to the damage map what ends early or has times in doubt. Raises BadMedia."""
    if reader.packets >= 20 and reader.bad_packets * 2 > reader.packets:
        raise BadMedia(
            "damaged",
            f"More than half of the file cannot be read ({reader.bad_packets} of {reader.packets} pieces).",
            "Copy it again from the card. If this is the only copy, keep it and have it repaired.",
        )
    if claims.exact and claims.duration_ms is not None:
        missing_ms = claims.duration_ms - duration_ms
        if missing_ms * 2 > claims.duration_ms and missing_ms > 1000:
            raise BadMedia(
                "cut_off",
                f"The file was cut off: it says {clock(claims.duration_ms)} but ends at {clock(duration_ms)}.",
                "Copy it again from the card. If this is the only copy, cut what is there into a new file and take that.",
            )
        if missing_ms > 1000:
            words = (
                f"The file says {clock(claims.duration_ms)} but ends here: it was cut off. Copy it again if you can."
            )
            reader.damage.append(Damage(max(0, duration_ms - 1), duration_ms, words))
    if reader.damage and claims.codec.startswith("mp3"):
        reader.damage[0].words += " MP3 keeps no clock of its own: times after this may be off by a moment."


def _gone(work: _Pass, dead: set[str]) -> list[Flag]:
    """Where a side, or all of it, gives nothing for a part."""
    several = len(work.channels) > 1 and not work.sums.same
    found = [gone(channel.heard.ear) for channel in work.channels[: 1 + several]]
    all_of_it = shared(found[0], found[-1])
    flags = [Flag("gone", s, e, "No sound came from here to there: the microphone or the recorder gave nothing.") for s, e in all_of_it]
    if several and not dead:
        for n, own in enumerate(found):
            words = f"Channel {n + 1} gave no sound from here to there: its microphone was off, or its plug was loose."
            flags += [Flag("gone", s, e, words) for s, e in own if not shared([(s, e)], all_of_it)]
    return flags


def _flags(work: _Pass, channels_in_file: int) -> list[Flag]:
    flags: list[Flag] = []
    several = len(work.channels) > 1
    hums: set[int] = set()
    twice = set(work.channels[0].repeats.stretches) & set(work.channels[-1].repeats.stretches) if several else set()
    flags += [Flag("repeated", s, e, "The same piece of sound stands here twice.") for s, e in sorted(twice)]
    for n, channel in enumerate(work.channels):
        if several and n and work.sums.same:
            break  # the second channel would say everything twice
        where = f" on channel {n + 1}" if several and not work.sums.same else ""
        flags += [Flag("clipped", s, e, f"Too loud{where}: the wave is cut off.") for s, e in channel.clips.stretches]
        flags += [Flag("clipped", s, e, f"Too loud when it was recorded{where}, and turned down later: the wave is cut off.") for s, e in channel.flat]
        flags += [Flag("repeated", s, e, f"The same piece of sound stands here twice{where}.") for s, e in channel.repeats.stretches if (s, e) not in twice]
        holes = channel.dropouts.inside(channel.speech)
        flags += [Flag("dropout", s, e, f"A piece of the sound is missing inside speech{where}.") for s, e in holes]
        flags += [Flag("wind", s, e, f"Wind, or a hand on the recorder{where}.") for s, e in channel.heard.windy()]
        base = channel.hum.base_hz()
        if base and base not in hums:
            hums.add(base)
            flags.append(Flag(f"hum_{base}", None, None, f"Hum of the mains ({base} Hz and its harmonics){where}."))
    flags += channel_flags(work.sums)
    flags += _gone(work, {f.words for f in flags if f.code == "dead_channel"})
    loudness = work.loudness.loudness_lufs
    if loudness is None:
        flags.append(Flag("silent", None, None, "The whole recording is silent."))
    elif loudness < LOW_LUFS:
        flags.append(
            Flag("low_level", None, None, f"Very quiet: {loudness:.1f} LUFS, where speech should have about -23.")
        )
    if channels_in_file > USED_CHANNELS:
        words = f"The file has {channels_in_file} channels; only the first two are listened to."
        flags.append(Flag("more_channels", None, None, words))
    return flags
