"""Erasure: asking, agreeing, carrying out, and what is left to do outside."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table


@click.group()
def erase() -> None:
    """Erase a person, a recording or a stretch for good."""


@erase.command("ask")
@click.argument("target")
@click.option("--reason", required=True, help="Who asked for it, when and how. Kept.")
@click.option("--paper", type=click.Choice(["keep", "destroy"]), required=True, help="What becomes of the signed paper.")
@click.option("--whole", is_flag=True, help="Of a person: every recording whole, also what others say in it.")
@desk
def ask(at: Desk, target: str, reason: str, paper: str, whole: bool) -> None:
    """Ask for the erasure of TARGET: a person (N-06), a recording (TW-06.1), a stretch (TW-06.1@1:16-1:25). It is held at once."""
    code = at.archive.erasures.ask(at.viewer, target, reason, paper, whole)
    say(f"{code} is asked for, and {target} is held.")
    _show(at, code)


@erase.command("list")
@json_option
@desk
def list_(at: Desk, as_data: bool) -> None:
    """Every erasure that was asked for."""
    rows = at.archive.erasures.list(at.viewer)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("", "of", "state", "asked for on", "by", "tasks open"), [(r.code, r.target, r.state, phrases.day(r.asked_on), r.by, r.open_tasks) for r in rows])
    else:
        say("Nothing was ever erased, and nobody asked for it.")


@erase.command("show")
@click.argument("code")
@json_option
@desk
def show(at: Desk, code: str, as_data: bool) -> None:
    """What goes, what it waits for, and what is left to do outside."""
    if as_data:
        say_json(at.archive.erasures.page(at.viewer, code))
    else:
        _show(at, code)


def _show(at: Desk, code: str) -> None:
    page = at.archive.erasures.page(at.viewer, code)
    say(f"{page.row.code}: {page.row.target}, {page.row.state}{f' ({page.step})' if page.step else ''}. Signed paper: {page.paper}.")
    for part in page.going:
        say(f"  {part.recording}: {', '.join(part.stretches) or 'all of it'}")
    if page.seconded_by:
        say(f"Agreed to by {page.seconded_by}.")
    if page.why_not:
        say(page.why_not)
    if page.may:
        say(f"It may be carried out: toldhere erase now {code}")
    for task in page.tasks:
        say(f"  [{'done' if task.done_at else 'open'}] {task.id}: {task.words}")
    for caution in page.cautions:
        say(f"  {caution}")


@erase.command("agree")
@click.argument("code")
@click.password_option(confirmation_prompt=False, help="Of your own account.")
@desk
def agree(at: Desk, code: str, password: str) -> None:
    """A second keeper agrees (--as NAME before the command): it need not wait then."""
    at.archive.erasures.second(at.viewer, code, password)
    say(f"On record. Next: toldhere erase now {code}")


@erase.command("now")
@click.argument("code")
@click.option("--yes", is_flag=True, help="Do not ask once more.")
@desk
def now(at: Desk, code: str, yes: bool) -> None:
    """Carry it out. It cannot be undone, and the archive is closed to everybody meanwhile."""
    page = at.archive.erasures.page(at.viewer, code)
    if page.may and not yes:
        click.confirm(f"Erase {page.row.target} for good?", abort=True)
    page = at.archive.erasures.carry_out(at.viewer, code)
    say(f"Erased. {phrases.begin(phrases.many(page.row.open_tasks, 'task'))} left that only people can do:")
    for task in page.tasks:
        say(f"  {task.id}: {task.words}")


@erase.command("back")
@click.argument("code")
@click.option("--reason", required=True, help="Why it is not carried out. Kept.")
@desk
def back(at: Desk, code: str, reason: str) -> None:
    """Take it back while it waits. What holds the speech stays until a keeper lifts it."""
    at.archive.erasures.take_back(at.viewer, code, reason)
    say("Taken back. The hold stays: toldhere agreements lift ends it.")


@erase.command("again")
@click.argument("erased_list", metavar="LIST", type=click.Path(path_type=Path))
@desk
def again(at: Desk, erased_list: Path) -> None:
    """Erase once more what LIST has (erased.json of a newer backup) and this restored archive does not know."""
    say(f"{phrases.begin(phrases.many(at.archive.erasures.apply(at.viewer, erased_list), 'erasure'))} carried out again.")


COMMANDS = (erase,)
