"""Settings: every number has a range, every choice a list; a fault names the file, the key and what is allowed."""

from __future__ import annotations

import math
from dataclasses import fields
from pathlib import Path

import pytest

from archive.errors import BadInput
from archive.settings import CHOICES, RANGES, Settings, load, write


def toml(folder: Path, line: str) -> Path:
    (folder / "archive.toml").write_text(line + "\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    "line",
    ["mute_margin_ms = -400", "chunk_ms = -5", "port = 70000", "port = -1", "clip_loudness_lufs = nan", "clip_loudness_lufs = inf",
     "clip_loudness_lufs = 3", "vocabulary_most = 61", "lease_s = 0", "max_hours = 0", "max_channels = 0", "max_bytes = -1",
     "doubtful_below = 1.5", "cpu_threads = -2", "mute_margin_ms = 0"],
)  # fmt: skip
def test_a_number_out_of_its_range_is_refused(tmp_path: Path, line: str) -> None:
    key = line.split()[0]
    with pytest.raises(BadInput) as told:
        load(toml(tmp_path, line), {})
    low, high = RANGES[key]
    assert f"“{key}” in {tmp_path / 'archive.toml'}" in told.value.message
    assert f"from {low:.10g} to {high:.15g}" in told.value.remedy and "e+" not in told.value.remedy


@pytest.mark.parametrize(
    "line", ["port = true", "chunk_ms = 2000.5", 'port = "many"', "name = 5", 'name = ""', 'compute_type = "fast"', "name = []", "doubtful_below = false"]
)
def test_another_kind_of_value_is_refused(tmp_path: Path, line: str) -> None:
    with pytest.raises(BadInput) as told:
        load(toml(tmp_path, line), {})
    assert line.split()[0] in told.value.message and told.value.remedy


@pytest.mark.parametrize(("key", "text"), [("PORT", "70000"), ("PORT", "x"), ("CLIP_LOUDNESS_LUFS", "nan"), ("CHUNK_MS", "2.5"), ("MODEL", " ")])
def test_the_environment_is_held_to_the_same(tmp_path: Path, key: str, text: str) -> None:
    with pytest.raises(BadInput) as told:
        load(tmp_path, {f"TOLDHERE_{key}": text})
    assert f"TOLDHERE_{key} in the environment" in told.value.message


def test_every_number_has_a_range_and_its_default_lies_in_it(tmp_path: Path) -> None:
    numbers = {f.name: f.default for f in fields(Settings) if isinstance(f.default, int | float)}
    assert set(numbers) == set(RANGES)
    for key, (low, high) in RANGES.items():
        assert low <= numbers[key] <= high
        for edge in (low, high):
            value = float(edge) if isinstance(numbers[key], float) else int(edge)
            assert getattr(load(toml(tmp_path, f"{key} = {value}"), {}), key) == edge
    assert all(getattr(Settings(), key) in allowed for key, allowed in CHOICES.items())


def test_a_file_and_the_environment_over_the_defaults(tmp_path: Path) -> None:
    write(tmp_path, name='Old "Quay"', exhibition="Marigold")
    found = load(tmp_path, {"TOLDHERE_PORT": "0", "TOLDHERE_CLIP_LOUDNESS_LUFS": "-20"})
    assert (found.name, found.exhibition, found.port, found.clip_loudness_lufs) == ('Old "Quay"', "Marigold", 0, -20.0)
    assert math.isclose(found.doubtful_below, Settings().doubtful_below)


def test_the_vocabulary_is_no_longer_than_the_engine_keeps() -> None:
    from archive.speech.whisper import MOST_VOCABULARY

    assert RANGES["vocabulary_most"][1] == MOST_VOCABULARY
