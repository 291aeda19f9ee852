"""Field notes: sheets to print, what was written on them, what has none."""

from __future__ import annotations

from pathlib import Path

import click

from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table

PATH = click.Path(path_type=Path)


@click.group()
def notes() -> None:
    """Field notes: who, where, when, with what, who else was in the room, remarks. For keepers and editors."""


@notes.command("list")
@json_option
@desk
def notes_list(at: Desk, as_data: bool) -> None:
    """Every sheet, and which interviews have none."""
    page = at.archive.notes.page(at.viewer)
    if as_data:
        say_json(page)
        return
    table("", ("sheet", "about", "written", ""), [(r.code, r.about, r.written or "blank", " ".join(r.cautions)) for r in page.rows])
    say(f"Without field notes: {', '.join(page.without)}." if page.without else "Every interview has its field notes.")


@notes.command("show")
@click.argument("code")
@json_option
@desk
def notes_show(at: Desk, code: str, as_data: bool) -> None:
    """What stands on the sheet of this CODE, or on the newest about this interview or recording."""
    row = at.archive.notes.one(at.viewer, code)
    if as_data:
        say_json(row)
        return
    say(f"{row.code}: {row.about or 'not said yet what it is about'}; {row.written or 'nothing is written on it yet'}.")
    for label, text in (("who", row.who), ("where", row.where), ("when", row.when), ("with what", row.with_what), ("who else was in the room", row.in_the_room), ("remarks", row.remarks)):
        if text:
            say(f"{label}: {text}")
    for caution in row.cautions:
        say(caution)


@notes.command("print")
@click.argument("file", type=PATH)
@click.option("--sheets", default=1, type=click.IntRange(1, MOST), help="How many.")
@desk
def notes_print(at: Desk, file: Path, sheets: int) -> None:
    """Write blank sheets to FILE (PDF), each with a code of its own. They name nobody."""
    if file.exists():
        raise click.UsageError("That file is there already. Name a new one.")
    codes, pdf = at.archive.notes.print_sheets(at.viewer, sheets)
    file.write_bytes(pdf)
    say(f"Written: {', '.join(codes)}. Filled sheets name people: keep them locked away.")


@notes.command("read")
@click.argument("sheet", type=PATH)
@desk
def notes_read(at: Desk, sheet: Path) -> None:
    """Read field notes from a CSV (code, about, who, where, when, with_what, in_the_room, remarks): all of it or nothing."""
    say(f"{at.archive.notes.read(at.viewer, sheet)} read.")


@notes.command("write")
@click.argument("about")
@click.option("--code", default="", help="The code on the sheet, where there is one.")
@click.option("--who", default="", help="Codes of who spoke and asked.")
@click.option("--where", default="", help="The room, what could be heard from outside.")
@click.option("--when", default="", help="Day, from, until, breaks.")
@click.option("--with-what", default="", help="Recorder, microphones, channels.")
@click.option("--in-the-room", default="", help="Who else was there; “nobody” where nobody was.")
@click.option("--remarks", default="", help="What the sound does not tell.")
@desk
def notes_write(at: Desk, /, about: str, **fields: str) -> None:
    """Write down notes ABOUT an interview or a recording. What you leave out stays as it is."""
    code = at.archive.notes.write(at.viewer, {"about": about, **fields})
    say(f"Kept as {code}.")


COMMANDS = (notes,)
