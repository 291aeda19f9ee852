"""What services tell of sheets of quotes and their answers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class QuestionRow:
    """One question of a sheet: a quote in one way. `answer` "": none yet; `later`: their later wording, "" where none is or it may not be read;
    `changed`: what of the quote came or changed since the sheet was printed."""

    number: int
    excerpt: str
    use: str
    way: str
    answer: str
    later: str
    answered: str
    given_by: str
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """Quotes that were put to somebody, and how far that is. `late`: the day until which an answer was asked for is over."""

    code: str
    person: str
    printed: date
    answer_by: date
    language: str
    questions: tuple[QuestionRow, ...]
    late: bool

    @property
    def open(self) -> int:
        """How many questions have no answer."""
        return sum(not q.answer for q in self.questions)


@dataclass(frozen=True, slots=True)
class CopyReport:
    """Somebody's own copy: its entry of the register, where it lies, its files, whether anything is left out, and what to keep to."""

    code: str
    folder: str
    files: tuple[str, ...]
    left_out: bool
    notes: tuple[str, ...]
