"""What is printed and handed to people: the size of its paper, and a letter as it will stand. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

Paragraph = str | tuple[str, ...]  # a tuple is a list of points


class Size(StrEnum):
    """Sizes of paper: ISO 216 A4, and US Letter (8.5 × 11 in)."""

    A4 = "a4"
    LETTER = "letter"


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter: who writes (the archive's name), where it goes (lines as they may stand outside), `sender_outside`: may the window of an
    envelope show who writes; then its heading and paragraphs."""

    sender: str
    to: tuple[str, ...]
    name: str
    sender_outside: bool
    by_hand: bool
    on: date
    reference: str
    heading: str
    paragraphs: tuple[Paragraph, ...]


@dataclass(frozen=True, slots=True)
class Written:
    """A finished paper: the name of its file, which says nothing of anybody, its bytes, and what the team must keep to."""

    name: str
    data: bytes
    notes: tuple[str, ...]
    reference: str
