"""Languages: which one is spoken in a recording, translations beside it, and the glossary."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table


@click.command()
@click.argument("recording")
@click.argument("language", default="")
@click.option("--from", "starts", default="", help="Where it begins, 1:16; without it, all of the recording.")
@click.option("--to", "ends", default="", help="Where it ends, 1:25.")
@click.option("--none", is_flag=True, help="With --from and --to: it is as the rest of the recording.")
@json_option
@desk
def language(at: Desk, recording: str, language: str, starts: str, ends: str, none: bool, as_data: bool) -> None:
    """Say which LANGUAGE (cy, or Welsh) is spoken in a RECORDING, or from–to; without one, say what is on record."""
    if language or none:
        at.archive.languages.say(
            at.viewer, recording, "" if none else language, phrases.clock_ms(starts) if starts else None, phrases.clock_ms(ends) if ends else None
        )
    page = at.archive.languages.of(at.viewer, recording)
    if as_data:
        say_json(page)
        return
    for line in page.lines:
        say(f"{phrases.clock(line.start_ms)} – {phrases.clock(line.end_ms)}  {line.name} ({line.tag})")
    for told in page.told:
        say(told)
    if page.heard_otherwise:
        say(f"Let it be heard again with: toldhere transcribe {page.recording} --again")


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
        for told in (phrases.CHANGED_SINCE if one.changed else "", f"{phrases.NOT_FOR_READERS} {one.held_back}" if one.held_back else ""):
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
    say(f"{code}, of: {page.words.original}")
    if page.shown.held_back:
        say(f"{phrases.NOT_FOR_READERS} {page.shown.held_back}")


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


@click.group("glossary")
def glossary() -> None:
    """Words of a place, a trade or a language, with what they mean."""


@glossary.command("list")
@json_option
@desk
def glossary_list(at: Desk, as_data: bool) -> None:
    """Every word, with its meanings."""
    rows = at.archive.glossary.list(at.viewer)
    if as_data:
        say_json(rows)
        return
    table("", ("", "word", "language", "meanings", ""), [(r.id, r.word, r.language_name, "; ".join(r.meanings), "sensitive" if r.sensitive else "") for r in rows])
    if not rows:
        say("The glossary is empty. Read one in (toldhere glossary read SHEET), or write a word: toldhere glossary write WORD LANGUAGE MEANING")


@glossary.command("show")
@click.argument("word")
@json_option
@desk
def glossary_show(at: Desk, word: str, as_data: bool) -> None:
    """A WORD (or its number in the list), and where it is said."""
    page = at.archive.glossary.called(at.viewer, word)
    if as_data:
        say_json(page)
        return
    row = page.row
    say(f"{row.word} ({row.language_name}): {'; '.join(row.meanings)}")
    for told in (phrases.SENSITIVE if row.sensitive else "", f"Source: {row.source}" if row.source else "", row.note):
        if told:
            say(told)
    for hit in page.found.hits:
        say(f"{hit.recording} {phrases.clock(hit.start_ms)}–{phrases.clock(hit.end_ms)}  {' '.join(text for text, _ in hit.snippet.parts)}")
    say(f"{phrases.begin(phrases.many(page.found.total, 'passage'))} that you may read.")


@glossary.command("write")
@click.argument("word")
@click.argument("language")
@click.argument("meanings", nargs=-1, required=True, metavar="MEANING...")
@click.option("--sensitive", is_flag=True, help="It may hurt somebody who reads it, or of whom it is said.")
@click.option("--source", default="", help="Who explained it, or which dictionary.")
@click.option("--note", default="")
@desk
def glossary_write(at: Desk, word: str, language: str, meanings: tuple[str, ...], sensitive: bool, source: str, note: str) -> None:
    """Add or correct a WORD of a LANGUAGE (cy, or Welsh) with what it means."""
    made = at.archive.glossary.write(at.viewer, {
        "word": word, "language": language, "meanings": ";".join(meanings), "sensitive": "yes" if sensitive else "no", "source": source, "note": note,
    })  # fmt: skip
    say(f"Kept as number {made}.")


@glossary.command("read")
@click.argument("sheet", type=click.Path(path_type=Path))
@desk
def glossary_read(at: Desk, sheet: Path) -> None:
    """Read glossary.csv (word, language, meanings, sensitive, source, note): all of it or nothing."""
    say(f"{phrases.begin(phrases.many(at.archive.glossary.read(at.viewer, sheet), 'word'))} read.")


@glossary.command("drop")
@click.argument("word")
@desk
def glossary_drop(at: Desk, word: str) -> None:
    """Take a WORD (or its number) out."""
    at.archive.glossary.drop(at.viewer, at.archive.glossary.called(at.viewer, word).row.id)
    say("It is no longer in the glossary.")


COMMANDS = (language, translations, glossary)
