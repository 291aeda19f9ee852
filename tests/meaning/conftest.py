"""One encoder for all tests of a session."""

from __future__ import annotations

import pytest

from archive.meaning.encoder import Encoder
from archive.speech import models
from tests.conftest import Once
from tests.needs import nearest_model


@pytest.fixture(scope="session")
def nearest(once: Once) -> models.ModelFolder:
    """The model for nearness in meaning, put together and summed once."""
    return models.find(models.NEAREST, nearest_model(once), models.MEANING)


@pytest.fixture(scope="session")
def encoder(nearest: models.ModelFolder) -> Encoder:
    return Encoder(nearest.path, nearest.model_sha256)
