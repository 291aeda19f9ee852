"""The words of forms and letters in one language: a file (TOML) a language, those of the archive's own folder before ours."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from archive.domain.languages import tag
from archive.errors import BadInput

FOLDER = "wording"
ENDING = ".toml"
README = (
    "The words of forms and letters, a file for each language: en.toml for English. Change them here, or add a language by copying a file and\n"
    "translating what stands in quotation marks; what stands in {braces} stays as it is. A file that lacks a sentence is told by name when a form is\n"
    "made. Have them read by somebody who knows your law: they are no legal advice.\n"
)


class Wording:
    """The words of one language: called with a part and a key, it gives the sentence. `where`: the file, for people."""

    def __init__(self, language: str, said: Mapping[str, Any], where: str) -> None:
        self.language, self._said, self._where = language, said, where

    def __call__(self, part: str, key: str) -> str:
        found = self._look(part, key)
        if not isinstance(found, str):
            raise self._missing(part, key)
        return found

    def some(self, part: str, key: str) -> tuple[str, ...]:
        """The sentences of a list."""
        found = self._look(part, key)
        if not isinstance(found, list) or not all(isinstance(one, str) for one in found):
            raise self._missing(part, key)
        return tuple(found)

    def use(self, code: str, label: str) -> tuple[str, str]:
        """A use of the archive's list: what it is called, and what it means in a plain sentence; what the archive added stands as it is."""
        found = self._said.get("uses", {}).get(code)
        if isinstance(found, list) and len(found) == 2:
            return str(found[0]), str(found[1])
        return label[:1].upper() + label[1:], ""

    def day(self, on: date) -> str:
        """A day as it is written in this language."""
        return self("letter", "day").format(day=on.day, month=self.some("letter", "months")[on.month - 1], year=on.year)

    def _look(self, part: str, key: str) -> Any:
        return self._said.get(part, {}).get(key)

    def _missing(self, part: str, key: str) -> BadInput:
        return BadInput(f"{self._where} has no “{key}” under [{part}].", "Add it there, as it stands in en.toml. Nothing was made.")


def shipped() -> dict[str, str]:
    """Our own files: name → text."""
    folder = resources.files("archive.render") / FOLDER
    return {item.name: item.read_text(encoding="utf-8") for item in folder.iterdir() if item.name.endswith(ENDING)}


def wording(language: str, folder: Path) -> Wording:
    """The words of a language (a tag) from the archive's folder, filled up from ours of the same language. Raises BadInput."""
    name = f"{tag(language)}{ENDING}"
    said = _read(name, shipped().get(name, ""))
    own = folder / name
    if own.is_file():
        try:
            changed = _read(name, own.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError):
            raise BadInput(f"{own} cannot be read.", "Save it as UTF-8. Nothing was made.") from None
        said = {part: {**said.get(part, {}), **changed.get(part, {})} for part in {**said, **changed}}
    if not said:
        raise BadInput(f"There are no words of forms and letters in that language ({language}).", f"Copy en.toml in {folder} to {name} and translate it.")
    return Wording(tag(language), said, name)


def _read(name: str, text: str) -> dict[str, Any]:
    try:
        return {part: values for part, values in _parsed(text).items() if isinstance(values, dict)}
    except tomllib.TOMLDecodeError as fault:
        raise BadInput(f"{name} cannot be read: {fault}.", "Mend it, or delete it to have ours again. Nothing was made.") from None


@cache
def _parsed(text: str) -> dict[str, Any]:
    return tomllib.loads(text)
