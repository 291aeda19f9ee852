"""Agreements on paper: forms, scans, spoken stretches, who is asked again; and how people may be reached."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from archive.app import RULE_WORDS, FormKind, Size, Written, phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table, write_new
from archive.cli.people import PATH, agreements, people

SIZE = click.option("--size", type=click.Choice([s.value for s in Size]), default="a4", help="The paper: a4, letter.")
TO = click.option("--to", type=PATH, help="A new file, or a folder; here where nothing is named.")


def written(made: Written, to: Path | None) -> None:
    """Write a paper, and say where and what to keep to."""
    say(f"Written: {write_new(to, made.name, made.data)}.")
    for note in made.notes:
        say(f"  {note}")


@agreements.command("form")
@click.argument("person")
@click.option("--kind", type=click.Choice([k.value for k in FormKind]), help="Which form; else what is next for them.")
@click.option("--interview", default="", help="Code of the interview it is about.")
@click.option("--language", default="", help="A tag or name; else the one they read.")
@SIZE
@click.option("--large/--normal", default=None, help="Large print, or normal; else as they read.")
@TO
@desk
def agreements_form(at: Desk, person: str, kind: str | None, interview: str, language: str, size: str, large: bool | None, to: Path | None) -> None:
    """Print a form for PERSON (PDF) from the archive's own list of uses; for a helper, name their account."""
    written(at.archive.papers.form(at.viewer, person, kind or "", interview, language, size, large), to)


@agreements.command("attach")
@click.argument("scan", type=PATH)
@click.argument("to")
@click.option("--code", default="", help="The code on the paper, beside an agreement.")
@desk
def agreements_attach(at: Desk, scan: Path, to: str, code: str) -> None:
    """Keep the SCAN of a signed paper (PDF, JPEG, PNG) with the agreement TO, or with the form whose code it bears."""
    say(at.archive.papers.attach(at.viewer, scan, to, code))


@agreements.command("spoken")
@click.argument("agreement")
@click.argument("stretch")
@desk
def agreements_spoken(at: Desk, agreement: str, stretch: str) -> None:
    """Point at the STRETCH (TW-01.1@0:10-0:25) in which AGREEMENT is spoken."""
    say(at.archive.papers.spoken(at.viewer, agreement, stretch))


@agreements.command("printed")
@click.argument("code", default="")
@json_option
@desk
def agreements_printed(at: Desk, code: str, as_data: bool) -> None:
    """Every form that was printed, and whether it came back signed; or what the CODE on a paper stands for."""
    rows = (at.archive.papers.found(at.viewer, code),) if code else at.archive.papers.forms(at.viewer)
    if as_data:
        say_json(rows)
        return
    table("", ("code", "form", "for", "interview", "printed", "signed papers"), [(r.code, phrases.form_kind(r.kind), r.person, r.interview, r.printed, len(r.papers)) for r in rows])


@agreements.command("uses")
@click.argument("code", default="")
@click.argument("label", default="")
@json_option
@desk
def agreements_uses(at: Desk, code: str, label: str, as_data: bool) -> None:
    """The archive's own list of uses; with CODE and LABEL, add one: nobody was asked about it, so nobody allows it yet."""
    if code:
        use = at.archive.papers.add_use(at.viewer, code, label)
        say(f"Added: {use.label}. Next: toldhere agreements again {use.code}")
        return
    if as_data:
        say_json(at.archive.uses())
    else:
        table("", ("use", "in words", ""), [(use.code, use.label, "stays inside" if use.inward else "") for use in at.archive.uses()])


@agreements.command("again")
@click.argument("use")
@click.option("--through", type=click.DateTime(["%Y-%m-%d"]), help="The last day of a longer run; else it is about a use that is new to them.")
@click.option("--letters", is_flag=True, help="Write a letter and a form for everybody who is to be asked, as one ZIP.")
@SIZE
@TO
@json_option
@desk
def agreements_again(at: Desk, use: str, through: datetime | None, letters: bool, size: str, to: Path | None, as_data: bool) -> None:
    """Who must be asked again before USE begins, or runs longer."""
    last = through.date() if through else None
    if letters:
        written(at.archive.papers.letters_again(at.viewer, use, last, size), to)
        return
    found = at.archive.papers.ask_again(at.viewer, use, last)
    if as_data:
        say_json(found)
        return
    table("", ("person", "", "why", "letter to"), [(r.person, r.what, r.why, r.to) for r in found.rows])
    say(f"What to keep to with each: toldhere people contact PERSON. {found.caution}")


@people.command("contact")
@click.argument("person")
@click.option("--called", default="", help="How they are addressed; else by their full name.")
@click.option("--address", default="", help="Its lines, parted by semicolons.")
@click.option("--rule", "rules", multiple=True, type=click.Choice([r.value for r in RULE_WORDS]), help="What we keep to. May be given again.")
@click.option("--language", default="", help="Which language they read.")
@click.option("--large", is_flag=True, help="They read large print.")
@click.option("--how", default="", help="For the team: a telephone number, through whom.")
@json_option
@desk
def people_contact(at: Desk, person: str, called: str, address: str, rules: tuple[str, ...], language: str, large: bool, how: str, as_data: bool) -> None:
    """How PERSON may be reached; with any option, keep that in place of what is on record."""
    cells = {"called": called, "address": "\n".join(address.split(";")), "language": language, "how": how}
    if any(cells.values()) or rules or large:
        at.archive.letters.say(at.viewer, person, cells, rules, large)
    found = at.archive.letters.contact(at.viewer, person)
    if as_data:
        say_json(found)
        return
    say(f"{person}: {', '.join(found.address) or 'no address on record'}. {found.how}".strip())
    for note in found.notes():
        say(f"  {note}")


@people.command("envelope")
@click.argument("person")
@TO
@desk
def people_envelope(at: Desk, person: str, to: Path | None) -> None:
    """Print the face of an envelope to PERSON (PDF, DL), where something may be posted to them."""
    written(at.archive.letters.envelope(at.viewer, person), to)


COMMANDS = ()
