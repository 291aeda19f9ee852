"""What a speech engine is: samples in, words out. Engines open no files and know nothing of recordings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from archive.domain.values import Word

Samples = npt.NDArray[np.float32]
RATE_HZ = 16000
MOST_PLACED_MS = 30_000  # the engine hears so much in one piece


@dataclass(frozen=True, slots=True)
class Doubt:
    """A stretch that a person should hear again, ms from the start of the samples. `code`: repeats | vocabulary | unlikely."""

    code: str
    start_ms: int
    end_ms: int
    words: str


@dataclass(frozen=True, slots=True)
class Heard:
    """Words of one piece of sound, ms from its start; what is doubtful; what was passed over as silent."""

    words: tuple[Word, ...]
    doubts: tuple[Doubt, ...] = ()
    skipped_ms: tuple[tuple[int, int], ...] = ()


class Engine(Protocol):
    """Turns 16 kHz mono float32 samples into words."""

    @property
    def name(self) -> str:
        """Name of the engine and model."""

    @property
    def model_sha256(self) -> str:
        """Checksum of the weights."""

    @property
    def options(self) -> dict[str, Any]:
        """Everything that decides the words, to be kept beside them."""

    def hear(
        self, pcm: Samples, language: str, vocabulary: Sequence[str] = (), speech_ms: Sequence[tuple[int, int]] | None = None
    ) -> Heard:
        """Words with times, and what is doubtful about them. `speech_ms`: where somebody speaks, as it was measured once."""

    def transcribe(self, pcm: Samples, language: str, vocabulary: Sequence[str] = ()) -> list[Word]:
        """The words alone."""

    def place(self, pcm: Samples, language: str, texts: Sequence[str]) -> list[tuple[int, int] | None]:
        """When each of these words, said in this order, is heard (ms from the start); None where it could not be placed.
        `pcm`: MOST_PLACED_MS at most."""
