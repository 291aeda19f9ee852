"""One loaded engine for the tests that listen to what was muted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from archive.speech.whisper import WhisperEngine


@pytest.fixture(scope="session")
def engine(tmp_path_factory: pytest.TempPathFactory) -> WhisperEngine:
    """faster-whisper with base, from the installed packages; one thread, since two processes share the tests."""
    from archive.speech import models
    from archive.speech.whisper import WhisperEngine

    return WhisperEngine(models.find("base", tmp_path_factory.mktemp("models")), cpu_threads=1)
