"""What a team should know of a wall text's length, and the plain words for days and times. Notes, never a refusal."""

from __future__ import annotations

import re
from datetime import date

from archive.domain.values import USES

# Smithsonian Guidelines for Accessible Exhibition Design §III: label ≤ 75–100 words; sentence ≤ 25 words, 15 better.
MOST_LABEL_WORDS = 100
MOST_SENTENCE_WORDS = 25

_BRACKETED = re.compile(r"\[[^\[\]]*\]")
_SENTENCE_ENDS = re.compile(r"(?<=[.!?])[\"'”’)]*\s+(?=[\"'“‘(\[]*[^\W_a-z])")
_WORD = re.compile(r"[^\W_]")


def word_count(text: str) -> int:
    """Words of a label: a mask counts as one, an omission mark as none."""
    flat = _BRACKETED.sub(lambda m: "" if m.group() in ("[…]", "[...]") else "mask", text)
    return sum(1 for part in flat.split() if _WORD.search(part))


def longest_sentence(text: str) -> int:
    """Words of the longest sentence."""
    return max((word_count(sentence) for sentence in _SENTENCE_ENDS.split(text)), default=0)


def label_notes(text: str) -> list[str]:
    """Sentences about a label that is long for somebody who stands while reading; empty where there is nothing to say."""
    notes: list[str] = []
    words, sentence = word_count(text), longest_sentence(text)
    if words > MOST_LABEL_WORDS:
        notes.append(
            f"{words} words. The Smithsonian Guidelines for Accessible Exhibition Design ask for labels of at most "
            f"75 to {MOST_LABEL_WORDS}."
        )
    if sentence > MOST_SENTENCE_WORDS:
        notes.append(
            f"The longest sentence has {sentence} words. The Smithsonian Guidelines for Accessible Exhibition Design "
            f"ask for at most {MOST_SENTENCE_WORDS}; 15 read better."
        )
    if notes:
        notes.append("Choose a shorter stretch rather than trimming by hand: trimming voids the speaker's approval.")
    return notes


def day(value: date) -> str:
    """`2026-11-25` (ISO 8601): the same in every language; months in words are people's names too (April, May, June)."""
    return value.isoformat()


def moment(ms: int) -> str:
    """`0:12:03.450`: hours, minutes, seconds of the recording's own clock."""
    seconds, rest = divmod(ms, 1000)
    return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{rest:03d}"


def use_label(code: str) -> str:
    """The use in a person's words; a use that the archive added itself stands as it is."""
    return next((use.label for use in USES if use.code == code), code)
