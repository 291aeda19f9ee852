"""Languages: which one is spoken in a recording, and translations beside it."""

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


@click.group("translations")
def translations() -> None:
    """Translations by hand, beside the words they are of."""


@translations.command("list")
@click.argument("recording", default="")
@json_option
@desk
def translations_list(at: Desk, recording: str, as_data: bool) -> None:
    """Every translation (of one RECORDING), with its state."""
    rows = at.archive.translating.list(at.viewer, recording)
    if as_data:
        say_json(rows)
        return
    for row in rows:
        one = row.shown
        say(f"{one.code}  {row.recording}@{phrases.from_to(one.start_ms, one.end_ms)}  {one.language_name}, by {one.translator}: {one.state_words}")
        say(f"    {one.text}")
        for told in (phrases.CHANGED_SINCE if one.changed else "", f"Readers do not see it. {one.held_back}" if one.held_back else ""):
            if told:
                say(f"    {told}")
    if not rows:
        say("There are no translations here that you may read. Write one: toldhere translations write STRETCH LANGUAGE TEXT")


@translations.command("write")
@click.argument("stretch")
@click.argument("language")
@click.argument("text")
@click.option("--translator", default="", help="Who translated, where it was not you: an account, or a code.")
@desk
def translations_write(at: Desk, stretch: str, language: str, text: str, translator: str) -> None:
    """Put a translation of a STRETCH (TW-03.1@1:16-1:25) beside it: its LANGUAGE (pl, or Polish) and its TEXT. It is a draft."""
    recording, start_ms, end_ms = phrases.stretch(stretch)
    code = at.archive.translating.write(at.viewer, recording, start_ms, end_ms, language, text, translator)
    page = at.archive.translating.one(at.viewer, code)
    say(f"{code}, of: {page.original}")
    if page.shown.held_back:
        say(f"Readers do not see it, and it does not leave. {page.shown.held_back}")


@translations.command("change")
@click.argument("code")
@click.argument("text")
@click.option("--language", default="", help="Where it was said wrongly before.")
@click.option("--translator", default="", help="Where somebody else translated it now.")
@desk
def translations_change(at: Desk, code: str, text: str, language: str, translator: str) -> None:
    """Give the translation CODE (TR-1) this TEXT. What was there before stays on record; it is a draft again."""
    at.archive.translating.change(at.viewer, code, text, language, translator)
    say(f"{code} is changed, and a draft.")


@translations.command("state")
@click.argument("code")
@click.argument("state", type=click.Choice(["draft", "checked", "agreed", "set aside"]))
@desk
def translations_state(at: Desk, code: str, state: str) -> None:
    """Say how far it has come: checked (by you, who speak the language and did not write it), agreed (with the speaker), set aside."""
    at.archive.translating.say_state(at.viewer, code, state)
    say(f"{code}: {phrases.TRANSLATION_STATES[state]}.")


COMMANDS = (language, translations)
