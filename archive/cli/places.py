"""The gazetteer: places with their names, what lies within what, and what may be mis-heard."""

from __future__ import annotations

from pathlib import Path

import click

from archive.app import PLACE_COLUMNS, PLACE_FORMS, phrases, place_cells, place_named
from archive.cli.desk import Desk, desk, json_option, say, say_json, table, write_new
from archive.errors import BadInput

PATH = click.Path(path_type=Path)


@click.group()
def places() -> None:
    """The gazetteer: places, what they are called and when, what lies within what."""


@places.command("list")
@json_option
@desk
def places_list(at: Desk, as_data: bool) -> None:
    """Every place, and how many passages you may read about it or what lies within it."""
    page = at.archive.places.page(at.viewer)
    if as_data:
        say_json(page)
        return
    rows = [
        (r.place.name, r.place.kind, "; ".join(map(place_named, r.place.within)), "; ".join(map(place_named, r.place.also)), r.place.span, r.passages)
        for r in page.rows
    ]
    table("", ("place", "kind", "within", "also called", "so called", "passages"), rows)
    for note in page.notes:
        say(note)
    if page.misheard:
        say(f"{phrases.begin(phrases.many(page.misheard, 'mis-hearing'))} may be of a place: toldhere places misheard")
    if not rows:
        say("The gazetteer is empty. Read one in: toldhere places read places.csv")


@places.command("show")
@click.argument("name")
@json_option
@desk
def places_show(at: Desk, name: str, as_data: bool) -> None:
    """A place by any NAME of it, and where it is spoken of."""
    page = at.archive.places.called(at.viewer, name)
    if as_data:
        say_json(page)
        return
    for column, text in place_cells(page.place).items():
        if text:
            say(f"{column}: {text}")
    if page.inside:
        say(f"in it: {'; '.join(map(place_named, page.inside))}")
    for hit in page.found.hits:
        say(f"{hit.recording} {phrases.clock(hit.start_ms)}–{phrases.clock(hit.end_ms)}  {' '.join(text for text, _ in hit.snippet.parts)}")
    say(f"{phrases.begin(phrases.many(page.found.total, 'passage'))} that you may read.")


@places.command("read")
@click.argument("file", type=PATH)
@desk
def places_read(at: Desk, file: Path) -> None:
    """Read FILE (places.csv, GeoJSON, Linked Places) into the gazetteer: all of it or nothing."""
    done = at.archive.places.read(at.viewer, file)
    for note in done.notes:
        say(note)
    say(f"{phrases.many(done.rows, 'place')} read. Suggest anew with: toldhere describe")


@places.command("add")
@click.argument("name")
@click.option("--kind", default="", help="street, quay, hill …")
@click.option("--within", default="", help="What it lies in; with a time: \"Northshire [../1974]; Southshire [1974/..]\".")
@click.option("--also", default="", help="What else it is called, parted by ;  \"the Steps; Staircase [de]; Fish Steps [../1950]\".")
@click.option("--heard-as", default="", help="How it is mis-heard, parted by ;")
@click.option("--from", "starts", default="", help="Since when it has this name (EDTF).")
@click.option("--until", "ends", default="", help="Until when it had this name (EDTF).")
@click.option("--same-as", default="", help="The same ground under another name.")
@click.option("--at", "metres", default="", help="Metres on the archive's own plan: x,y.")
@click.option("--degrees", default="", help="WGS 84: latitude,longitude.")
@click.option("--language", default="", help="Of the name: nl, or Dutch.")
@desk
def places_add(
    at: Desk, name: str, kind: str, within: str, also: str, heard_as: str, starts: str, ends: str, same_as: str, metres: str, degrees: str,
    language: str,
) -> None:  # fmt: skip
    """Add the place NAME, or correct it: what you give is all that is on record then."""
    (x_m, y_m), (latitude, longitude) = _pair(metres, "--at", "310,-30"), _pair(degrees, "--degrees", "51.67,-1.28")
    typed = dict(zip(PLACE_COLUMNS, (name, kind, within, also, heard_as, starts, ends, same_as, x_m, y_m, latitude, longitude, language), strict=True))
    for note in at.archive.places.write(at.viewer, typed).notes:
        say(note)
    say("It is in the gazetteer. Suggest anew with: toldhere describe")


def _pair(text: str, option: str, example: str) -> tuple[str, str]:
    one, comma, other = text.partition(",")
    if text and not comma:
        raise BadInput(f"{option} needs two numbers.", f"Write them as {option} {example}")
    return one.strip(), other.strip()


@places.command("drop")
@click.argument("name")
@desk
def places_drop(at: Desk, name: str) -> None:
    """Take the place NAME out; refused where somebody confirmed that it is spoken of."""
    at.archive.places.drop(at.viewer, at.archive.places.called(at.viewer, name).place.number)
    say("It is no longer in the gazetteer.")


@places.command("write")
@click.option("--as", "form", type=click.Choice(list(PLACE_FORMS)), default="csv", show_default=True, help="csv, GeoJSON or Linked Places.")
@click.option("--to", type=PATH, help="Where to; else here.")
@desk
def places_write(at: Desk, form: str, to: Path | None) -> None:
    """Write the gazetteer to a file that may leave; names of places that hold a withheld name are left out of it."""
    name, made, left_out = at.archive.places.file(at.viewer, form)
    path = write_new(to, name, made)
    say(f"{path} is written." + (f" {phrases.begin(phrases.many(left_out, 'name is', 'names are'))} left out of it: a withheld name stands in {'it' if left_out == 1 else 'them'}." if left_out else ""))


@places.command("misheard")
@json_option
@desk
def places_misheard(at: Desk, as_data: bool) -> None:
    """What sounds like a place and waits for you to say whether it is."""
    groups = at.archive.places.misheard(at.viewer)
    if as_data:
        say_json(groups)
        return
    for group in groups:
        say(f"“{group.said}”: {group.place}?")
        for m in group.at:
            say(f"    {m.recording} {phrases.clock(m.start_ms)}  {' '.join(w.text for w in m.around)}")
    say('Say whether it is: toldhere places decide "Gull Steps" "Gulf Stairs" yes' if groups else "Nothing sounds like a place that is not on record as one.")


@places.command("decide")
@click.argument("place")
@click.argument("said")
@click.argument("answer", type=click.Choice(["yes", "no"]))
@desk
def places_decide(at: Desk, place: str, said: str, answer: str) -> None:
    """Say whether what was SAID is a mis-hearing of PLACE, wherever `places misheard` lists it: yes or no."""
    found = [g for g in at.archive.places.misheard(at.viewer) if (g.place, g.said) == (place, said)]
    tags = [m.tag_id for g in found for m in g.at]
    number = found[0].number if found else 0
    decided = at.archive.places.decide_misheard(at.viewer, number, said, tags, answer == "yes")
    say(f"{phrases.begin(phrases.many(decided, 'suggestion'))} {'confirmed' if answer == 'yes' else 'rejected'}; it is remembered.")


COMMANDS = (places,)
