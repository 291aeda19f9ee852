"""What every command is given, and how it speaks: words for people, or JSON with --json."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click
from rich.console import Console
from rich.table import Table

from archive.app import Archive, as_json
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, ToldHereError

F = TypeVar("F", bound=Callable[..., Any])
MOST = 2**31 - 1  # what a number on record may reach
out = Console(highlight=False, markup=False, soft_wrap=False)


class Desk:
    """The archive a command works on (opened when first needed), and who is at the keyboard."""

    def __init__(self, folder: Path, viewer: Viewer, kind: type[Archive]) -> None:
        self.folder, self.viewer, self.kind = folder, viewer, kind
        self._archive: Archive | None = None

    @property
    def archive(self) -> Archive:
        """The opened archive. Raises NotFound with what to do."""
        if self._archive is None:
            self._archive = self.kind.open(self.folder)
        return self._archive

    def close(self) -> None:
        """Give the archive back, where a command opened it."""
        if self._archive is not None:
            self._archive.close()
            self._archive = None


desk = click.make_pass_decorator(Desk)


def json_option(function: F) -> F:
    """Adds --json to a reading command."""
    return click.option("--json", "as_data", is_flag=True, help="Print the answer as JSON.")(function)


def say(text: str = "") -> None:
    """One line for a person."""
    click.echo(text)


def say_aside(text: str) -> None:
    """One line for a person that is no part of the answer, on standard error."""
    click.echo(text, err=True)


def say_json(value: object) -> None:
    """The answer for a program."""
    click.echo(as_json(value))


def say_error(error: ToldHereError) -> None:
    """What happened, every finding or reason, and what to do next, on standard error."""
    click.echo(error.message, err=True)
    for line in (*getattr(error, "findings", ()), *getattr(error, "reasons", ())):
        click.echo(f"  - {line}", err=True)
    if error.remedy:
        click.echo(error.remedy, err=True)


def table(title: str, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """A table for a person; long cells fold."""
    made = Table(title=title or None, title_justify="left", show_edge=False, pad_edge=False)
    for column in columns:
        made.add_column(column, overflow="fold")
    for row in rows:
        made.add_row(*(str(cell) for cell in row))
    out.print(made)


def write_new(to: Path | None, name: str, made: bytes) -> Path:
    """Write a new file: `to`, in the folder `to` under this name, or here. Raises Clash where there is one."""
    path = to / name if to is not None and to.is_dir() else to or Path(name)
    try:
        with path.open("xb") as stream:
            stream.write(made)
    except FileExistsError:
        raise Clash("There is a file of this name already.", "Name another one with --to.") from None
    except OSError:
        raise BadInput("The file cannot be written there.", "Name another place with --to.") from None
    return path


def warn(archive: Archive) -> None:
    """What must be said plainly of where the archive and its second copy lie."""
    for words in archive.second_place.warnings():
        click.echo(f"Careful: {words}", err=True)
