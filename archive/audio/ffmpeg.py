"""The ffmpeg binary: the bundled one (imageio-ffmpeg), else the system's. It reads files and pipes, nothing else."""

from __future__ import annotations

import functools
import shutil
import subprocess
from pathlib import Path

import numpy as np
import numpy.typing as npt

from archive.errors import BadMedia, Broken

# Names of ffmpeg's readers that may open a recording. Playlists, network formats and devices are not among them.
READERS = (
    "wav,w64,aiff,caf,flac,mp3,aac,ogg,mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,asf,amr,ape,wv,au,mpeg,mpegts,tta"
)
DEADLINE_S = 300.0


@functools.cache
def ffmpeg_path() -> str:
    """Path of ffmpeg. Raises Broken where there is none."""
    try:
        import imageio_ffmpeg

        return str(imageio_ffmpeg.get_ffmpeg_exe())
    except (ImportError, RuntimeError):
        found = shutil.which("ffmpeg")
        if found is None:
            raise Broken("ffmpeg is missing.", "Install the package imageio-ffmpeg, or ffmpeg itself.") from None
        return found


def pcm_bytes(path: Path, start_s: float, length_s: float, audio_filter: str, rate_hz: int, channels: int, track: int = 0) -> bytes:
    """32-bit float samples of one stretch, interleaved, as `audio_filter` makes them. Raises BadMedia.

    Seeks in two stages: near, then exactly. One stage loses the first 21 ms of an M4A, `fastseek` is 20 s off in an MP3.
    """
    near_s = max(0.0, start_s - 2.0)
    command = [
        ffmpeg_path(),
        "-nostdin",
        "-v",
        "error",
        "-protocol_whitelist",
        "file,pipe",
        "-format_whitelist",
        READERS,
    ]
    command += ["-ss", f"{near_s:.6f}", "-i", f"file:{path.resolve()}", "-map", f"0:a:{track}", "-vn", "-sn", "-dn"]
    command += ["-ss", f"{start_s - near_s:.6f}", "-t", f"{length_s:.6f}", "-af", audio_filter]
    command += ["-ac", str(channels), "-ar", str(rate_hz), "-f", "f32le", "pipe:1"]
    try:
        done = subprocess.run(command, capture_output=True, timeout=DEADLINE_S, check=False)
    except subprocess.TimeoutExpired:
        raise BadMedia("slow", "Reading this stretch took too long; the file is probably damaged.") from None
    if done.returncode != 0 and not done.stdout:
        raise BadMedia(
            "damaged", "This stretch of the recording cannot be read.", "Check the master on the Upkeep page."
        )
    return done.stdout


@functools.cache
def has_filter(name: str) -> bool:
    """True where this machine's ffmpeg has the filter."""
    done = subprocess.run(
        [ffmpeg_path(), "-hide_banner", "-filters"], stdin=subprocess.DEVNULL, capture_output=True, timeout=DEADLINE_S, check=False
    )
    return any(name.encode("ascii") in line.split()[1:2] for line in done.stdout.splitlines())


def filtered(pcm: npt.NDArray[np.float32], rate_hz: int, audio_filter: str) -> npt.NDArray[np.float32]:
    """Mono float32 [n] through a filter, by pipes alone: no speech is written to a disk. Raises Broken."""
    sound = ["-f", "f32le", "-ar", str(rate_hz), "-ac", "1"]
    command = [ffmpeg_path(), "-nostdin", "-v", "error", "-protocol_whitelist", "pipe", *sound, "-i", "pipe:0"]
    command += ["-af", audio_filter, *sound, "pipe:1"]
    try:
        done = subprocess.run(
            command, input=pcm.astype("<f4").tobytes(), capture_output=True, timeout=DEADLINE_S, check=False
        )
    except subprocess.TimeoutExpired:
        raise Broken("Changing this sound took too long.", "Try again when the machine has less to do.") from None
    if done.returncode != 0:
        raise Broken("ffmpeg could not change this sound.", "Install the package imageio-ffmpeg anew.")
    return np.frombuffer(done.stdout[: len(done.stdout) // 4 * 4], dtype="<f4").astype(np.float32)
