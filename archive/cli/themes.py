"""The archive's thesaurus: themes, what decisions taught about them, and what none of them describes."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table

PATH = click.Path(path_type=Path)


@click.group()
def themes() -> None:
    """The archive's thesaurus, of two levels. For keepers and editors."""


@themes.command("list")
@json_option
@desk
def themes_list(at: Desk, as_data: bool) -> None:
    """Every theme under its broader one, with how many passages that you may read are about it."""
    rows = at.archive.themes.list(at.viewer)
    if as_data:
        say_json(rows)
        return
    table(
        "", ("theme", "use for", "note", "related", "confirmed", "suggested"),
        [(f"{'  ' if r.broader else ''}{r.name}", phrases.labels(r.use_for), r.scope_note, ", ".join(r.related), r.confirmed, r.suggested) for r in rows],
    )  # fmt: skip


@themes.command("show")
@click.argument("theme")
@json_option
@desk
def themes_show(at: Desk, theme: str, as_data: bool) -> None:
    """One THEME, and what decisions taught about it."""
    page = at.archive.learned.page(at.viewer, theme)
    if as_data:
        say_json(page)
        return
    row = page.row
    say(f"{row.broader} → {row.name}" if row.broader else row.name)
    for title, text in (
        ("note", row.scope_note), ("words", ", ".join(row.words)), ("use for", phrases.labels(row.use_for)),
        ("in other languages", phrases.labels(row.labels)), ("related", ", ".join(row.related)),
    ):  # fmt: skip
        if text:
            say(f"{title}: {text}")
    say(f"{phrases.begin(phrases.many(row.confirmed, 'passage'))} confirmed, {phrases.many(row.suggested, 'passage')} suggested.")
    for note in page.notes:
        say(note)
    if page.words:
        table(
            "", ("word", "speaks", "said in", "", "passages"),
            [(w.spoken, "for it" if w.speaks_for else "against it", phrases.taught(w.speaks_for, w.here, w.all_here, w.there, w.all_there), "not learned" if w.off else "", ", ".join(f"{code}@{phrases.clock(at_ms)}" for code, at_ms in w.passages)) for w in page.words],
        )  # fmt: skip


@themes.command("write")
@click.argument("theme")
@click.option("--broader", help="The broader theme; \"\" at the top.")
@click.option("--note", "scope_note", help="What it is about, and what not.")
@click.option("--word", "words", multiple=True, help="A word that speaks for it. Give it again for more; they take the place of those on record.")
@click.option("--use-for", multiple=True, help="Another word for the same; with its language as \"pl: zalanie\".")
@click.option("--related", multiple=True, help="A related theme.")
@click.option("--label", "labels", multiple=True, help="Its name in another language, as \"pl: powódź\".")
@desk
def themes_write(
    at: Desk, theme: str, broader: str | None, scope_note: str | None, words: tuple[str, ...], use_for: tuple[str, ...],
    related: tuple[str, ...], labels: tuple[str, ...],
) -> None:  # fmt: skip
    """Add a THEME, or correct what is named of one that is there."""
    cells = {"theme": theme, "broader": broader, "scope_note": scope_note}
    cells |= {name: ";".join(given) or None for name, given in (("words", words), ("use_for", use_for), ("related", related), ("labels", labels))}
    at.archive.themes.write(at.viewer, {name: text for name, text in cells.items() if text is not None})
    say("Kept in the thesaurus.")


@themes.command("read")
@click.argument("file", type=PATH)
@click.option("--only", default="", help="Of a SKOS file only this concept, with its narrower ones.")
@desk
def themes_read(at: Desk, file: Path, only: str) -> None:
    """Read themes from a sheet (CSV) or from SKOS (Turtle, RDF/XML, JSON-LD): all of it or nothing."""
    if file.suffix.lower() == ".csv":
        say(f"{phrases.begin(phrases.many(at.archive.themes.read(at.viewer, file), 'theme'))} read.")
        return
    read = at.archive.themes.read_skos_file(at.viewer, file, only)
    say(f"{phrases.begin(phrases.many(read.themes, 'theme'))} read.")
    if read.left_out:
        say(f"Not kept here: {', '.join(f'{what} ({number})' for what, number in read.left_out)}.")


@themes.command("out")
@click.option("--to", "path", type=PATH, required=True, help="The file to write: .ttl Turtle, .rdf RDF/XML, .jsonld JSON-LD.")
@desk
def themes_out(at: Desk, path: Path) -> None:
    """Write the thesaurus as SKOS."""
    written = at.archive.themes.write_skos_file(at.viewer, path)
    say(f"Written: {path}")
    if written.words_left_out:
        say(f"{phrases.begin(phrases.many(written.words_left_out, 'word'))} left out of it: somebody on record is named.")


@themes.command("rename")
@click.argument("theme")
@click.argument("name")
@desk
def themes_rename(at: Desk, theme: str, name: str) -> None:
    """Give a THEME another NAME: its passages follow, and the old name stays another word for it."""
    at.archive.themes.rename(at.viewer, theme, name)
    say("Renamed.")


@themes.command("merge")
@click.argument("theme")
@click.argument("into")
@desk
def themes_merge(at: Desk, theme: str, into: str) -> None:
    """Make a THEME a part of another (INTO): its words, narrower themes and passages follow."""
    say(f"Merged; passages in {phrases.many(at.archive.themes.merge(at.viewer, theme, into), 'recording')} followed.")


@themes.command("drop")
@click.argument("theme")
@desk
def themes_drop(at: Desk, theme: str) -> None:
    """Take a THEME out that nobody confirmed anywhere."""
    at.archive.themes.remove(at.viewer, theme)
    say("Taken out.")


@themes.command("unlearn")
@click.argument("theme")
@click.argument("word")
@click.option("--again", is_flag=True, help="Let it be learned again.")
@desk
def themes_unlearn(at: Desk, theme: str, word: str, again: bool) -> None:
    """Do not learn a WORD for a THEME; it is kept that you said so."""
    at.archive.learned.take_off(at.viewer, theme, word, back=again)
    say("It may be learned again." if again else "It is not learned any more, and what it alone had suggested is gone.")


@themes.command("missing")
@json_option
@desk
def themes_missing(at: Desk, as_data: bool) -> None:
    """Passages that no theme describes, grouped by the words that they share: what a new theme could be about."""
    page = at.archive.learned.missing(at.viewer)
    if as_data:
        say_json(page)
        return
    say(page.says)
    for group in page.groups:
        say(f"{', '.join(group.words)}: {phrases.many(group.number, 'passage')}, such as {', '.join(f'{h.recording}@{phrases.clock(h.start_ms)}' for h in group.hits)}")


COMMANDS = (themes,)
