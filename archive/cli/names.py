"""Names that are spoken, and what a person decides about them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from archive.app import Pointed, ShownMention, phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table
from archive.errors import BadInput

PATH = click.Path(path_type=Path)


@click.group("names")
def names() -> None:
    """Names that are spoken, and what was decided about them."""


@names.command("read")
@click.argument("sheet", type=PATH)
@desk
def names_read(at: Desk, sheet: Path) -> None:
    """Read mentions.csv: which names may stand, and which are hidden."""
    done, missing = at.archive.naming.read(at.viewer, sheet)
    say(f"{phrases.begin(phrases.many(done, 'name'))} decided." + (f" {phrases.begin(phrases.many(missing, 'row fits', 'rows fit'))} no name in the transcripts." if missing else ""))


@names.command("waiting")
@click.argument("recording")
@json_option
@desk
def names_waiting(at: Desk, recording: str, as_data: bool) -> None:
    """Stretches of a recording that name somebody and are undecided: hidden in whatever leaves."""
    rows = at.archive.naming.waiting(at.viewer, recording)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("stretch", "who may be meant"), [(f"{recording}@{phrases.from_to(start_ms, end_ms)}", who) for start_ms, end_ms, who in rows])
        say("Decide one: toldhere names decide STRETCH hide, or keep, cleared, public.")
    else:
        say("No name waits for a decision.")


@names.command("heard")
@click.argument("key", default="")
@click.option("--waiting", is_flag=True, help="Only names that wait for a decision.")
@json_option
@desk
def names_heard(at: Desk, key: str, waiting: bool, as_data: bool) -> None:
    """Every name that is spoken; or, of one name by its KEY, each stretch with the words around it."""
    if not key:
        groups = at.archive.naming.heard(at.viewer, waiting)
        if as_data:
            say_json(groups)
        elif groups:
            table("", ("key", "name", "points by", "stretches", "undecided"), [(g.key, g.label, phrases.pointing(g.first.kind), g.number, g.undecided or "") for g in groups])
            say("Look at one: toldhere names heard KEY. Undecided names are hidden in whatever leaves.")
        else:
            say("No name waits for a decision." if waiting else "No name was heard in what you may read.")
        return
    page = at.archive.naming.name(at.viewer, key)
    if as_data:
        say_json(page)
        return
    for one in page.stretches:
        _tell(one)
    _caution(page.cautions)


def _tell(one: ShownMention) -> None:
    """One stretch for a person: where, its words with those around, what was decided, why it was noted."""
    state = phrases.decided(one.decision) if one.decision != "undecided" or not one.stands else "stands: they take part, and are named so"
    said = f"… {one.before} >>{one.said}<< {one.after} …"
    say(f"{one.recording}@{phrases.from_to(one.start_ms, one.end_ms)}  {said}")
    told = [state, one.instead and f"as {one.instead}", one.decision != "undecided" and one.how, one.rule, one.also and f"{', '.join(one.also)} may be meant as well", "" if one.play else "not to be heard"]
    say(f"    {'; '.join(t for t in told if t)}")


def _caution(cautions: Sequence[str]) -> None:
    for caution in cautions:
        say(f"  {caution}")


@names.command("decide")
@click.argument("which", metavar="STRETCH or KEY")
@click.argument("decision", type=click.Choice(["hide", "keep", "cleared", "public"]))
@click.option("--person", default="", help="Code of who is meant, where WHICH is one stretch.")
@click.option("--how", default="", help="Why; who agreed and when (needed for cleared); where it is known from (needed for public).")
@click.option("--instead", default="", metavar="WORDS", help="With hide: what stands there instead of “[name withheld]”, as “[a neighbour]”.")
@click.option("--all", "every", is_flag=True, help="All undecided stretches of the name with this KEY, each shown and asked about.")
@click.option("--i-heard-each", is_flag=True, help="With --all: do not ask about each; you say that you have listened to every one of them.")
@desk
def names_decide(
    at: Desk, which: str, decision: str, person: str, how: str, instead: str, every: bool, i_heard_each: bool
) -> None:
    """Decide one STRETCH (TW-01.1@1:16-1:17), or with --all every undecided stretch of a name (its KEY stands in `names heard`).

    hide; keep: the name may stand (not this person, a place or a word, or decided to keep); cleared: they agreed; public: publicly known.
    A living third party, health, crime, migration status or a child needs a person's eye. What was kept cannot be taken back once it hangs on a wall.
    """
    if not every:
        if "@" not in which:
            raise BadInput("What was named is no stretch.", "Name one (TW-01.1@1:16-1:17), or say --all for every stretch of a name.")
        recording, start_ms, end_ms = phrases.stretch(which)
        at.archive.naming.decide(at.viewer, recording, start_ms, end_ms, person, decision, how, instead)
        say(f"Decided: {phrases.decided(decision)}.")
        return
    page = at.archive.naming.name(at.viewer, which)
    _caution(page.cautions)
    waiting = [one for one in page.stretches if one.decision == "undecided" and not one.stands]
    chosen = []
    for one in waiting:
        _tell(one)
        if i_heard_each or click.confirm(f"Did you hear it, and is it “{phrases.decided(decision)}”?"):
            chosen.append(one)
    if not chosen:
        say("Nothing was changed.")
        return
    done = at.archive.naming.decide_many(at.viewer, [Pointed.of(one, heard=True) for one in chosen], decision, how, instead)
    say(f"{phrases.begin(phrases.many(done, 'stretch', 'stretches'))} decided: {phrases.decided(decision)}.")


@names.command("hide")
@click.argument("recording")
@click.argument("words")
@click.option("--instead", default="", metavar="WORDS", help="What stands there instead, as “[a street]”.")
@click.option("--kind", default="place", type=click.Choice(list(phrases.NAMINGS)), help="How the words point to somebody.")
@click.option("--archive", "everywhere", is_flag=True, help="In every recording, not only this one.")
@click.option("--yes", is_flag=True, help="Hide every one of them without asking; they are shown all the same.")
@desk
def names_hide(at: Desk, recording: str, words: str, instead: str, kind: str, everywhere: bool, yes: bool) -> None:
    """Hide WORDS of a RECORDING like a name: a place, a description. Each stretch is shown first."""
    found = at.archive.naming.occurrences(at.viewer, recording, words, where="archive" if everywhere else "recording")
    chosen = []
    for one in found:
        _tell(one)
        if one.decision != "hide" and (yes or click.confirm("Hide it?", default=True)):
            chosen.append(one)
    if not chosen:
        say("Nothing was changed.")
        return
    done = at.archive.naming.decide_many(at.viewer, [Pointed.of(one, heard=True) for one in chosen], "hide", "", instead, kind)
    say(f"{phrases.begin(phrases.many(done, 'stretch', 'stretches'))} hidden in whatever leaves, and from readers.")


COMMANDS = (names,)
