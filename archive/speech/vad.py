"""Where somebody speaks: Silero's voice detector (the copy that faster-whisper brings), streaming in windows."""

from __future__ import annotations

import functools
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import onnxruntime

from archive.errors import Broken

Samples = npt.NDArray[np.float32]
RATE_HZ = 16000
WINDOW = 512
CONTEXT = 64
BATCH = 256  # windows: about 8 s at a time
THRESHOLD = 0.5
LEAVE_THRESHOLD = 0.35
LEAST_SPEECH_MS = 100
LEAST_SILENCE_MS = 500
PAD_MS = 60


@functools.cache
def _session() -> Any:
    model = sorted(Path(str(files("faster_whisper") / "assets")).glob("silero_vad_v*.onnx"))
    if not model:
        raise Broken("The voice detector is missing.", "Install the package faster-whisper again.")
    options = onnxruntime.SessionOptions()
    options.inter_op_num_threads = 1
    options.intra_op_num_threads = 1
    options.enable_cpu_mem_arena = False
    options.log_severity_level = 4
    return onnxruntime.InferenceSession(str(model[-1]), providers=["CPUExecutionProvider"], sess_options=options)


class VoiceActivity:
    """Feed 16 kHz mono float32 in pieces of any length, then `finish()`. Memory: 8 s of sound and the stretches."""

    def __init__(self) -> None:
        self._waiting: list[Samples] = []
        self._held = 0
        self._hidden = np.zeros((1, 1, 128), dtype=np.float32)
        self._cell = np.zeros((1, 1, 128), dtype=np.float32)
        self._context = np.zeros(CONTEXT, dtype=np.float32)
        self._at = 0  # samples judged
        self._fed = 0
        self._start: int | None = None
        self._quiet_from: int | None = None
        self._spans: list[tuple[int, int]] = []

    def feed(self, pcm: Samples) -> None:
        """Take the next samples, [n]."""
        self._waiting.append(pcm)
        self._held += len(pcm)
        self._fed += len(pcm)
        if self._held >= WINDOW * BATCH:
            sound = np.concatenate(self._waiting)
            whole = len(sound) // WINDOW * WINDOW
            self._judge(sound[:whole])
            self._waiting, self._held = [sound[whole:]], len(sound) - whole

    def finish(self) -> list[tuple[int, int]]:
        """Stretches with voice in ms, in order, not touching."""
        if self._held:
            sound = np.concatenate(self._waiting)
            self._judge(np.pad(sound, (0, -len(sound) % WINDOW)))
            self._waiting, self._held = [], 0
        if self._start is not None:
            self._close(self._quiet_from if self._quiet_from is not None else self._fed)
        return _padded(self._spans, self._fed * 1000 // RATE_HZ)

    def _judge(self, sound: Samples) -> None:
        for first in range(0, len(sound), WINDOW * BATCH):
            piece = sound[first : first + WINDOW * BATCH].astype(np.float32, copy=False)
            windows = piece.reshape(-1, WINDOW)
            before = np.concatenate([self._context[np.newaxis], windows[:-1, -CONTEXT:]])
            feeds = {"input": np.concatenate([before, windows], axis=1), "h": self._hidden, "c": self._cell}
            likely, self._hidden, self._cell = _session().run(None, feeds)
            self._context = windows[-1, -CONTEXT:]
            for value in np.asarray(likely).reshape(-1):
                self._step(float(value))

    def _step(self, likely: float) -> None:
        at = self._at
        self._at += WINDOW
        if likely >= THRESHOLD:
            self._quiet_from = None
            if self._start is None:
                self._start = at
        elif likely < LEAVE_THRESHOLD and self._start is not None:
            if self._quiet_from is None:
                self._quiet_from = at
            if at - self._quiet_from >= RATE_HZ * LEAST_SILENCE_MS // 1000:
                self._close(self._quiet_from)

    def _close(self, end: int) -> None:
        if self._start is not None and end - self._start >= RATE_HZ * LEAST_SPEECH_MS // 1000:
            self._spans.append((self._start, end))
        self._start = self._quiet_from = None


def _padded(spans: list[tuple[int, int]], length_ms: int) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for start, end in spans:
        start_ms = max(0, start * 1000 // RATE_HZ - PAD_MS)
        end_ms = min(length_ms, -(-end * 1000 // RATE_HZ) + PAD_MS)
        if found and start_ms <= found[-1][1]:
            found[-1] = (found[-1][0], end_ms)
        elif end_ms > start_ms:
            found.append((start_ms, end_ms))
    return found


def voice_activity(pcm: Samples) -> list[tuple[int, int]]:
    """Stretches with voice of one piece of 16 kHz mono sound, ms from its start."""
    finder = VoiceActivity()
    finder.feed(pcm)
    return finder.finish()
