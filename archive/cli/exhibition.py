"""Excerpts and what leaves: choose, tick as heard, export, the register."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table

REFUSED = 5


@click.command("excerpt")
@click.argument("recording")
@click.argument("quote")
@click.option("--use", default="exhibition", help="What it is for.")
@click.option("--panel", default="", help="Where it will stand.")
@click.option("--note", default="")
@desk
def excerpt(at: Desk, recording: str, quote: str, use: str, panel: str, note: str) -> None:
    """Choose a QUOTE from a RECORDING: its own words in order, omissions marked […]. Anything else is refused."""
    say(at.archive.excerpts.choose(at.viewer, recording, quote, use, panel, note))


@click.command("excerpts")
@json_option
@desk
def excerpts(at: Desk, as_data: bool) -> None:
    """Every chosen excerpt, what may leave of it, and why not."""
    rows = at.archive.excerpts.list(at.viewer)
    if as_data:
        say_json(rows)
        return
    for row in rows:
        say(f"{row.code}  {row.recording}  for {row.use}  {row.heard or 'not heard against the sound yet'}")
        say(f"    {row.shown.words if row.shown else '(you may not read these words at present)'}")
        say(f"    words: {' '.join(row.words_may.sentences)}")
        say(f"    voice: {' '.join(row.voice_may.sentences)}")
    if not rows:
        say("Nothing is chosen yet. Choose words with `toldhere excerpt RECORDING \"words\"`, or on a recording's page.")


@click.command("tick")
@click.argument("excerpt")
@click.option("--by", default="", help="Who listened, where it was not you.")
@desk
def tick(at: Desk, excerpt: str, by: str) -> None:
    """Say that somebody heard exactly the words of EXCERPT against the sound."""
    at.archive.excerpts.tick_heard(at.viewer, excerpt, by)
    row = next(r for r in at.archive.excerpts.list(at.viewer) if r.code == excerpt)
    if row.shown is not None:
        say(f"{excerpt}, {', '.join(row.shown.speakers)}: “{row.shown.words}”")
    say("On record as heard. Any change of the wording needs a new listening.")


@click.command("heard")
@click.argument("sheet", type=click.Path(path_type=Path), metavar="SHEET")
@desk
def heard(at: Desk, sheet: Path) -> None:
    """Read a SHEET of quotes (heard.csv), choose them, and tick those that somebody heard against the sound."""
    found = at.archive.excerpts.read_heard(at.viewer, sheet)
    for choice in found:
        say(f"row {choice.row}: {choice.excerpt or 'not chosen'} for {choice.use}{', heard' if choice.heard else ''} {choice.words}".rstrip())
    if any(not c.excerpt for c in found):
        sys.exit(REFUSED)


@click.command("export")
@click.argument("codes", nargs=-1, required=True, metavar="EXCERPT...")
@click.option("--use", required=True, help="What it leaves for, e.g. exhibition.")
@click.option("--to", type=click.Path(path_type=Path), help="A new or empty folder.")
@json_option
@desk
def export(at: Desk, codes: tuple[str, ...], use: str, to: Path | None, as_data: bool) -> None:
    """Make what may leave: wall texts, quotes, clips with captions. Refused ones come back with every reason."""
    report = at.archive.exports.make(at.viewer, codes, use, to)
    if as_data:
        say_json(report)
    else:
        for line in report.withheld:
            say(line)
        for refused in report.refused:
            say(f"{refused.excerpt}: {' '.join(refused.reasons)}")
        if report.draft:
            say("DRAFT: nobody has heard some of it against the sound.")
        for name in report.files:
            say(name)
        say(f"{report.code}: {phrases.many(len(report.taken), 'quote')} went out." if report.code else "Nothing went out.")
    if report.refused:
        sys.exit(REFUSED)


@click.command("register")
@json_option
@desk
def register(at: Desk, as_data: bool) -> None:
    """What went out, when, for what."""
    rows = at.archive.exports.register(at.viewer)
    if as_data:
        say_json(rows)
    else:
        table("", ("export", "on", "for", "state", "excerpts", "people", "files", "to take down"), [(r.export, phrases.day(r.on), r.use, phrases.went(r.state), ", ".join(r.excerpts), ", ".join(r.people), len(r.files), ", ".join(code for code, _ in r.recall)) for r in rows])


COMMANDS = (excerpt, excerpts, tick, heard, export, register)
