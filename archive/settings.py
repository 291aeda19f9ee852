"""Frozen settings: defaults < archive.toml of the archive folder < environment (TOLDHERE_<NAME>)."""

from __future__ import annotations

import json
import math
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from archive.domain import languages
from archive.errors import BadInput

FILE_NAME = "archive.toml"


@dataclass(frozen=True, slots=True)
class Settings:
    """What may be set for one archive. Every field is a key of archive.toml and, in capitals, of the environment."""

    name: str = "Told Here"
    exhibition: str = "Exhibition"
    time_zone: str = "Europe/London"
    cooling_off_days: int = 14  # after an interview nothing but safe-keeping and our own computer's listening for so long
    language: str = "en"  # spoken in recordings of which nobody said which language it is
    model: str = "base"
    models_dir: str = ""  # empty: one folder for all archives of this user, where the system keeps such data
    compute_type: str = "int8"  # how the engine reckons: CHOICES
    cpu_threads: int = 0  # 0: as many as there are cores, four at most
    vocabulary_most: int = 40  # entries that prime the engine: the gazetteer, participants, the list of spellings
    chunk_ms: int = 300_000
    lease_s: int = 60
    max_hours: int = 8
    max_channels: int = 8
    max_bytes: int = 8_000_000_000
    mute_margin_ms: int = 120
    mute_bed: str = "noise"  # what is heard where a name is withheld: CHOICES
    draft_mark: str = "beep"  # what a clip says of being a draft: CHOICES
    clip_loudness_lufs: float = -18.0  # project choice for listening posts; no published standard found
    doubtful_below: float = 0.5
    idle_minutes: int = 60  # after so long without a request somebody signs in anew
    session_hours: int = 12  # and after so long in any case
    without_undertaking: str = "told"  # a helper whose signed paper of confidentiality is not on record: CHOICES
    erasure_wait_days: int = 14  # between asking for an erasure and carrying it out, unless a second keeper agrees
    host: str = "127.0.0.1"
    port: int = 8470

    @property
    def zone(self) -> ZoneInfo:
        """The archive's time zone. Consent is decided by its days."""
        return ZoneInfo(self.time_zone)


# Lowest and highest value of each number (project choice where no reason stands beside it).
RANGES: dict[str, tuple[float, float]] = {
    "cooling_off_days": (0, 365),
    "cpu_threads": (0, 256),
    "vocabulary_most": (0, 60),  # the engine keeps no more (speech/whisper.py, MOST_VOCABULARY)
    "chunk_ms": (1_000, 450_000),  # a chunk may grow to twice this where nobody pauses, and fifteen minutes are decoded at most
    "lease_s": (2, 3_600),
    "max_hours": (1, 24),  # a WAV of 4 GB holds no more at the rate that pages play
    "max_channels": (1, 64),
    "max_bytes": (1_000_000, 1_000_000_000_000),
    "mute_margin_ms": (20, 2_000),  # a word's time is a guess: without a margin the first consonant of a name is heard
    "clip_loudness_lufs": (-40, -9),
    "doubtful_below": (0, 1),
    "idle_minutes": (5, 1_440),
    "session_hours": (1, 168),
    "erasure_wait_days": (1, 90),
    "port": (0, 65_535),
}
CHOICES: dict[str, tuple[str, ...]] = {
    "compute_type": ("int8", "int8_float32", "float32"),  # what runs on processors
    "mute_bed": ("noise", "silence"),
    "draft_mark": ("beep", "none"),
    "without_undertaking": ("told", "refused"),
}
MAY_BE_EMPTY = frozenset({"models_dir"})
_KINDS = {str: "text in quotation marks", int: "a whole number", float: "a number"}


def load(folder: Path, environ: Mapping[str, str] = os.environ) -> Settings:
    """Settings of the archive in `folder`. Raises BadInput naming the key that cannot be read, and what it may be."""
    values: dict[str, Any] = {}
    path = folder / FILE_NAME
    if path.exists():
        try:
            values.update(tomllib.loads(path.read_text(encoding="utf-8")))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise BadInput(f"{path} cannot be read: {error}.", "Mend the line named and start again.") from error
    known: dict[str, type] = {f.name: type(f.default) for f in fields(Settings)}
    unknown = sorted(set(values) - set(known))
    if unknown:
        raise BadInput(f"{path} has keys that are not settings: {', '.join(unknown)}.", "Remove them, or see DEVELOPERS.md.")
    for key, kind in known.items():
        text = environ.get(f"TOLDHERE_{key.upper()}")
        if text is not None:
            values[key] = _checked(key, _parsed(text, kind), kind, f"TOLDHERE_{key.upper()} in the environment")
        elif key in values:
            values[key] = _checked(key, values[key], kind, f"“{key}” in {path}")
    settings = Settings(**values)
    try:
        _ = settings.zone
    except Exception as error:
        raise BadInput(f"“{settings.time_zone}” is no time zone.", "Write one like Europe/London.") from error
    try:
        return replace(settings, language=languages.tag(settings.language))
    except BadInput as error:
        raise BadInput(f"“{settings.language}” is no language.", error.remedy) from None


def _parsed(text: str, kind: type) -> Any:
    try:
        return kind(text)
    except ValueError:
        return text


def _checked(key: str, value: Any, kind: type, where: str) -> Any:
    """The value, of its kind and within its range. Raises BadInput."""
    if kind is float and type(value) is int:
        value = float(value)
    exactly = type(value) is kind  # True is no 1, and 2.5 is no 2
    if not exactly:
        raise BadInput(f"{where} must be {_KINDS[kind]}.", _allowed(key))
    if key in RANGES:
        low, high = RANGES[key]
        if not (math.isfinite(value) and low <= value <= high):
            raise BadInput(f"{where} is {value}, which it cannot be.", _allowed(key))
    elif key in CHOICES and value not in CHOICES[key]:
        raise BadInput(f"{where} is “{value}”, which it cannot be.", _allowed(key))
    elif kind is str and not value.strip() and key not in MAY_BE_EMPTY:
        raise BadInput(f"{where} is empty.", "Fill it in.")
    return value


def _allowed(key: str) -> str:
    if key in RANGES:
        low, high = RANGES[key]
        return f"Write a number from {low:.10g} to {high:.15g}."
    return f"Write one of: {', '.join(CHOICES[key])}." if key in CHOICES else "Correct it and start again."


def write(folder: Path, **values: str) -> None:
    """Write archive.toml with the values that `init` asks for."""
    lines = [f"{key} = {_toml(value)}" for key, value in values.items()]
    (folder / FILE_NAME).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _toml(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)  # a JSON string is a TOML basic string
