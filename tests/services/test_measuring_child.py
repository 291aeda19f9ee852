"""Measuring in a child: the same answer, and words where the child dies."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from archive.audio.measure import measure
from archive.audio.probe import Caps
from archive.errors import BadMedia
from archive.services.measuring import measure_in_child
from archive.speech.vad import VoiceActivity
from tests.audio import sounds


def test_the_child_says_what_the_pass_says(tmp_path: Path) -> None:
    path = sounds.write(tmp_path / "-ü b.wav", sounds.voicelike(5))
    assert measure_in_child(path) == measure(path, Caps(), VoiceActivity)


def test_a_refusal_comes_back_with_its_words(tmp_path: Path) -> None:
    path = sounds.liar_wav(tmp_path / "liar.wav", 65_535)
    with pytest.raises(BadMedia) as caught:
        measure_in_child(path)
    assert caught.value.code == "over_caps" and "65535" in caught.value.message and caught.value.remedy


def test_caps_reach_the_child(tmp_path: Path) -> None:
    path = sounds.write(tmp_path / "a.wav", sounds.voicelike(3))
    with pytest.raises(BadMedia) as caught:
        measure_in_child(path, Caps(max_duration_ms=2_000))
    assert caught.value.code == "over_caps"


def test_too_slow_is_a_finding(tmp_path: Path) -> None:
    path = sounds.silent_flac(tmp_path / "a.flac", 2)
    with pytest.raises(BadMedia) as caught:
        measure_in_child(path, seconds=1.5)
    assert caught.value.code == "damaged" and "time or memory" in caught.value.message


@pytest.mark.skipif(sys.platform == "win32", reason="memory limits of POSIX")
def test_too_much_memory_is_a_finding(tmp_path: Path) -> None:
    path = sounds.write(tmp_path / "a.wav", sounds.voicelike(3))
    with pytest.raises(BadMedia) as caught:
        measure_in_child(path, memory_bytes=300 << 20)
    assert caught.value.code == "damaged" and "time or memory" in caught.value.message
