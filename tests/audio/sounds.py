"""Real sound files for tests, made on the spot with numpy and ffmpeg."""

from __future__ import annotations

import struct
import subprocess
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import numpy.typing as npt
import soundfile

Samples = npt.NDArray[np.float32]
RATE = 48000


def ffmpeg(*arguments: str | Path) -> None:
    """Run ffmpeg; its errors fail the test."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-nostdin", "-v", "error", "-y", *map(str, arguments)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)


def sine(hz: float, seconds: float, dbfs: float, rate: int = RATE, phase: float = 0.0) -> Samples:
    """A sine of a peak level."""
    t = np.arange(round(seconds * rate)) / rate
    return (10 ** (dbfs / 20) * np.sin(2 * np.pi * hz * t + phase)).astype(np.float32)


def noise(seconds: float, dbfs: float, rate: int = RATE, seed: int = 1) -> Samples:
    """White noise of a root-mean-square level."""
    rng = np.random.default_rng(seed)
    return (10 ** (dbfs / 20) * rng.standard_normal(round(seconds * rate))).astype(np.float32)


def marks(seconds: int, rate: int = RATE) -> Samples:
    """Faint noise with a burst of 20 ms at every whole second, each of its own pitch (500 + 37 n mod 3000 Hz)."""
    out = noise(seconds, -60, rate)
    for second in range(1, seconds):
        burst = sine(500 + second * 37 % 3000, 0.02, -6, rate) * np.hanning(round(0.02 * rate)).astype(np.float32)
        out[second * rate : second * rate + len(burst)] += burst
    return out


def voicelike(seconds: float, rate: int = RATE, seed: int = 3) -> Samples:
    """Something with pitch, formants and syllables, never still: for levels, not for the voice detector."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate)) / rate
    pitch = 120 + 25 * np.sin(2 * np.pi * 0.7 * t) + 10 * np.sin(2 * np.pi * 2.3 * t)
    phase = 2 * np.pi * np.cumsum(pitch) / rate
    tone = sum(np.sin(k * phase) / k for k in range(1, 20))
    syllables = 0.55 + 0.45 * np.sin(2 * np.pi * 3.1 * t)
    return (0.08 * tone * syllables + 0.0005 * rng.standard_normal(len(t))).astype(np.float32)


def write(path: Path, pcm: Samples, rate: int = RATE, subtype: str = "PCM_16") -> Path:
    """A WAV or FLAC (by name) of samples [n] or [channels, n]."""
    soundfile.write(str(path), pcm.T, rate, subtype=subtype)
    return path


def encoded(source: Path, path: Path, *options: str) -> Path:
    """The same sound in another format (by name)."""
    ffmpeg("-i", source, *options, path)
    return path


def liar_wav(path: Path, channels: int) -> Path:
    """About 1 kB that claims `channels` channels."""
    block = min(65535, channels * 2)
    head = struct.pack("<4sI4s4sIHHIIHH", b"RIFF", 1036, b"WAVE", b"fmt ", 16, 1, channels, 48000, 0, block, 16)
    path.write_bytes(head + struct.pack("<4sI", b"data", 1000) + bytes(1000))
    return path


def silent_flac(path: Path, hours: float, rate: int = 8000, told: bool = True) -> Path:
    """Hours of true silence in some 60 kB, written by hand after RFC 9639: frames of one constant subframe.

    `told`: False leaves the number of samples in the header at 0, "unknown" (§8.2).
    """
    block = 65_535
    frames = round(hours * 3600 * rate / block)
    total = frames * block if told else 0
    info = struct.pack(">HH", block, block) + bytes(6) + (rate << 44 | 0 << 41 | 15 << 36 | total).to_bytes(8, "big")
    with open(path, "wb") as stream:
        stream.write(b"fLaC\x80\x00\x00\x22" + info + bytes(16))
        for number in range(frames):
            head = b"\xff\xf8\x74\x08" + chr(number).encode("utf-8", "surrogatepass") + struct.pack(">H", block - 1)
            head += bytes([_crc(head, 8, 0x07)])
            body = head + b"\x00\x00\x00"  # a constant subframe, 16 bits of zero
            stream.write(body + _crc(body, 16, 0x8005).to_bytes(2, "big"))
    return path


def _crc(data: bytes, bits: int, polynomial: int) -> int:
    value, top, mask = 0, 1 << bits - 1, (1 << bits) - 1
    for byte in data:
        value ^= byte << bits - 8
        for _ in range(8):
            value = (value << 1 ^ polynomial if value & top else value << 1) & mask
    return value
