"""Recordings: take in, transcribe, models, describe."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_aside, say_json, table, warn
from archive.cli.jobs import work

PATH = click.Path(path_type=Path)
REFUSED = 7


@click.command()
@click.argument("paths", nargs=-1, required=True, type=PATH)
@click.option("--interview", default="", help="Put everything into this interview, in order of name.")
@click.option("--sheet", type=PATH, help="recordings.csv, where it does not lie in the folder.")
@click.option("--copy-to", type=PATH, help="A folder on another disk: every recording is written there as well, and read back.")
@click.option("--track", type=click.IntRange(1, 64), help="Which sound track is the interview, where a file has several.")
@json_option
@desk
def ingest(
    at: Desk, paths: tuple[Path, ...], interview: str, sheet: Path | None, copy_to: Path | None, track: int | None, as_data: bool
) -> None:  # fmt: skip
    """Take files and folders in: copied, summed, measured. The sources are only read.

    It is on the list of jobs meanwhile. Killed, the next worker goes on with it, or the same command given again.
    """
    if copy_to is not None:
        at.archive.second_place.choose(at.viewer, copy_to)
    warn(at.archive)
    found = at.archive.ingest.take(
        at.viewer, paths, interview, sheet, None if as_data else lambda f: say(f"{f.outcome:9} {f.source_name}: {f.words}"), track,
        say_aside,
    )  # fmt: skip
    if as_data:
        say_json(found)
    if at.archive.second_place.chosen():
        told = at.archive.copies.make(at.viewer, say_aside)  # where it is not there: in words, and what was taken in stays
        if not as_data:
            say(told)
            say("What is missing before this card may be cleared: toldhere copies cards")
    if any(f.outcome in ("refused", "missing") for f in found):
        sys.exit(REFUSED)
    if any(f.differs for f in found):
        sys.exit(1)


@click.command()
@click.argument("recording", default="")
@click.option("--again", is_flag=True, help="Also what was heard before. What you corrected is carried over to the new hearing.")
@click.option("--model", default="", help="Another speech model than the archive's own; toldhere models list says which are here.")
@desk
def transcribe(at: Desk, recording: str, again: bool, model: str) -> None:
    """Transcribe what waits and is permitted (or one RECORDING), on this machine. Stop it at any time: it goes on."""
    queued, refused = at.archive.transcribing.queue(at.viewer, recording, again, model)
    for code, reasons in refused:
        say(f"{code}: not allowed. {' '.join(reasons)}")
    say(f"{queued} recordings to transcribe.")
    mine = {row.id for row in at.archive.work.open() if not row.idle}
    work(at.archive)
    failed = [j for j in at.archive.jobs.list(at.viewer) if j.id in mine and j.state == "failed"]
    for job in failed:
        say(f"{job.subject}: {job.words}")
    if refused or failed:
        sys.exit(5 if refused else 1)


@click.group()
def models() -> None:
    """Models on our own computer: for speech, and for nearness in meaning."""


@models.command("list")
@json_option
@desk
def models_list(at: Desk, as_data: bool) -> None:
    """Which models are here, and which could be."""
    lines = at.archive.models()
    if as_data:
        say_json(lines)
    else:
        rows = [(m.name, m.does, m.state, m.languages, f"{m.bytes / 1e6:.0f} MB") for m in lines]
        table("", ("model", "for", "state", "languages", "size"), rows)
        if not at.archive.meaning.is_here():
            say(f"Without a model for nearness in meaning Find offers no leads beside its hits. {at.archive.meaning.how_to_bring}")


@models.command("add")
@click.argument("name")
@click.argument("folder", type=PATH)
@desk
def models_add(at: Desk, name: str, folder: Path) -> None:
    """Copy a model FOLDER into the archive, checked, as NAME."""
    at.archive.add_model(name, folder)
    say(f"The model “{name}” is here. {_to_use(at, name)}")


def _to_use(at: Desk, name: str) -> str:
    if name == at.archive.meaning.model:
        return "To use it: toldhere meaning"
    return f"Set model = \"{name}\" in archive.toml to use it."


@models.command("fetch")
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do not ask.")
@desk
def models_fetch(at: Desk, name: str, yes: bool) -> None:
    """Fetch the model NAME from the public model hub. The only command that uses the network; it says what and asks."""

    def ask(question: str) -> bool:
        say(question)
        return yes or click.confirm("Fetch it?")

    at.archive.fetch_model(name, ask)
    say(f"The model “{name}” is here. {_to_use(at, name)}")


@click.command("recordings")
@json_option
@desk
def recordings(at: Desk, as_data: bool) -> None:
    """Every recording and its state."""
    rows = at.archive.recordings.list(at.viewer)
    if as_data:
        say_json(rows)
        return
    table(
        "", ("recording", "length", "state", "words", "transcript", "unassigned", "to decide", "sound"),
        [(r.code, phrases.clock(r.duration_ms), r.state, r.words, phrases.far(r.far.states), r.unassigned, r.suggestions, " ".join(r.flags)) for r in rows],
    )  # fmt: skip


@click.command("when")
@click.argument("recording", default="")
@click.argument("day", default="")
@json_option
@desk
def when(at: Desk, recording: str, day: str, as_data: bool) -> None:
    """Which recordings nobody dated, with what their recorders say; or say the DAY (2024-05-12) of one RECORDING."""
    if recording:
        at.archive.recordings.say_when(at.viewer, recording, day)
        say(f"{recording}: recorded on {phrases.day(day)}.")
        return
    rows = at.archive.recordings.undated(at.viewer)
    if as_data:
        say_json(rows)
    elif not rows:
        say("Of every recording somebody said when it was made.")
    else:
        table("", ("recording", "length", "file", "its clock says", "but"), [(r.code, phrases.clock(r.duration_ms), r.file, r.says, r.doubt) for r in rows])


@click.command("show")
@click.argument("recording")
@json_option
@desk
def show(at: Desk, recording: str, as_data: bool) -> None:
    """A recording's transcript as you may read it, with what is suggested about it."""
    page = at.archive.recordings.page(at.viewer, recording)
    if as_data:
        say_json(page)
        return
    for note in (*page.notes, *page.technical):
        say(note)
    for utterance in page.shown.utterances:
        words = " ".join(w.text for w in utterance.words) or "(closed)"
        say(f"{phrases.clock(utterance.start_ms)}  {utterance.speaker or 'speaker not assigned'}: {words}")
    table("", ("number", "kind", "value", "state", "because"), [(t.tag_id, t.kind, phrases.tag(t.kind, t.value), t.state, "; ".join([f"“{t.evidence}” {phrases.told_in(t.detail)}", *(b.words for b in t.beside)])) for t in page.tags])


@click.command("describe")
@click.argument("recording", default="")
@click.option("--confirm", "confirmed", multiple=True, type=click.IntRange(1, MOST), help="Confirm the suggestion of this number.")
@click.option("--reject", "rejected", multiple=True, type=click.IntRange(1, MOST), help="Reject the suggestion of this number.")
@desk
def describe(at: Desk, recording: str, confirmed: tuple[int, ...], rejected: tuple[int, ...]) -> None:
    """Suggest place, date and theme anew for one RECORDING or all; or decide suggestions by their numbers."""
    for state, tags in (("confirmed", confirmed), ("rejected", rejected)):
        for number in tags:
            at.archive.describing.decide(at.viewer, number, state)
            say(f"{number}: {state}.")
    if not confirmed and not rejected:
        waiting, closed, off_record = at.archive.describing.describe(at.viewer, recording)
        say(f"{phrases.begin(phrases.many(waiting, 'suggestion waits', 'suggestions wait'))} for a person.")
        if off_record:
            say(f"{phrases.begin(phrases.many(off_record, 'stretch was', 'stretches were'))} closed as said off the record, until a person decides.")
        if closed:
            say(f"Left as they are, because our own computer may not read them: {', '.join(closed)}.")


COMMANDS = (ingest, transcribe, models, recordings, when, show, describe)
