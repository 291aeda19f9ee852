"""What people decide later, and what follows from it: objections, letters, notes of risk, tasks, and what comes due."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from archive.app import ObjectionDecision, Size, phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table, write_new
from archive.cli.papers import SIZE, TO
from archive.cli.people import agreements, people

DAY = click.DateTime(["%Y-%m-%d"])
NUMBER = click.IntRange(1, MOST)
NOT_LAW = "Not legal advice: local law and your institution's own counsel decide."
LARGE = click.option("--large/--normal", default=None, help="Large print, or normal; else as they read.")


@agreements.command("objections")
@json_option
@desk
def objections_list(at: Desk, as_data: bool) -> None:
    """Every objection of somebody who is spoken about, what it holds, and how it was decided."""
    rows = at.archive.consent.objections(at.viewer)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("objection", "by", "on", "holds", "still held", "decided"), [(r.number, r.person, phrases.day(r.on), ", ".join(r.held), r.holding, f"{r.decision}, {phrases.day(r.decided_on)}" if r.decision else "not yet") for r in rows])
    else:
        say("Nobody objected to anything.")


@agreements.command("decide")
@click.argument("objection", type=NUMBER)
@click.argument("decision", type=click.Choice([d.value for d in ObjectionDecision]))
@click.option("--reason", required=True, help="Why. It stands in the answer to them.")
@desk
def decide(at: Desk, objection: int, decision: str, reason: str) -> None:
    """Decide an OBJECTION: what it holds stays held, or the hold is ended. Once, with the reason."""
    at.archive.consent.decide_objection(at.viewer, objection, ObjectionDecision(decision), reason)
    say(f"Decided, and on record. Answer them: toldhere agreements answer {objection}. {NOT_LAW}")


@agreements.command("answer")
@click.argument("objection", type=NUMBER)
@SIZE
@LARGE
@TO
@desk
def answer(at: Desk, objection: int, size: str, large: bool | None, to: Path | None) -> None:
    """Write the letter that answers an OBJECTION (PDF): that it is held, or how it was decided."""
    made = at.archive.ending_letters.of_objection(at.viewer, objection, Size(size), large)
    say(f"Written: {write_new(to, made.name, made.data)}.")
    for note in made.notes:
        say(f"  {note}")


@agreements.command("letter")
@click.argument("person")
@click.argument("hold", type=NUMBER)
@SIZE
@LARGE
@TO
@desk
def letter(at: Desk, person: str, hold: int, size: str, large: bool | None, to: Path | None) -> None:
    """Write the letter that confirms a withdrawal or a pause of PERSON (PDF): what was done, what had left, what cannot be undone."""
    made = at.archive.ending_letters.of_hold(at.viewer, person, hold, Size(size), large)
    say(f"Written: {write_new(to, made.name, made.data)}.")
    for note in made.notes:
        say(f"  {note}")


@people.command("risk")
@click.argument("person")
@click.option("--words", default="", help="What could happen to them, in a sentence or two.")
@click.option("--review-on", type=DAY, help="The day on which to look at it again.")
@click.option("--end", "ended", type=NUMBER, help="The number of a note that counts no more.")
@json_option
@desk
def risk(at: Desk, person: str, words: str, review_on: datetime | None, ended: int | None, as_data: bool) -> None:
    """Notes of risk about PERSON, for keepers alone; with --words, add one."""
    if ended is not None:
        at.archive.due.end_risk(at.viewer, ended)
    if words:
        at.archive.due.note_risk(at.viewer, person, words, review_on.date() if review_on else None)
    rows = at.archive.due.risks(at.viewer, person)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("note", "what could happen", "look again on", "by"), [(r.number, r.words, phrases.day(r.review_on), r.by) for r in rows])
    else:
        say("No note of risk is on record.")


@click.group()
def tasks() -> None:
    """What only people can do once something may not be used any more, and where what left stands."""


@tasks.command("list")
@click.option("--done", is_flag=True, help="Those that were ticked.")
@json_option
@desk
def tasks_list(at: Desk, done: bool, as_data: bool) -> None:
    """Tasks that wait, the newest first."""
    rows = at.archive.tasks.list(at.viewer, done)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("task", "what", "where it stands", "since", "done"), [(r.number, r.what, r.where or "not on record", phrases.day(r.made_on), f"{r.done}. {r.note}".strip(". ") if r.done else "") for r in rows])
    else:
        say("Nothing was ticked yet." if done else "Nothing waits to be taken down or called back.")


@tasks.command("done")
@click.argument("task", type=NUMBER)
@click.option("--note", default="", help="How, and who has it in writing.")
@desk
def tasks_done(at: Desk, task: int, note: str) -> None:
    """Say that a TASK was done."""
    at.archive.tasks.tick(at.viewer, task, note)
    say("Ticked, and on record.")


@tasks.command("placed")
@click.argument("export")
@click.argument("file")
@click.argument("where")
@click.option("--on", "up_on", type=DAY, help="Since which day.")
@desk
def tasks_placed(at: Desk, export: str, file: str, where: str, up_on: datetime | None) -> None:
    """Write down WHERE a FILE of an EXPORT (OUT-0001) hangs, plays or lies, so that it is found when it has to come down."""
    number = at.archive.tasks.place(at.viewer, export, file, where, up_on.date() if up_on else None)
    say(f"On record as place {number}.")


@tasks.command("down")
@click.argument("place", type=NUMBER)
@desk
def tasks_down(at: Desk, place: int) -> None:
    """Say that nothing stands at PLACE any more."""
    at.archive.tasks.take_down(at.viewer, place)
    say("Taken down, and on record.")


@click.command()
@click.option("--days", default=90, type=click.IntRange(0, 36_600), help="How many days to look ahead.")
@json_option
@desk
def due(at: Desk, days: int, as_data: bool) -> None:
    """What comes due: ends of seals and permissions, 18th birthdays, quotes that wait, papers that are missing. The calendar opens nothing."""
    rows = at.archive.due.list(at.viewer, days)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("on, or since", "what", "", "person"), [(phrases.day(r.on), r.kind, r.words, r.person) for r in rows])
    else:
        say("Nothing is due.")


COMMANDS = (tasks, due)
