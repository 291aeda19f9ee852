"""The archive's own list of spellings, and where a mis-hearing stands."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table
from archive.domain.values import SpellingKind

PATH = click.Path(path_type=Path)


@click.group()
def spellings() -> None:
    """The archive's own list of spellings, and how they are mis-heard. For keepers and editors."""


@spellings.command("list")
@json_option
@desk
def spellings_list(at: Desk, as_data: bool) -> None:
    """Every spelling with its mis-hearings; places and people come from where they are on record."""
    page = at.archive.spellings.page(at.viewer)
    if as_data:
        say_json(page)
        return
    rows = [
        (f"{r.code} {r.text}".strip(), r.kind, "; ".join(h.text for h in r.heard_as) + (f" and {r.more} more" if r.more else ""), r.source, r.note)
        for r in page.rows
    ]
    table("", ("spelling", "kind", "heard as", "kept in", "note"), rows)
    if page.off:
        say(f"Taken off: {', '.join(r.text for r in page.off)}.")
    say("Names of people stand here: the list is for keepers and editors.")


@spellings.command("add")
@click.argument("spelling")
@click.option("--kind", type=click.Choice([k.value for k in SpellingKind]), help="What it is; a place or person on record is found without it.")
@click.option("--heard-as", multiple=True, help="How it is mis-heard. Give it again for more.")
@click.option("--note", default="", help="What somebody should know about it.")
@desk
def spellings_add(at: Desk, spelling: str, kind: str | None, heard_as: tuple[str, ...], note: str) -> None:
    """Put a SPELLING on the list, or add to one that is on it."""
    say(phrases.SPELLING_KEPT[at.archive.spellings.add(at.viewer, {"spelling": spelling, "kind": kind or "", "heard_as": ";".join(heard_as), "note": note})])


@spellings.command("read")
@click.argument("sheet", type=PATH)
@desk
def spellings_read(at: Desk, sheet: Path) -> None:
    """Read spellings from a CSV (spelling, kind, heard_as, note): all of it or nothing."""
    say(f"{phrases.begin(phrases.many(at.archive.spellings.read(at.viewer, sheet), 'spelling'))} read.")


@spellings.command("drop")
@click.argument("spelling")
@click.option("--heard-as", default="", help="Only this mis-hearing of it.")
@desk
def spellings_drop(at: Desk, spelling: str, heard_as: str) -> None:
    """Take a SPELLING off the list; `spellings back` puts it on again."""
    at.archive.spellings.drop(at.viewer, spelling, heard_as)
    say("Taken off.")


@spellings.command("back")
@click.argument("spelling")
@desk
def spellings_back(at: Desk, spelling: str) -> None:
    """Put a SPELLING that was taken off on the list again, as it was."""
    at.archive.spellings.drop(at.viewer, spelling, back=True)
    say("On the list again.")


@spellings.command("same")
@click.argument("misheard")
@click.argument("spelling")
@click.option("--recording", default="", help="Only in this recording.")
@json_option
@desk
def spellings_same(at: Desk, misheard: str, spelling: str, recording: str, as_data: bool) -> None:
    """Where MISHEARD stands for SPELLING in what you may correct. Nothing is changed: the pages show each place with its sound."""
    page = at.archive.spellings.same(at.viewer, misheard, spelling, recording)
    if as_data:
        say_json(page)
    elif page.found:
        rows = [
            (f"{m.recording}@{phrases.from_to(m.start_ms, m.end_ms)}", m.speaker, f"… {m.before} {m.said} {m.after} …", m.becomes, "sounds like it" if m.alike else "")
            for m in page.found
        ]
        table("", ("stretch", "speaker", "words", "would become", ""), rows)
        if page.number > len(page.found):
            say(f"These are the first {len(page.found)} of {page.number}.")
        say("Change them on the pages: Recordings, Spellings.")
    else:
        say("It stands nowhere that you may correct.")


COMMANDS = (spellings,)
