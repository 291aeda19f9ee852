"""Frozen settings: defaults < archive.toml of the archive folder < environment (TOLDHERE_<NAME>)."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from archive.errors import BadInput

FILE_NAME = "archive.toml"


@dataclass(frozen=True, slots=True)
class Settings:
    """What may be set for one archive. Every field is a key of archive.toml and, in capitals, of the environment."""

    name: str = "Told Here"
    exhibition: str = "Exhibition"
    time_zone: str = "Europe/London"
    model: str = "base"
    models_dir: str = ""  # empty: one folder for all archives of this user, where the system keeps such data
    compute_type: str = "int8"
    cpu_threads: int = 0  # 0: as many as there are cores, four at most
    vocabulary_most: int = 40  # entries that prime the engine: the gazetteer, then participants
    chunk_ms: int = 300_000
    lease_s: int = 60
    max_hours: int = 8
    max_channels: int = 8
    max_bytes: int = 8_000_000_000
    mute_margin_ms: int = 60
    clip_loudness_lufs: float = -18.0  # project choice for listening posts; no published standard found
    doubtful_below: float = 0.5
    host: str = "127.0.0.1"
    port: int = 8470

    @property
    def zone(self) -> ZoneInfo:
        """The archive's time zone. Consent is decided by its days."""
        return ZoneInfo(self.time_zone)


def load(folder: Path, environ: Mapping[str, str] = os.environ) -> Settings:
    """Settings of the archive in `folder`. Raises BadInput naming the key that cannot be read."""
    values: dict[str, Any] = {}
    path = folder / FILE_NAME
    if path.exists():
        try:
            values.update(tomllib.loads(path.read_text(encoding="utf-8")))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise BadInput(f"{FILE_NAME} cannot be read: {error}.", "Mend the line named and start again.") from error
    known: dict[str, Any] = {f.name: type(f.default) for f in fields(Settings)}
    for key in known:
        if (text := environ.get(f"TOLDHERE_{key.upper()}")) is not None:
            values[key] = text
    unknown = sorted(set(values) - set(known))
    if unknown:
        raise BadInput(f"{FILE_NAME} has keys that are not settings: {', '.join(unknown)}.", "Remove them, or see DEVELOPERS.md.")
    for key, value in values.items():
        try:
            values[key] = known[key](value)
        except (TypeError, ValueError) as error:
            raise BadInput(f"The setting “{key}” must be a {known[key].__name__}.", f"Change it in {FILE_NAME}.") from error
    settings = Settings(**values)
    try:
        _ = settings.zone
    except Exception as error:
        raise BadInput(f"“{settings.time_zone}” is no time zone.", "Write one like Europe/London.") from error
    return settings


def write(folder: Path, **values: str) -> None:
    """Write archive.toml with the values that `init` asks for."""
    lines = [f"{key} = {_toml(value)}" for key, value in values.items()]
    (folder / FILE_NAME).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _toml(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)  # a JSON string is a TOML basic string
