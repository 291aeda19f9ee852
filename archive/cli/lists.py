"""Lists, saved questions, and what the archive has: place × decade, tellings side by side."""

from __future__ import annotations

import click

from archive.app import phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table

ITEM = click.IntRange(1, MOST)


@click.group()
def lists() -> None:
    """Lists: working trays of passages, in an order, with a note beside each. They hold stretches, no words."""


@lists.command("list")
@json_option
@desk
def lists_list(at: Desk, as_data: bool) -> None:
    """Every list: the team's (for keepers and editors) and your own."""
    rows = at.archive.lists.list(at.viewer)
    if as_data:
        say_json(rows)
        return
    if rows:
        table("", ("number", "list", "passages", "whose"), [(r.id, r.name, r.items, "the team's" if r.team else "your own") for r in rows])
    else:
        say("There is no list yet. Make one with `toldhere lists make NAME`.")


@lists.command("show")
@click.argument("which", metavar="LIST")
@json_option
@desk
def lists_show(at: Desk, which: str, as_data: bool) -> None:
    """What is in a LIST (its number or name), as you may read it today."""
    page = at.archive.lists.page(at.viewer, at.archive.lists.called(at.viewer, which))
    if as_data:
        say_json(page)
        return
    say(f"{page.row.name}: {phrases.many(page.row.items, 'passage')}{', deleted' if page.deleted else ''}")
    for place, item in enumerate(page.items, 1):
        if item.shown is None:
            say(f"{place}. (item {item.id}) not available today")
            continue
        shown = item.shown
        say(f"{place}. (item {item.id}) {shown.recording}@{phrases.from_to(shown.start_ms, shown.end_ms)}  {'; '.join(shown.speakers)}, kept by {item.by}")
        say(f"    {' '.join(w.text for w in shown.words)}")
        if item.note:
            say(f"    note: {item.note}")
        if item.excerpts:
            say(f"    chosen from it: {', '.join(item.excerpts)}")
    if page.taken_off:
        say(f"Taken off: {', '.join(f'item {i.id}' for i in page.taken_off)}; `toldhere lists back ITEM` puts one back.")


@lists.command("make")
@click.argument("name")
@click.option("--own", is_flag=True, help="For you alone, not for the team.")
@desk
def lists_make(at: Desk, name: str, own: bool) -> None:
    """Begin a list with this NAME; prints its number."""
    say(str(at.archive.lists.make(at.viewer, name, own)))


@lists.command("keep")
@click.argument("which", metavar="LIST")
@click.argument("stretch")
@click.option("--note", default="", help="What is noted beside it.")
@desk
def lists_keep(at: Desk, which: str, stretch: str, note: str) -> None:
    """Keep a STRETCH (TW-01.1@1:16-1:25, as `find` prints it) in a LIST (its number or name)."""
    kept = at.archive.lists.keep(at.viewer, at.archive.lists.called(at.viewer, which), *phrases.stretch(stretch), note)
    say("It is in the list." if kept else "It was in the list already.")


@lists.command("note")
@click.argument("item", type=ITEM)
@click.argument("note")
@desk
def lists_note(at: Desk, item: int, note: str) -> None:
    """Write a NOTE beside an ITEM; an empty one takes it away."""
    at.archive.lists.write_note(at.viewer, item, note)
    say("The note is written.")


@lists.command("move")
@click.argument("item", type=ITEM)
@click.argument("way", type=click.Choice(["up", "down"]))
@desk
def lists_move(at: Desk, item: int, way: str) -> None:
    """Move an ITEM one place up or down."""
    at.archive.lists.move(at.viewer, item, -1 if way == "up" else 1)
    say(f"Moved {way}.")


@lists.command("off")
@click.argument("item", type=ITEM)
@desk
def lists_off(at: Desk, item: int) -> None:
    """Take an ITEM off its list; for a month it can be put back."""
    at.archive.lists.take_off(at.viewer, item)
    say(f"Taken off. Put it back with: toldhere lists back {item}")


@lists.command("back")
@click.argument("item", type=ITEM)
@click.option("--list", "whole", is_flag=True, help="ITEM is the number of a list that was deleted.")
@desk
def lists_back(at: Desk, item: int, whole: bool) -> None:
    """Put back an ITEM that was taken off, or (--list) a list that was deleted."""
    if whole:
        at.archive.lists.put_back(at.viewer, item)
    else:
        at.archive.lists.put_item_back(at.viewer, item)
    say("It is there again.")


@lists.command("rename")
@click.argument("which", metavar="LIST")
@click.argument("name")
@desk
def lists_rename(at: Desk, which: str, name: str) -> None:
    """Give a LIST another NAME."""
    at.archive.lists.rename(at.viewer, at.archive.lists.called(at.viewer, which), name)
    say("Renamed.")


@lists.command("delete")
@click.argument("which", metavar="LIST")
@desk
def lists_delete(at: Desk, which: str) -> None:
    """Delete a LIST (its number or name); for a month it can be put back."""
    number = at.archive.lists.called(at.viewer, which)
    at.archive.lists.delete(at.viewer, number)
    say(f"Deleted. Put it back with: toldhere lists back {number} --list")


@click.group()
def questions() -> None:
    """Saved questions, which say what is new since you looked. One is saved beside its answer on the pages, or by `find --save`."""


@questions.command("list")
@json_option
@desk
def questions_list(at: Desk, as_data: bool) -> None:
    """Every saved question with what is new: the team's (for keepers and editors) and your own."""
    rows = at.archive.questions.list(at.viewer)
    if as_data:
        say_json(rows)
        return
    for row in rows:
        whose = "the team's" if row.team else "your own"
        say(f"{row.name} ({whose}): {row.told}")
        say(f"    {row.trouble}" if row.trouble else f"    {phrases.many(row.total, 'passage')}, {row.new} new since you looked")
    if not rows:
        say("No question is saved. Ask in Find and save it there, or give `toldhere find` the option --save.")


@questions.command("look")
@click.argument("name")
@json_option
@desk
def questions_look(at: Desk, name: str, as_data: bool) -> None:
    """Show what is new of the question of this NAME, and count it as seen."""
    key = at.archive.questions.called(at.viewer, name).key
    at.archive.questions.look(at.viewer, key)
    news = at.archive.questions.news(at.viewer, key)
    if as_data:
        say_json(news)
        return
    for hit in news.hits:
        say(f"{hit.recording} {phrases.clock(hit.start_ms)}–{phrases.clock(hit.end_ms)}  {'; '.join(hit.speakers)}")
        say(f"    {' '.join(text for text, _ in hit.snippet.parts)}")
    say(f"{phrases.begin(phrases.many(news.total, 'new passage'))}.")


@questions.command("drop")
@click.argument("name")
@click.option("--yes", is_flag=True, help="Do not ask.")
@desk
def questions_drop(at: Desk, name: str, yes: bool) -> None:
    """Forget the question of this NAME for good."""
    question = at.archive.questions.called(at.viewer, name)
    if yes or click.confirm("Forget this question for good?"):
        at.archive.questions.drop(at.viewer, question.key)
        say("It is forgotten.")


@click.command("grid")
@click.option("--use", default="exhibition", help="How much of it is usable for this use today, as words.")
@json_option
@desk
def grid(at: Desk, use: str, as_data: bool) -> None:
    """Place × decade: how much testimony there is, from how many people, how much of it usable, and what is still to be asked."""
    found = at.archive.overview.grid(at.viewer, use)
    if as_data:
        say_json(found)
        return
    if not found.decades:
        say("Nothing that you may read names a place and a decade yet.")
        return
    for row in found.rows:
        say(f"{'  ' * row.depth}{row.name}")
        for cell in row.cells:
            if cell.passages:
                people = f"{phrases.many(cell.people, 'person', 'people')}{' and others' if cell.others else ''}"
                usable = f"{cell.usable} of them allowed for {found.use_label}" if cell.usable else f"none allowed for {found.use_label}"
                say(f"{'  ' * row.depth}    {cell.decade}s: {phrases.many(cell.passages, 'passage')}, {phrases.lasting(cell.ms)}, from {people}; {usable}")
        empty = [f"{c.decade}s" for c in row.cells if not c.passages]
        say(f"{'  ' * row.depth}    nothing yet: {', '.join(empty)}" if empty else "")
    if found.bare:
        say(f"Nobody tells of {phrases.many(len(found.bare), 'further place')} of the gazetteer.")


@click.command("beside")
@click.option("--event", default="", help="An event of the calendar, by its name.")
@click.option("--place", default="", help="A place, with --decade.")
@click.option("--decade", default="", help="1960")
@json_option
@desk
def beside(at: Desk, event: str, place: str, decade: str, as_data: bool) -> None:
    """What different people tell of one event, or of one place and decade, side by side; and where it agrees."""
    found = at.archive.overview.beside_called(at.viewer, event, place, decade)
    if as_data:
        say_json(found)
        return
    more = f", and {phrases.many(found.more, 'further passage')}" if found.more else ""
    say(f"{found.about}: {phrases.many(len(found.hits), 'telling')}{more}")
    for n, (hit, passage) in enumerate(zip(found.hits, found.passages, strict=True), 1):
        say(f"{n}. {hit.recording} {phrases.clock(hit.start_ms)}–{phrases.clock(hit.end_ms)}  {'; '.join(hit.speakers)}")
        say(f"    {' '.join(w.text for w in passage.words) if passage else ''}")
    for row in found.compared:
        say(f"{row.kind}s: {phrases.agrees(row)}")
        for n, values in enumerate(row.told, 1):
            if values:
                say(f"    {n}: {', '.join(phrases.tag(row.kind, v) for v in values)}")


COMMANDS = (lists, questions, grid, beside)
