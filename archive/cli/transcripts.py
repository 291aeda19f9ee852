"""Transcripts from elsewhere, and out again."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import TRANSCRIPT_FORMS, BroughtIn, phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, write_new
from archive.errors import BadInput

PATH = click.Path(path_type=Path)


@click.group("transcript")
def transcript() -> None:
    """Read a transcript that somebody typed, or write one out for the team."""


@transcript.command("read")
@click.argument("file", type=PATH)
@click.option("--recording", required=True, help="The code of the recording it belongs to.")
@click.option("--speaker", "speakers", multiple=True, help="Who a label in it means: --speaker \"Ada M.=N-01\". Give it once a label.")
@click.option("--encoding", default="", help="How the file is encoded, where the guess was wrong: windows-1252, iso-8859-2 …")
@click.option("--to-sound", is_flag=True, help="Put every word to the sound anew, whatever times the file has.")
@json_option
@desk
def read(at: Desk, file: Path, recording: str, speakers: tuple[str, ...], encoding: str, to_sound: bool, as_data: bool) -> None:
    """Make FILE (WebVTT, SRT, DOCX, text, a table, JSON) the newest transcript of a recording; what was there stays on record."""
    meant: dict[str, str] = {}
    for given in speakers:
        label, sign, code = given.rpartition("=")
        if not sign or not label.strip() or not code.strip():
            raise BadInput("--speaker needs a label and a code.", "Write it as --speaker \"Ada M.=N-01\".")
        meant[label.strip()] = code.strip()
    done = at.archive.transcripts.read_file(at.viewer, recording, file, meant, encoding, to_sound)
    if as_data:
        say_json(done)
    else:
        _tell(done)


def _tell(done: BroughtIn) -> None:
    say(f"{done.recording}: {done.kind}, {phrases.many(done.words, 'word')} in {phrases.many(done.utterances, 'utterance')}.")
    for note in done.notes:
        say(note)
    if done.unknown:
        say(f"Nobody here is called: {', '.join(done.unknown)}. Say who is meant: --speaker \"LABEL=CODE\".")
    if done.unassigned:
        say(f"{phrases.begin(phrases.many(done.unassigned, 'utterance has', 'utterances have'))} no speaker yet and count as everybody in this interview.")
    for misfit in done.misfits:
        what = "typed, not heard" if misfit.typed else "heard, not typed"
        say(f"  {phrases.from_to(misfit.start_ms, misfit.end_ms)}  {what}: {misfit.words}")
    say("Nobody has heard these words against the sound yet. Names in them are hidden until somebody decides.")


@transcript.command("write")
@click.argument("recording")
@click.option("--as", "form", type=click.Choice(list(TRANSCRIPT_FORMS)), default="docx", show_default=True, help="Which kind of file.")
@click.option("--to", type=PATH, help="Where to; else here, under the recording's code.")
@desk
def write(at: Desk, recording: str, form: str, to: Path | None) -> None:
    """Write a RECORDING's transcript as you may read it, for the team's own use."""
    name, made = at.archive.transcripts.write(at.viewer, recording, form)
    path = write_new(to, name, made)
    say(f"{path}: for the team only, do not send it on. Names that are hidden from what leaves stand in it as you may read them.")


COMMANDS = (transcript,)
