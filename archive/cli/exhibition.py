"""Excerpts and what leaves: choose, tick as heard, export, the register."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_aside, say_json, table

REFUSED = 5


@click.command("excerpt")
@click.argument("recording")
@click.argument("quote")
@click.option("--use", default="exhibition", help="What it is for.")
@click.option("--panel", default="", help="Where it will stand.")
@click.option("--note", default="")
@click.option("--show", "shows", type=click.Choice(["original", "translation", "both"]), help="In what it is shown; there must be a translation of exactly these words.")
@click.option("--translation", default="", help="With --show: which one (TR-1), where there are several; where words are left out one for each piece (\"TR-1 TR-4\").")
@click.option("--dated", help="Note after it the date that is on record (1968), where what is told does not agree; none takes it off.")
@desk
def excerpt(at: Desk, recording: str, quote: str, use: str, panel: str, note: str, shows: str | None, translation: str, dated: str | None) -> None:
    """Choose a QUOTE from a RECORDING: its own words in order, omissions marked […]. Anything else is refused.

    Given once more with --show, the same excerpt is shown in its original, in a translation, or in both; with --dated 1968 an editorial
    note stands after it, [1968].
    """
    code = at.archive.excerpts.choose(at.viewer, recording, quote, use, panel, note)
    say(code)
    if shows is not None:
        at.archive.excerpts.show_as(at.viewer, code, shows, translation)
    if dated is not None:
        at.archive.excerpts.note_date(at.viewer, code, "" if dated == "none" else dated)


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
        heard = ", ".join(filter(None, (row.heard, row.heard_second))) or "not heard against the sound yet"
        say(f"{row.code}  {row.recording}  for {row.use}  {heard}")
        say(f"    {row.shown.words if row.shown else '(you may not read these words at present)'}")
        say(f"    words: {' '.join(row.words_may.sentences)}")
        say(f"    voice: {' '.join(row.voice_may.sentences)}")
        if row.leaving is not None and row.leaving.translation:
            say(f"    shown in {'translation' if row.shows == 'translation' else 'both'}: {row.leaving.translation} ({row.leaving.translated})")
        if row.leaving is not None and row.leaving.hidden:
            say(f"    leaves as: {row.leaving.words} ({row.leaving.attribution})")
        if row.draft_reason:
            say(f"    a draft: {row.draft_reason}")
    if not rows:
        say("Nothing is chosen yet. Choose words with `toldhere excerpt RECORDING \"words\"`, or on a recording's page.")


@click.command("tick")
@click.argument("excerpt")
@click.option("--by", default="", help="Who listened, where it was not you: an account, or the code of an interviewer or interpreter.")
@click.option("--second", is_flag=True, help="For whoever listens after somebody else: what is masked, unnamed or disguised needs it.")
@click.option("--together", type=click.Choice(["nobody", "somebody"]), help="With --second: is nobody named by it and what stands around it, or might somebody be?")
@desk
def tick(at: Desk, excerpt: str, by: str, second: bool, together: str | None) -> None:
    """Say that somebody heard exactly the words of EXCERPT against the sound. Any change of them, or of what is hidden, voids it.

    The second tick is for another person, under another account (toldhere --as NAME tick …). The command line believes who
    you say you are and puts it on record: it cannot see who sits at this computer.
    """
    if second:
        _second(at, excerpt, by, together or "")
        return
    at.archive.excerpts.tick_heard(at.viewer, excerpt, by)
    row = _row(at, excerpt)
    if row is not None and row.shown is not None:
        say(f"{excerpt}, {', '.join(row.shown.speakers)}: “{row.shown.words}”")
    say("On record as heard. Any change of the wording needs a new listening.")
    if row is not None and row.needs_second and not row.heard_second:
        say(f"It stays a draft until a second person listens: toldhere --as NAME tick {excerpt} --second")
        say(phrases.OWN_ACCOUNT)


def _second(at: Desk, excerpt: str, by: str, together: str) -> None:
    """Everything to decide by comes first, and then the question, or what became of its answer."""
    row = _row(at, excerpt)
    if row is not None and row.leaving is not None:
        say(f"{excerpt} leaves as: “{row.leaving.words}”")
        moved = (f"{phrases.begin(row.heard_around)}; what stands around it changed since.",) if row.heard_around else ()
        for line in (*row.leaving.hidden, *row.around, *row.doubts, *moved):
            say(f"  {line}")
    if not together:
        for caution in phrases.BEFORE_A_TICK:
            say(f"  {caution}")
        say("Together, do these name her or him? Listen, then answer with --together nobody, or --together somebody (somebody might be named).")
    shown, around = (row.shown_sha256, row.around_sha256) if row is not None else ("", "")
    if at.archive.excerpts.tick_second(at.viewer, excerpt, together, by, shown, around):
        say("On record as heard by a second person. Any change of the wording, of what is hidden, of the voice or of what stands around it needs a new listening.")
    else:
        say(f"Not ticked. {phrases.MIGHT_NAME}")


def _row(at: Desk, excerpt: str) -> Any:
    return next((r for r in at.archive.excerpts.list(at.viewer) if r.code == excerpt), None)


@click.command("heard")
@click.argument("sheet", type=click.Path(path_type=Path), metavar="SHEET")
@desk
def heard(at: Desk, sheet: Path) -> None:
    """Read a SHEET of quotes (heard.csv), choose them, and tick those that somebody heard against the sound."""
    found = at.archive.excerpts.read_heard(at.viewer, sheet)
    for choice in found:
        say(f"row {choice.row}: {choice.excerpt or 'not chosen'} for {choice.use}{', heard' if choice.heard else ''}{' twice' if choice.heard_second else ''} {choice.words}".rstrip())
    if any(not c.excerpt for c in found):
        sys.exit(REFUSED)


@click.command("reading")
@click.argument("excerpt")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--credit", default="", help="Who reads, as it will be credited.")
@click.option("--drop", is_flag=True, help="Use no reading of this excerpt any more.")
@desk
def reading(at: Desk, excerpt: str, file: Path | None, credit: str, drop: bool) -> None:
    """Take FILE in as a reading of exactly the words of EXCERPT by somebody else; it leaves where the speaker's own voice may not, or only disguised."""
    if drop:
        say(f"{phrases.many(at.archive.voices.drop_readings(at.viewer, excerpt), 'reading')} of {excerpt} no longer used.")
        return
    if file is None:
        raise click.UsageError("Name the sound file, or --drop.")
    made = at.archive.voices.add_reading(at.viewer, excerpt, file, credit)
    say(f"{excerpt} is read by {made.credit}, {phrases.clock(made.duration_ms)} long. It counts for exactly these words: when the wording or a hidden name changes, it no longer does.")
    say("Listen to it against the words: our own computer's listening is no proof.")


@click.command("export")
@click.argument("codes", nargs=-1, required=True, metavar="EXCERPT...")
@click.option("--use", required=True, help="What it leaves for, e.g. exhibition.")
@click.option("--to", type=click.Path(path_type=Path), help="A new or empty folder.")
@json_option
@desk
def export(at: Desk, codes: tuple[str, ...], use: str, to: Path | None, as_data: bool) -> None:
    """Make what may leave: wall texts, quotes, clips with captions. Refused ones come back with every reason.

    It is on the list of jobs meanwhile, where it can be paused or cancelled; Ctrl-C ends it. Killed, the next worker goes on with it.
    """
    report = at.archive.exports.make(at.viewer, codes, use, to, say_aside)
    if as_data:
        say_json(report)
    else:
        for line in report.withheld:
            say(line)
        for line in (*report.voices, report.listened):
            if line:
                say(line)
        for refused in report.refused:
            say(f"{refused.excerpt}: {' '.join(refused.reasons)}")
        if report.draft:
            say("DRAFT: not everything in it was heard as it must be.")
            for line in report.drafts:
                say(f"  {line}")
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


COMMANDS = (excerpt, excerpts, tick, heard, reading, export, register)
