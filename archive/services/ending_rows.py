"""What services tell of what people decided later, and of what comes due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from archive.services.rows import LeftRow


@dataclass(frozen=True, slots=True)
class WithdrawalReport:
    """What a withdrawal, a pause or an objection did: everything counted, and the list of what already went out.

    `hold`: its number; `objection`: that of the objection; `panels`: on which excerpts stand that are flagged; `passages`: what is held,
    as it is written (TW-01.1@1:16-1:25); `tasks`: how many were made of what went out.
    """

    person: str
    scope: str
    jobs_stopped: int
    excerpts_flagged: tuple[str, ...]
    already_out: tuple[LeftRow, ...]
    sentences: tuple[str, ...]
    panels: tuple[str, ...] = ()
    passages: tuple[str, ...] = ()
    hold: int = 0
    objection: int = 0
    tasks: int = 0


@dataclass(frozen=True, slots=True)
class ObjectionRow:
    """An objection by somebody who is spoken about. `held`: the stretches, as they are written; `holding`: how many still are; `decision`: "",
    held, ended. `how`, `reason` and `decided_by` are "" for whoever is no keeper."""

    number: int
    person: str
    on: date
    how: str
    held: tuple[str, ...]
    holding: int
    decision: str
    reason: str
    decided_on: date | None
    decided_by: str


@dataclass(frozen=True, slots=True)
class TaskRow:
    """What only a person can do, in words. `person` and `hold` are empty for whoever is no keeper; `where`: the place that it is about."""

    number: int
    kind: str
    what: str
    where: str
    export: str
    files: tuple[str, ...]
    person: str
    hold: int
    made_on: str
    done: str  # by whom and when; "" while it waits
    note: str


@dataclass(frozen=True, slots=True)
class DueRow:
    """Something that a person has to look at. `on`: from which day, or since when it waits; `hold`: the number of a hold, 0 where it is none."""

    on: date
    kind: str
    words: str
    person: str
    recording: str
    hold: int


@dataclass(frozen=True, slots=True)
class RiskRow:
    """What could happen to somebody, for keepers. `review_on`: when to look at it again."""

    number: int
    words: str
    review_on: date | None
    by: str
    on: str
