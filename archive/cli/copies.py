"""Second copies, and whether a card may be cleared."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_aside, say_json, table, warn

PATH = click.Path(path_type=Path)
PARTS = ("start", "middle", "end")


@click.group()
def copies() -> None:
    """The second copy of every recording, on another disk; and when a card may be cleared."""


@copies.command("list")
@json_option
@desk
def copies_list(at: Desk, as_data: bool) -> None:
    """Where the second copy lies, and of every recording when it was written, read back and last read again."""
    page = at.archive.copies.page(at.viewer)
    if as_data:
        say_json(page)
        return
    say(f"The second place is {page.folder}." if page.folder else "There is no second place yet. Choose one on another disk: toldhere copies to FOLDER.")
    if page.away:
        say(page.away)
    warn(at.archive)
    table(
        "", ("recording", "written", "read back", "copy read again", "master read again", "trouble"),
        [
            (r.recording, *((when or "")[:10] for when in (r.copied_at, r.read_back_at, r.copy_checked_at, r.checked_at)), " ".join(filter(None, (r.trouble, r.copy_trouble))))
            for r in page.rows
        ],
    )  # fmt: skip
    say(page.proves)


@copies.command("to")
@click.argument("folder", type=PATH)
@click.option("--other-disk", is_flag=True, help="You looked: it is another physical disk. Counts where this computer cannot find out.")
@desk
def copies_to(at: Desk, folder: Path, other_disk: bool) -> None:
    """Make FOLDER the second place. It must be new or empty, on another disk, and is marked as this archive's."""
    at.archive.second_place.choose(at.viewer, folder, other_disk)
    say("That is the second place now. Write what waits: toldhere copies make")
    warn(at.archive)


@copies.command("make")
@desk
def copies_make(at: Desk) -> None:
    """Write what waits to the second place and read it back. Stop it at any time: it goes on."""
    say(at.archive.copies.make(at.viewer, say_aside))


@copies.command("cards")
@json_option
@desk
def copies_cards(at: Desk, as_data: bool) -> None:
    """Every card or folder that was taken in: what is missing before it may be cleared, or that it may."""
    cards = at.archive.clearing.cards(at.viewer)
    if as_data:
        say_json(cards)
        return
    for card in cards:
        say(f"{card.number}, taken in on {phrases.day(card.at)} by {card.by}. {card.told}")
        for line in card.files if card.may else card.missing:
            say(f"  - {line}")
        for caution in card.cautions:
            say(f"  {caution}")
    if not cards:
        say("Nothing has come in yet.")


@click.command()
@click.argument("recording")
@click.argument("parts", nargs=-1, required=True, type=click.Choice(PARTS))
@desk
def listened(at: Desk, recording: str, parts: tuple[str, ...]) -> None:
    """Say that you listened to these PARTS of a RECORDING (start, middle, end; ten seconds each). The pages play them."""
    at.archive.clearing.listened(at.viewer, recording, parts)
    say(f"On record: you listened to the {', '.join(parts)} of {recording}.")


COMMANDS = (copies, listened)
