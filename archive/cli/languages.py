"""Which language is spoken in a recording."""

from __future__ import annotations

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json
from archive.cli.jobs import work


@click.command()
@click.argument("recording")
@click.argument("language", default="")
@click.option("--from", "starts", default="", help="Where it begins, 1:16; without it, all of the recording.")
@click.option("--to", "ends", default="", help="Where it ends, 1:25.")
@click.option("--none", is_flag=True, help="With --from and --to: it is as the rest of the recording.")
@click.option("--hear-again", is_flag=True, help="Transcribe it anew in the languages that are on record now.")
@json_option
@desk
def language(at: Desk, recording: str, language: str, starts: str, ends: str, none: bool, hear_again: bool, as_data: bool) -> None:
    """Say which LANGUAGE (cy, or Welsh) is spoken in a RECORDING, or from–to; without one, say what is on record."""
    if language or none:
        at.archive.languages.say(
            at.viewer, recording, "" if none else language, phrases.clock_ms(starts) if starts else None, phrases.clock_ms(ends) if ends else None
        )
    if hear_again:
        queued, refused = at.archive.transcribing.queue(at.viewer, recording, anew=True)
        for code, reasons in refused:
            say(f"{code}: not allowed. {' '.join(reasons)}")
        if queued:
            work(at.archive)
    page = at.archive.languages.of(at.viewer, recording)
    if as_data:
        say_json(page)
        return
    for line in page.lines:
        say(f"{phrases.clock(line.start_ms)} – {phrases.clock(line.end_ms)}  {line.name} ({line.tag})")
    for told in page.told:
        say(told)
    if page.heard_otherwise:
        say(f"Let it be heard again with: toldhere language {page.recording} --hear-again (the transcript of today stays among its versions).")


COMMANDS = (language,)
