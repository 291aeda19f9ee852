"""Small frozen rows about languages, translations and the glossary, for the command line and the web."""

from __future__ import annotations

from dataclasses import dataclass

from archive.domain.cleared import ShownFound, ShownTranslation
from archive.domain.languages import Spoken


@dataclass(frozen=True, slots=True)
class LanguageLine:
    """One language from–to (ms): its tag, and its English name."""

    start_ms: int
    end_ms: int
    tag: str
    name: str


@dataclass(frozen=True, slots=True)
class LanguagePage:
    """Which language is spoken where in a recording. `said`: who said what, in order; `told`: what follows for the transcript;
    `heard_otherwise`: our own computer would hear it in other languages today."""

    recording: str
    whole: str
    name: str
    lines: tuple[LanguageLine, ...]
    said: tuple[str, ...]
    told: tuple[str, ...]
    heard_otherwise: bool

    def at(self, start_ms: int, end_ms: int) -> str:
        """The tag of the language in which most of a stretch (ms) is spoken."""
        return Spoken(self.whole, tuple((line.start_ms, line.end_ms, line.tag) for line in self.lines)).at(start_ms, end_ms)


@dataclass(frozen=True, slots=True)
class TranslationRow:
    """A translation in a list, with its recording."""

    recording: str
    shown: ShownTranslation


@dataclass(frozen=True, slots=True)
class ToTranslate:
    """Words that are translated, or about to be, with their masks, as they leave: whole ones, from–to (ms)."""

    recording: str
    start_ms: int
    end_ms: int
    original: str


@dataclass(frozen=True, slots=True)
class TranslationPage:
    """One translation beside its original, and who did what with it."""

    words: ToTranslate
    shown: ShownTranslation
    history: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GlossaryRow:
    """A word of the glossary. `sensitive`: it may hurt somebody who reads it, or whom it is said of."""

    id: int
    word: str
    language: str
    language_name: str
    meanings: tuple[str, ...]
    sensitive: bool
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class GlossaryPage:
    """A word of the glossary, and where it is said."""

    row: GlossaryRow
    found: ShownFound
