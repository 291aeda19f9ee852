"""Small frozen rows about lists, saved questions, the grid and tellings side by side, for the command line and the web."""

from __future__ import annotations

from dataclasses import dataclass

from archive.domain.beside import Compared
from archive.domain.cleared import ShownCell, ShownHit, ShownPassage
from archive.services.rows import Asked


@dataclass(frozen=True, slots=True)
class ListRow:
    """A list: its number, name, how many items it has, whether it is the team's, who made it and when."""

    id: int
    name: str
    items: int
    team: bool
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item of a list. `shown` None: not available to this viewer today; then nothing else of it is told but who put it there.
    `excerpts`: codes of excerpts that were chosen from it, for those who choose."""

    id: int
    shown: ShownPassage | None
    note: str
    by: str
    at: str
    excerpts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ListPage:
    """A list with its items in order, and how many were taken off and can be put back."""

    row: ListRow
    items: tuple[ItemRow, ...]
    taken_off: tuple[ItemRow, ...]
    deleted: bool


@dataclass(frozen=True, slots=True)
class SavedQuestion:
    """A saved question as this viewer may see it: what is asked, in words too, and how many passages that answer it today are new since
    `looked_at` (-1: it can't be asked now, for the reason in `trouble`)."""

    key: str
    name: str
    team: bool
    by: str
    asked: Asked
    told: str
    total: int
    new: int
    looked_at: str
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class News:
    """What was new at somebody's last look at a saved question: the first of the passages, and how many there are."""

    question: SavedQuestion
    hits: tuple[ShownHit, ...]
    total: int


@dataclass(frozen=True, slots=True)
class GridRow:
    """A place of the grid with its cells, one a decade of the grid. `depth`: within how many others it lies."""

    id: int
    name: str
    kind: str
    depth: int
    cells: tuple[ShownCell, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """Place × decade. `passages`: how many name both; `most`: of one cell, what a full bar is; `empty`: cells with nothing yet;
    `bare`: places that nobody tells of and that have no row here, since there are too many."""

    decades: tuple[int, ...]
    rows: tuple[GridRow, ...]
    use: str
    use_label: str
    passages: int
    most: int
    empty: int
    bare: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tellings:
    """Passages of different people about one event, or one place and decade, with how what they tell compares. `more`: how many further
    passages there are."""

    about: str
    event: int
    place: int
    decade: str
    hits: tuple[ShownHit, ...]
    passages: tuple[ShownPassage | None, ...]  # of each hit all its words
    compared: tuple[Compared, ...]
    more: int
    asked: Asked
