"""One engine for all speech tests of a session: loading base takes seconds."""

from __future__ import annotations

import pytest

from archive.speech import models
from archive.speech.whisper import WhisperEngine


@pytest.fixture(scope="session")
def base_model(tmp_path_factory: pytest.TempPathFactory) -> models.ModelFolder:
    """The base weights of the installed packages."""
    return models.find("base", tmp_path_factory.mktemp("models"))


@pytest.fixture(scope="session")
def engine(base_model: models.ModelFolder) -> WhisperEngine:
    """faster-whisper with base; one thread, since two processes share the tests."""
    return WhisperEngine(base_model, cpu_threads=1)
