"""Beginning: init, and reading the sheets that describe people and events."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli.desk import Desk, desk, say, warn

PATH = click.Path(path_type=Path)


@click.command()
@click.argument("folder", type=PATH)
@click.option("--name", prompt="Name of the archive", help="Stands in the source line of every quote.")
@click.option("--exhibition", prompt="Name of the exhibition", help="Answers may be given for this exhibition only.")
@click.option(
    "--participation-covers-machine/--recording-form-first",
    prompt="Does your participation form allow your own computer to listen before the recording form is in",
    help="Decided once, and on record.",
)
@desk
def init(at: Desk, folder: Path, name: str, exhibition: str, participation_covers_machine: bool) -> None:
    """Make an archive in FOLDER."""
    archive = at.kind.create(folder, at.viewer, name, exhibition, participation_covers_machine)
    warn(archive)
    archive.close()
    say(f"Made {folder}. It is for you alone on this machine; back it up whole, and keep its disk encrypted.")
    say("Next: toldhere --archive FOLDER people read people.csv")


@click.command()
@click.argument("sheet", type=PATH)
@desk
def events(at: Desk, sheet: Path) -> None:
    """Read events.csv into the calendar."""
    say(f"{at.archive.describing.read_events(at.viewer, sheet)} events read.")


COMMANDS = (init, events)
