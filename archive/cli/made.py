"""The demo: the whole job on invented recordings, and a table of what came out."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import Archive
from archive.cli.desk import Desk, desk, say, table
from archive.cli.jobs import work
from archive.domain.values import Role, Viewer

DEFAULT = Path(".demo-archive")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=DEFAULT)
@desk
def demo(at: Desk, folder: Path) -> None:
    """Take the invented recordings of sample_media through the whole job, into FOLDER (default ./.demo-archive)."""
    if (folder / "archive.sqlite").exists():
        archive = Archive.open(folder)
    else:
        archive = Archive.create(
            folder, Viewer("K-01", Role.KEEPER), "Marigold: the last chain ferry", "Marigold", participation_covers_machine=True
        )
    result = archive.demo.run(say, lambda: work(archive))
    say()
    rows = [
        ("recordings in", len(result.taken)),
        ("not taken", "\n".join(result.not_taken)),
        ("minutes", f"{result.minutes:.1f}"),
        ("words", result.words),
        ("words heard wrongly (word error rate)", f"{result.error_rate:.1%}, against the scripts that were spoken; under 5 % is good"),
        ("names right", f"{result.names_right:.1%} of the places and people that are named"),
        ("passages (stretches worth finding)", result.passages),
        ("suggestions to confirm or reject", result.suggestions),
        ("quotes exported", "\n".join(result.given)),
        ("words only, and why", "\n".join(result.withheld)),
        ("quotes refused, and why", "\n".join(result.refused)),
        ("listened to again", "\n".join(result.listened)),
        ("the withdrawal at the end", "\n".join(result.withdrawal)),
    ]
    table("What came out", ("what", "how much, and why"), rows)
    say()
    say("Files to open:")
    for line in result.files:
        say(f"  {line}")
    say()
    say(f"The pages: toldhere --archive {folder} serve")
    archive.close()


COMMANDS = (demo,)
