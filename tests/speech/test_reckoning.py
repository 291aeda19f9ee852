"""compute_type reaches the engine, stands in the record of the run, and is refused where this machine cannot do it."""

from __future__ import annotations

import pytest

from archive.errors import BadInput
from archive.speech import models
from archive.speech.whisper import WhisperEngine


def test_the_setting_is_what_the_engine_reckons_in(base_model: models.ModelFolder) -> None:
    """Outside truth: what CTranslate2 itself says of the loaded model."""
    engine = WhisperEngine(base_model, compute_type="float32")
    assert engine._whisper.model.compute_type == "float32"
    assert engine.options["compute_type"] == "float32"


def test_what_this_machine_cannot_do_is_said_before_anything_is_loaded(base_model: models.ModelFolder) -> None:
    with pytest.raises(BadInput) as told:
        WhisperEngine(base_model, compute_type="float16")
    assert "float16" in told.value.message and "int8" in told.value.remedy
