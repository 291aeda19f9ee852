"""Integrated loudness and true peak (ITU-R BS.1770, EBU R 128), streaming, by ffmpeg's `ebur128`."""

from __future__ import annotations

import math
from fractions import Fraction

import av.error
import numpy as np
import numpy.typing as npt
from av.audio.frame import AudioFrame
from av.filter import Graph

SILENT_LUFS = -69.9  # the meter's floor is the absolute gate, -70 LUFS: at or below it there is no loudness


class LoudnessMeter:
    """Feed float32 [channels, n] (1 or 2 channels), then read. Memory does not grow."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._layout = "mono" if channels == 1 else "stereo"
        self._at = 0
        self._sample_peak = 0.0
        self._last: dict[str, str] = {}
        self._graph = Graph()
        base = Fraction(1, rate_hz)
        source = self._graph.add_abuffer(sample_rate=rate_hz, format="fltp", layout=self._layout, time_base=base)
        meter = self._graph.add("ebur128", "peak=true:metadata=1:framelog=quiet")
        sink = self._graph.add("abuffersink")
        if rate_hz < 44_100:  # the meter's filters are 0.2 LU off at the low rates of dictation machines
            finer = self._graph.add("aresample", "48000")
            source.link_to(finer)
            finer.link_to(meter)
        else:
            source.link_to(meter)
        meter.link_to(sink)
        self._graph.configure()

    def feed(self, pcm: npt.NDArray[np.float32]) -> None:
        """Take the next samples."""
        if pcm.shape[1] == 0:
            return
        self._sample_peak = max(self._sample_peak, float(np.max(np.abs(pcm))))
        frame = AudioFrame.from_ndarray(np.ascontiguousarray(pcm, dtype=np.float32), format="fltp", layout=self._layout)
        frame.sample_rate = self._rate_hz
        frame.time_base = Fraction(1, self._rate_hz)
        frame.pts = self._at
        self._at += pcm.shape[1]
        self._graph.push(frame)
        self._drain()

    def _drain(self) -> None:
        while True:
            try:
                frame = self._graph.pull()
            except (av.error.BlockingIOError, av.error.EOFError):
                return
            if isinstance(frame, AudioFrame):
                found = frame.metadata
                if "lavfi.r128.I" in found:
                    self._last = dict(found)

    @property
    def loudness_lufs(self) -> float | None:
        """Integrated loudness; None for silence and for less than 0.4 s."""
        text = self._last.get("lavfi.r128.I")
        if text is None or self._at < 0.4 * self._rate_hz:
            return None
        value = float(text)
        return value if math.isfinite(value) and value > SILENT_LUFS else None

    @property
    def true_peak_dbtp(self) -> float | None:
        """True peak of the loudest channel; None for silence."""
        peak = max(float(self._last.get("lavfi.r128.true_peak", "0")), self._sample_peak)
        return 20 * math.log10(peak) if peak > 0 else None


def measure_array(pcm: npt.NDArray[np.float32], rate_hz: int) -> tuple[float | None, float | None]:
    """(loudness in LUFS, true peak in dBTP) of a short piece, float32 [channels, n] or [n]."""
    sound = pcm[np.newaxis, :] if pcm.ndim == 1 else pcm
    meter = LoudnessMeter(rate_hz, sound.shape[0])
    step = rate_hz
    for at in range(0, sound.shape[1], step):
        meter.feed(sound[:, at : at + step])
    return meter.loudness_lufs, meter.true_peak_dbtp
