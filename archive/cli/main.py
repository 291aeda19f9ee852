"""`toldhere`: the command line. It only translates: every command calls one service and prints what it says."""

from __future__ import annotations

import getpass
import os
import sys
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

import click

from archive.app import Archive
from archive.cli import (
    copies,
    ending,
    erasing,
    exhibition,
    finding,
    jobs,
    languages,
    lists,
    made,
    names,
    notes,
    papers,
    people,
    places,
    recordings,
    reviews,
    sound,
    speakers,
    spellings,
    start,
    suggestions,
    themes,
    transcripts,
    upkeep,
    works,
)
from archive.cli.desk import Desk, say_error
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, SheetError, ToldHereError

GROUP = "toldhere.commands"


class Commands(click.Group):
    """The commands of the house, and those that other installed packages add by the entry point group."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Every command by name."""
        return sorted({*super().list_commands(ctx), *(e.name for e in entry_points(group=GROUP))})

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """A command of the house, or one that is loaded now."""
        own = super().get_command(ctx, cmd_name)
        if own is not None:
            return own
        for entry in entry_points(group=GROUP):
            if entry.name == cmd_name:
                loaded: Any = entry.load()
                return loaded if isinstance(loaded, click.Command) else None
        return None

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; whatever a person can be told is told in words, with its exit code."""
        try:
            return super().invoke(ctx)
        except ToldHereError as error:
            say_error(error)
            ctx.exit(error.exit_code)
        except OverflowError:  # a number that the database cannot hold
            too_large = BadInput("One of the numbers is larger than anything on record.", "Look it up again and give the command once more.")
            say_error(too_large)
            ctx.exit(too_large.exit_code)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--archive", "folder", type=click.Path(path_type=Path), default=lambda: Path(os.environ.get("TOLDHERE_ARCHIVE", ".")), help="The archive folder (or set TOLDHERE_ARCHIVE).")
@click.option("--as", "name", default=lambda: os.environ.get("TOLDHERE_AS") or getpass.getuser(), help="Who you are, for the record.")
@click.option("--role", type=click.Choice([r.value for r in Role]), default=Role.KEEPER.value, help="Look as another role would.")
@click.version_option(package_name="toldhere")
@click.pass_context
def cli(ctx: click.Context, folder: Path, name: str, role: str) -> None:
    """Told Here: from a card of recordings to a consented quote on a wall text. Everything stays on our own computer."""
    ctx.obj = Desk(folder, Viewer(name, Role(role)), Archive)
    ctx.call_on_close(ctx.obj.close)


for module in (start, recordings, languages, sound, speakers, transcripts, copies, notes, names, suggestions, spellings, themes, people, papers, reviews, works, places, finding, lists, exhibition, jobs, upkeep, made, ending, erasing):
    for command in module.COMMANDS:
        cli.add_command(command)


def main() -> None:
    """The installed command. UTF-8 whatever the terminal says: names have diacritics."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        cli(prog_name="toldhere")
    except SheetError as error:  # raised before a command runs
        say_error(error)
        sys.exit(error.exit_code)


if __name__ == "__main__":
    main()
