"""What is printed and handed to people: the size of its paper, and a letter as it will stand. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from archive.domain.values import Use, Way

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


class FormKind(StrEnum):
    """Papers to be signed: before the interview, after it (Oral History Society advice, CHECKS §8), once for all interviews of those who ask,
    interpret or accompany, and the undertakings of confidentiality of interpreters and helpers."""

    PARTICIPATION = "participation"
    RECORDING = "recording"
    STANDING = "standing"
    INTERPRETER = "interpreter"
    HELPER = "helper"

    @property
    def asks(self) -> bool:
        """True where it asks for answers, so that an agreement comes of it; the others are promises to us."""
        return self in (FormKind.PARTICIPATION, FormKind.RECORDING, FormKind.STANDING)


# In which ways a use can happen at all; any other use in all three.
WAYS_OF = {"machine": (Way.WORDS, Way.VOICE), "translation": (Way.WORDS,), "re_voicing": (Way.WORDS,)}
BEFORE = frozenset({"machine", "team"})  # what the form before the interview asks for


@dataclass(frozen=True, slots=True)
class Form:
    """A form as it will stand. `name`: of who signs, "" to be written in; `interview`: its code and day, "" to be written in; `grown_up`: known to be
    of age, so that nothing is asked of a guardian; `uses`: what it asks for."""

    code: str
    kind: FormKind
    archive: str
    exhibition: str
    name: str
    interview: str
    grown_up: bool
    uses: tuple[Use, ...]
    on: date
