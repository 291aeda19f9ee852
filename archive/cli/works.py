"""Works of others inside speech: marked, and cleared apart."""

from __future__ import annotations

from datetime import datetime

import click

from archive.app import WORK_KINDS, phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table
from archive.domain.values import Answer


@click.group()
def works() -> None:
    """Songs, poems, letters and broadcasts of others inside speech."""


@works.command("list")
@json_option
@desk
def works_list(at: Desk, as_data: bool) -> None:
    """Every work that somebody marked, and what was said to its use."""
    rows = at.archive.works.list(at.viewer)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("work", "stretch", "kind", "what it is", "cleared"), [(f"W-{r.id}", r.where, r.kind, r.about, "; ".join(_said(s) for s in r.said) or "no") for r in rows])
    else:
        say("Nobody has marked a work of somebody else.")


def _said(row: object) -> str:
    answer, use, way, show, through, basis = (getattr(row, name) for name in ("answer", "use", "way", "exhibition", "through", "basis"))
    where = f"{use or 'any use'}, {way or 'any way'}{f', {show} only' if show else ''}{f', through {phrases.day(through)}' if through else ''}"
    return f"{answer}: {where} ({basis})"


@works.command("mark")
@click.argument("stretch")
@click.option("--kind", required=True, type=click.Choice(WORK_KINDS), help="What it is.")
@click.option("--about", default="", help="What is known of it: title, who made it, who owns it.")
@desk
def works_mark(at: Desk, stretch: str, kind: str, about: str) -> None:
    """Somebody else's work lies in STRETCH (TW-01.1@1:16-1:25): it leaves with nothing until it is cleared."""
    number = at.archive.works.mark(at.viewer, stretch, kind, about)
    say(f"W-{number} is on record, and held back from every use but our own listening until it is cleared: toldhere works say {number} yes --basis …")


@works.command("say")
@click.argument("work", type=click.IntRange(1, MOST))
@click.argument("answer", type=click.Choice(["yes", "no"]))
@click.option("--basis", required=True, help="Whose word or which law that rests on, and which paper shows it.")
@click.option("--use", default="", help="For one use only.")
@click.option("--way", default="", help="In one way only: words, voice, picture.")
@click.option("--exhibition", default="", help="For this exhibition only.")
@click.option("--through", type=click.DateTime(["%Y-%m-%d"]), help="The last day.")
@desk
def works_say(at: Desk, work: int, answer: str, basis: str, use: str, way: str, exhibition: str, through: datetime | None) -> None:
    """What its owner, or the law, says to the use of a WORK (its number in the list). The newest word in force counts."""
    at.archive.works.say(at.viewer, work, Answer(answer), basis, use, way, exhibition, through.date() if through else None)
    say("On record. The speaker's own answer is another matter: both must be yes.")


COMMANDS = (works,)
