"""Quotes that go to their speaker first: sheets, and what comes back."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table
from archive.cli.papers import SIZE, TO, written
from archive.cli.people import PATH


@click.group("review")
def review() -> None:
    """Quotes that go to their speaker first: print a sheet, put the answers on record."""


@review.command("sheet")
@click.argument("person")
@click.argument("excerpts", nargs=-1)
@click.option("--by", type=click.DateTime(["%Y-%m-%d"]), help="The last day for an answer; else in four weeks.")
@click.option("--language", default="", help="A tag or name; else the one they read.")
@SIZE
@click.option("--large/--normal", default=None, help="Large print, or normal; else as they read.")
@TO
@desk
def review_sheet(at: Desk, person: str, excerpts: tuple[str, ...], by: datetime | None, language: str, size: str, large: bool | None, to: Path | None) -> None:
    """Print a sheet for PERSON with these EXCERPTS as they will stand; without any, with all that lack nothing but their yes."""
    written(at.archive.reviews.sheet(at.viewer, person, excerpts, by.date() if by else None, size, large, language), to)


@review.command("list")
@click.argument("of", default="")
@json_option
@desk
def review_list(at: Desk, of: str, as_data: bool) -> None:
    """Every sheet, those put to a person, or the one with a code: out since when, by when an answer is due, each question with its answer."""
    sheet = of.strip().upper().startswith("RV-")
    rows = (at.archive.reviews.found(at.viewer, of),) if sheet else at.archive.reviews.list(at.viewer, of)
    if as_data:
        say_json(rows)
        return
    table("", ("sheet", "to", "printed", "answer by", "open"), [(r.code, r.person, phrases.day(r.printed), phrases.day(r.answer_by), f"{r.open} of {len(r.questions)}" + (", counted as no" if r.open and r.late else "")) for r in rows])
    for row in rows if sheet else ():
        table("", ("question", "excerpt", "use", "way", "answer", "came or changed since"), [(q.number, q.excerpt, q.use, q.way, q.answer or "none", ", ".join(q.changed)) for q in row.questions])
        for q in row.questions:
            if q.later:
                say(f"  {q.excerpt}, in their later wording: {q.later}")


@review.command("answer")
@click.argument("code")
@click.argument("question", type=click.IntRange(1, MOST))
@click.argument("answer", type=click.Choice(["yes", "no", "change"]))
@click.option("--words", default="", help="With change: the words that they wrote.")
@click.option("--given-by", default="", help="Who answered for them, by code.")
@click.option("--language", default="", help="In which language it was put to them.")
@desk
def review_answer(at: Desk, code: str, question: int, answer: str, words: str, given_by: str, language: str) -> None:
    """Put the ANSWER to a QUESTION of the sheet with this CODE on record."""
    say(at.archive.reviews.answer(at.viewer, code, question, answer, words, given_by, language))


@review.command("later")
@click.argument("excerpt")
@click.option("--original", is_flag=True, help="As it was said, again.")
@desk
def review_later(at: Desk, excerpt: str, original: bool) -> None:
    """Let an EXCERPT stand in its speaker's later wording: marked as such, in words only."""
    say(at.archive.reviews.stand(at.viewer, excerpt, not original))


@review.command("copy")
@click.argument("person")
@click.argument("recording")
@click.option("--to", type=PATH, help="A new folder; else one in the archive.")
@SIZE
@click.option("--large/--normal", default=True, help="Large print (as it is unless you say so), or normal.")
@desk
def review_copy(at: Desk, person: str, recording: str, to: Path | None, size: str, large: bool) -> None:
    """Make PERSON's own copy of a RECORDING: what they said, its sound, and a sheet to strike, close, correct and add. It goes on the register."""
    made = at.archive.own_copies.make(at.viewer, person, recording, to, size, large)
    say(f"{made.code}: {', '.join(made.files)} in {made.folder}." + (" What others said, and what is kept back, is not in it." if made.left_out else ""))
    for note in made.notes:
        say(f"  {note}")


COMMANDS = (review,)
