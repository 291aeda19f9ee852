"""Whether a card may be cleared: a pure question to facts. One fact that is missing, and it may not.

Deleting a card is not wiping it: what was said on it can be read again until it is overwritten. That is always said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from archive.domain.disks import Answer
from archive.domain.phrases import begin, many

MAY = "this card may be cleared"
CAUTIONS = (
    "Deleting a card is not wiping it: what was on it can be read again until it has been overwritten.",
    "Only recordings are taken in: pictures, notes and whatever came onto the card later are on the card alone.",
    "Two disks can be one to the touch: those of a virtual computer, or of one box. That is for you to know.",
)
PIECE_MS = 10_000  # how long one listens at the start, in the middle and at the end (project choice)
HERE = ("taken", "duplicate")  # what became of a file whose bytes are in the archive


class Part(StrEnum):
    """Where in a recording somebody listens."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


def piece_of(part: Part, duration_ms: int) -> tuple[int, int]:
    """The stretch (ms) to listen to; the whole recording where it is shorter."""
    length = min(PIECE_MS, duration_ms)
    start = {Part.START: 0, Part.MIDDLE: (duration_ms - length) // 2, Part.END: duration_ms - length}[part]
    return start, start + length


@dataclass(frozen=True, slots=True)
class CardFile:
    """One file of a card. `outcome` as ingest told it; `trouble`: what the newest check of either copy found, "" where whole."""

    name: str
    outcome: str
    recording: str = ""
    copied: bool = False
    read_back: bool = False
    trouble: str = ""
    listened: frozenset[Part] = frozenset()


@dataclass(frozen=True, slots=True)
class Card:
    """A card as it was taken in. `other_disk`: what this computer found out; `said_other_disk`: a person looked and said so."""

    files: tuple[CardFile, ...]
    second_place: bool
    there: bool
    other_disk: Answer
    said_other_disk: bool = False


def missing(card: Card) -> tuple[str, ...]:
    """What stands between this card and its clearing, in sentences; empty where nothing does."""
    found = []
    if not card.files:
        found.append("Nothing of this card was taken in.")
    if not card.second_place:
        found.append("There is no second place yet: choose one on another disk.")
    elif card.other_disk == Answer.NO:
        found.append("Both copies lie on one physical disk, or one of them in memory: a broken disk would take both. Choose a second place on another disk.")
    elif not card.there:
        found.append("The second place is not there now: connect its disk.")
    elif card.other_disk == Answer.UNKNOWN and not card.said_other_disk:
        found.append("Whether both copies lie on different disks, this computer could not find out: look, and say so.")
    for file in card.files:
        found += [f"{file.name}: {words}" for words in _missing_of(file)]
    return tuple(found)


def _missing_of(file: CardFile) -> Sequence[str]:
    if file.outcome not in HERE or not file.recording:
        return ("it is not in the archive (missing on the card).",) if file.outcome == "missing" else ("it was refused, so it is on the card alone.",)
    found = [file.trouble] if file.trouble else []
    if not file.copied:
        found.append("it has not been written to the second place.")
    elif not file.read_back:
        found.append("it has not been read back from the second place.")
    unheard = [part.value for part in Part if part not in file.listened]
    if unheard:
        found.append(f"nobody said that they listened to its {_and(unheard)}.")
    return found


def _and(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def may_be_cleared(card: Card) -> bool:
    """Whether these words may be said of it."""
    return not missing(card)


def told(card: Card) -> str:
    """The sentence over a card."""
    if may_be_cleared(card):
        return f"{begin(many(len(card.files), 'file'))} on two disks, read back, and heard at start, middle and end: {MAY}."
    return "Keep this card as it is."
