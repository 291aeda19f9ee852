"""What a voice is like, as 192 numbers a window: CAM++ (speech/data, Apache-2.0) on Kaldi's filter banks.

These numbers are personal data: they tell voices apart. They live inside one interview and go once it is decided who speaks.
"""

from __future__ import annotations

import functools
import hashlib
import os
from collections.abc import Iterable, Sequence
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt
import onnxruntime

from archive.errors import Broken

Samples = npt.NDArray[np.float32]
Vectors = npt.NDArray[np.float32]

RATE_HZ = 16000
SIZE = 192
WINDOW_MS = 1500
HOP_MS = 750
LEAST_MS = 300  # shorter than this nothing is heard of a voice
MODEL = "campplus-voices.onnx"
SHA256 = "443985e9bca33dc17b6c31f35356019b86fddc2f9de8029ab4126b2c476125ac"
_BATCH = 32
_FRAME, _STEP, _FFT, _BANKS = 400, 160, 512, 80  # samples of 25 and 10 ms
_LOW_HZ, _EMPHASIS, _POVEY = 20.0, 0.97, 0.85


def windows_of(start_ms: int, end_ms: int) -> list[tuple[int, int]]:
    """Windows (ms) that cover a stretch of speech: 1.5 s every 0.75 s; one alone where it is shorter; none below LEAST_MS."""
    if end_ms - start_ms < LEAST_MS:
        return []
    if end_ms - start_ms <= WINDOW_MS:
        return [(start_ms, end_ms)]
    starts = range(start_ms, end_ms - WINDOW_MS + 1, HOP_MS)
    found = [(s, s + WINDOW_MS) for s in starts]
    if found[-1][1] < end_ms - HOP_MS // 4:
        found.append((end_ms - WINDOW_MS, end_ms))
    return found


def features(pcm: Samples) -> Samples:
    """Kaldi's log filter banks of 16 kHz sound [n] at full scale 1.0: float32 [frames, 80], a frame each whole 10 ms.

    25 ms, Povey window, pre-emphasis 0.97, the mean of each frame removed, 80 banks of 20-8000 Hz, no dither (feature-fbank.cc).
    """
    count = max(0, 1 + (len(pcm) - _FRAME) // _STEP)
    if not count:
        return np.zeros((0, _BANKS), dtype=np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(pcm.astype(np.float64) * 32768, _FRAME)[::_STEP][:count]
    frames = frames - frames.mean(axis=1, keepdims=True)
    before = np.concatenate([frames[:, :1], frames[:, :-1]], axis=1)
    spectrum = np.fft.rfft((frames - _EMPHASIS * before) * _window(), _FFT)[:, :-1]
    energy = np.square(np.abs(spectrum)) @ _banks()
    return np.log(np.maximum(energy, np.finfo(np.float32).eps)).astype(np.float32)


@functools.cache
def _window() -> npt.NDArray[np.float64]:
    turn = 2 * np.pi * np.arange(_FRAME) / (_FRAME - 1)
    return np.asarray((0.5 - 0.5 * np.cos(turn)) ** _POVEY, dtype=np.float64)


@functools.cache
def _banks() -> npt.NDArray[np.float64]:
    """[256, 80]: triangles of equal width on the mel scale, 1127 ln(1 + f / 700)."""
    low, high = (1127 * np.log1p(f / 700) for f in (_LOW_HZ, RATE_HZ / 2))
    width = (high - low) / (_BANKS + 1)
    mel = 1127 * np.log1p(np.arange(_FFT // 2) * RATE_HZ / _FFT / 700)
    middle = low + width * np.arange(1, _BANKS + 1)
    return np.asarray(np.maximum(0, 1 - np.abs(mel[:, np.newaxis] - middle) / width), dtype=np.float64)


@functools.cache
def _session() -> Any:
    data = (files("archive.speech") / "data" / MODEL).read_bytes()
    if hashlib.sha256(data).hexdigest() != SHA256:
        raise Broken("The voice model is damaged.", "Install Told Here again.")
    options = onnxruntime.SessionOptions()
    options.inter_op_num_threads = 1
    options.intra_op_num_threads = min(4, os.cpu_count() or 1)
    options.enable_cpu_mem_arena = False
    options.log_severity_level = 4
    return onnxruntime.InferenceSession(data, providers=["CPUExecutionProvider"], sess_options=options)


def likenesses(pcm: Samples, windows: Sequence[tuple[int, int]]) -> Vectors:
    """float32 [windows, 192], each of length 1, of windows (ms from the first sample, each at least LEAST_MS long).

    Two of one voice have a larger dot product than two of different ones. Raises Broken where the model is missing or damaged.
    """
    found = np.zeros((len(windows), SIZE), dtype=np.float32)
    by_length: dict[int, list[tuple[int, Samples]]] = {}
    for n, (start_ms, end_ms) in enumerate(windows):
        banks = features(pcm[start_ms * RATE_HZ // 1000 : end_ms * RATE_HZ // 1000])
        if len(banks):
            by_length.setdefault(len(banks), []).append((n, banks - banks.mean(axis=0)))
    for alike in by_length.values():
        for batch in _batches(alike):
            numbers = [n for n, _ in batch]
            (given,) = _session().run(["emb"], {"feats": np.stack([b for _, b in batch])})
            found[numbers] = given / np.maximum(np.linalg.norm(given, axis=1, keepdims=True), 1e-9)
    return found


def _batches(items: Sequence[tuple[int, Samples]]) -> Iterable[Sequence[tuple[int, Samples]]]:
    return (items[at : at + _BATCH] for at in range(0, len(items), _BATCH))
