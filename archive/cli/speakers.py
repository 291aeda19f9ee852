"""Who speaks: from a sheet, by naming a stretch, by what voices are like."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table
from archive.cli.jobs import work
from archive.cli.recordings import PATH

NOW = ("utterance has its speaker", "utterances have their speaker")


@click.group()
def speakers() -> None:
    """Who speaks, where one microphone heard several people."""


@speakers.command("read")
@click.argument("sheet", type=PATH)
@desk
def read(at: Desk, sheet: Path) -> None:
    """Read speakers.csv: who speaks when."""
    say(f"{phrases.begin(phrases.many(at.archive.recordings.read_speakers(at.viewer, sheet), *NOW))} now.")


@speakers.command("name")
@click.argument("stretch")
@click.argument("person")
@desk
def name(at: Desk, stretch: str, person: str) -> None:
    """Say that PERSON speaks in STRETCH (TW-03.1@0:10-0:20), which you heard. About ten seconds of each make suggestions possible."""
    code, start_ms, end_ms = phrases.stretch(stretch)
    say(f"{phrases.begin(phrases.many(at.archive.speaking.name(at.viewer, code, person, start_ms, end_ms), *NOW))} now.")


@speakers.command("suggest")
@click.argument("recording")
@desk
def suggest(at: Desk, recording: str) -> None:
    """Let our own computer compare the voices of RECORDING's interview with those that were named. Nothing is assigned by it.

    What voices are like is personal data: it stays in this interview, and is deleted once it is decided who speaks.
    """
    at.archive.speaking.listen(at.viewer, recording)
    work(at.archive)
    _tell(at, recording)


@speakers.command("list")
@click.argument("recording")
@json_option
@desk
def listed(at: Desk, recording: str, as_data: bool) -> None:
    """Who is assigned in RECORDING, how much is not, and what is suggested."""
    if as_data:
        say_json(at.archive.speaking.page(at.viewer, recording))
    else:
        _tell(at, recording)


def _tell(at: Desk, recording: str) -> None:
    page = at.archive.speaking.page(at.viewer, recording)
    for p in page.people:
        say(f"{p.code}, {p.role}: {phrases.lasting(p.said_ms) if p.said_ms else 'nothing'} in this interview.")
    if not page.unassigned:
        say("Every utterance has its speaker.")
        return
    have = phrases.begin(phrases.many(page.unassigned, "utterance has", "utterances have"))
    say(f"{have} no speaker yet, {phrases.lasting(page.unassigned_ms)} of {phrases.lasting(page.spoken_ms)} of speech: they count as everybody.")
    for reason in page.refused:
        say(f"Our own computer may not compare the voices. {reason}")
    if page.suggestions:
        rows = [(s.utterance_id, phrases.exact(s.start_ms), phrases.exact(s.end_ms), s.code, "sure" if s.sure else "perhaps") for s in page.suggestions]
        table("", ("number", "from", "to", "sounds like", "how sure"), rows)
    for c in page.changes:
        say(f"Perhaps two voices in one utterance: {c.first}, and from about {phrases.exact(c.at_ms)} {c.second}.")


@speakers.command("accept")
@click.argument("recording")
@click.argument("numbers", nargs=-1, type=click.IntRange(1, MOST))
@click.option("--sure", is_flag=True, help="All that are sure.")
@desk
def accept(at: Desk, recording: str, numbers: tuple[int, ...], sure: bool) -> None:
    """Take suggestions for RECORDING as decided: those of NUMBERS, or all sure ones. Hear them first: it decides who is asked for consent."""
    page = at.archive.speaking.page(at.viewer, recording)
    known = {s.utterance_id: s for s in page.suggestions}
    unknown = [n for n in numbers if n not in known]
    if unknown:
        raise click.UsageError(f"Nothing is suggested for {', '.join(map(str, unknown))}. See `toldhere speakers list {page.recording}`.")
    wanted = {n: known[n].code for n in numbers} | {s.utterance_id: s.code for s in page.suggestions if sure and s.sure}
    say(f"{phrases.begin(phrases.many(at.archive.speaking.accept(at.viewer, recording, wanted), *NOW))} now.")


@speakers.command("forget")
@click.argument("recording")
@desk
def forget(at: Desk, recording: str) -> None:
    """It is decided who speaks: delete what the voices of RECORDING's interview are like."""
    gone = at.archive.speaking.forget(at.viewer, recording)
    say("What the voices of this interview are like is deleted." if gone else "Nothing of the kind was kept.")


COMMANDS = (speakers,)
