"""What a sound file says about itself, believed only within limits."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import av
import av.error
import soundfile
from av.audio.stream import AudioStream
from av.container import InputContainer

from archive.audio.ffmpeg import READERS
from archive.audio.riff import wav_claims
from archive.errors import BadMedia

OPTIONS = {"protocol_whitelist": "file,pipe", "format_whitelist": READERS}
LOSSLESS = frozenset({"flac", "alac", "wavpack", "ape", "tta"})
# First bytes of the files we know, so that a broken recording is told from something that never was one.
_MAGIC = (
    (0, b"RIFF"), (0, b"RF64"), (0, b"fLaC"), (0, b"OggS"), (0, b"ID3"), (0, b"FORM"), (0, b"caff"), (4, b"ftyp"),
    (4, b"moov"), (4, b"mdat"), (0, b"\x1aE\xdf\xa3"), (0, b"\xff\xfb"), (0, b"\xff\xf3"), (0, b"\xff\xf1"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Caps:
    """Limits of one recording (project choice): length, channels, sampling rate, bytes."""

    max_duration_ms: int = 8 * 3_600_000
    max_channels: int = 8
    max_rate_hz: int = 192_000
    max_bytes: int = 8_000_000_000


@dataclass(frozen=True, slots=True)
class Header:
    """What a file claims. `duration_ms`: None where it does not say; `exact`: it counts samples rather than guessing."""

    container: str
    codec: str
    rate_hz: int
    bit_depth: int | None
    channels: int
    duration_ms: int | None
    exact: bool


def open_sound(path: Path) -> InputContainer:
    """Open a file with the readers we allow and no network. Raises BadMedia (empty, not_sound, damaged)."""
    try:
        size = path.stat().st_size
    except OSError as trouble:
        raise BadMedia("unreadable", "The file cannot be read.") from trouble
    if size == 0:
        raise BadMedia("empty", "The file is empty: it holds no bytes at all.", "Copy it again from the card.")
    try:
        return av.open(f"file:{path.resolve()}", mode="r", options=dict(OPTIONS), metadata_errors="replace")
    except (av.error.FFmpegError, ValueError, OSError) as trouble:
        if _known_beginning(path):
            raise BadMedia(
                "damaged",
                "The file begins like a recording but cannot be opened: it is damaged or was cut off.",
                "Copy it again from the card. If this is the only copy, keep it and have it repaired.",
            ) from trouble
        raise BadMedia(
            "not_sound",
            "This is not a sound file, whatever its name says.",
            "Look what it is; take recordings as WAV, FLAC, M4A, MP3, Opus or Ogg.",
        ) from trouble


def sound_stream(container: InputContainer, track: int | None = 0) -> AudioStream:
    """One sound track, from 0; None: the only one. Raises BadMedia (no_sound, several_tracks, no_track)."""
    tracks = container.streams.audio
    if not tracks:
        raise BadMedia("no_sound", "The file has no sound in it.", "Look whether the right file was copied.")
    if track is None and len(tracks) > 1:
        said = "; ".join(f"{n}: {_told_track(stream)}" for n, stream in enumerate(tracks, 1))
        raise BadMedia(
            "several_tracks",
            f"The file has {len(tracks)} sound tracks ({said}), and nobody said which one is the interview.",
            "Listen to them. Then send this file on the page “Take recordings in”, which asks for the track; or write `toldhere ingest FILE --track 1` (or another number).",
        )
    if (track or 0) >= len(tracks):
        raise BadMedia(
            "no_track", f"The file has no sound track {(track or 0) + 1}; it has {len(tracks)}.", "Name one that is there, or leave the track out."
        )
    return tracks[track or 0]


def _told_track(stream: AudioStream) -> str:
    channels = "1 channel" if stream.codec_context.channels == 1 else f"{stream.codec_context.channels} channels"
    language = stream.metadata.get("language", "")
    return f"{channels}, {language}" if re.fullmatch("[a-z]{2,3}", language) and language != "und" else channels


def header(path: Path, caps: Caps | None, track: int | None = 0) -> Header:
    """Read what the file claims and hold it against the caps, decoding nothing. Raises BadMedia.

    Without caps for a master alone: it was held against them when it was taken in, and they may have changed since.
    """
    if caps is not None and path.exists() and path.stat().st_size > caps.max_bytes:
        raise BadMedia(
            "too_big",
            f"The file is larger than the limit of {caps.max_bytes / 1e9:.0f} GB.",
            "Cut it into parts, or raise the limit in archive.toml.",
        )
    claims = wav_claims(path) if path.is_file() else None
    if caps is not None and claims is not None and claims.channels > caps.max_channels:
        raise _too_many_channels(claims.channels, caps)
    with open_sound(path) as container:
        stream = sound_stream(container, track)
        context = stream.codec_context
        found = Header(
            container.format.name.split(",")[0],
            context.name,
            int(stream.rate or 0),
            _bit_depth(path, context.name, context.format.name if context.format else ""),
            int(context.channels),
            claims.duration_ms if claims else _claimed_ms(container, stream),
            container.format.name.split(",")[0] in ("wav", "flac", "mov", "aiff", "w64", "caf"),
        )
    check_caps(found, caps)
    return found


def check_caps(found: Header, caps: Caps | None) -> None:
    """Raises BadMedia (over_caps, no_sound) in a person's words."""
    if found.channels < 1 or found.rate_hz < 1:
        raise BadMedia("no_sound", "The file has no sound in it.", "Look whether the right file was copied.")
    if caps is None:
        return
    if found.channels > caps.max_channels:
        raise _too_many_channels(found.channels, caps)
    if found.rate_hz > caps.max_rate_hz:
        raise BadMedia(
            "over_caps",
            f"The file claims {found.rate_hz} samples a second; the limit is {caps.max_rate_hz}.",
            "It is probably damaged. Copy it again, or convert it.",
        )
    if found.duration_ms is not None and found.duration_ms > caps.max_duration_ms:
        raise too_long(found.duration_ms, caps)


def too_long(duration_ms: int, caps: Caps) -> BadMedia:
    """The error for a recording over the length limit."""
    return BadMedia(
        "over_caps",
        f"The recording is {clock(duration_ms)} long; the limit is {clock(caps.max_duration_ms)}.",
        "Cut it into parts, or raise the limit in archive.toml.",
    )


def clock(ms: int) -> str:
    """Milliseconds as h:mm:ss, for people."""
    seconds = ms // 1000
    return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"


def _too_many_channels(channels: int, caps: Caps) -> BadMedia:
    return BadMedia(
        "over_caps",
        f"The file claims {channels} channels; the limit is {caps.max_channels}.",
        "It is probably damaged. Copy it again, or convert it to one or two channels.",
    )


def _known_beginning(path: Path) -> bool:
    try:
        with open(path, "rb") as stream:
            head = stream.read(64)
    except OSError:
        return False
    return any(head[at : at + len(magic)] == magic for at, magic in _MAGIC)


def _claimed_ms(container: InputContainer, stream: AudioStream) -> int | None:
    if stream.duration is not None and stream.time_base is not None:
        return round(float(stream.duration * stream.time_base) * 1000)
    return None if container.duration is None else round(container.duration / 1000)


def _bit_depth(path: Path, codec: str, sample_format: str) -> int | None:
    """Bits a sample for PCM and lossless codecs; None for lossy ones, which have none."""
    if match := re.match(r"pcm_[a-z]*?(\d+)", codec):
        return int(match.group(1))
    if codec == "flac":
        try:
            return {"PCM_S8": 8, "PCM_16": 16, "PCM_24": 24}.get(soundfile.info(str(path)).subtype, 24)
        except (soundfile.LibsndfileError, RuntimeError):
            pass  # FLAC inside another container: the decoder's format tells
    return (16 if sample_format.startswith("s16") else 24) if codec in LOSSLESS else None
