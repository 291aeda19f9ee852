"""Find."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import click

from archive.app import Asked, phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json
from archive.cli.jobs import work


@click.command("find")
@click.argument("words", nargs=-1)
@click.option("--place", default="", help="A place by any of its names; what lies within counts.")
@click.option("--decade", default="", help="1960")
@click.option("--era", default="", help="What is told of: 1968, 1960s, 1959–1962, or EDTF; any overlap counts.")
@click.option("--theme", default="", help="A theme; its narrower ones count.")
@click.option("--speaker", default="", help="Code of who is heard.")
@click.option("--born", default="", help="When somebody heard was born, written as --era.")
@click.option("--sex", default="", help="Of somebody heard, as it is on record.")
@click.option("--role", default="", help="Of somebody heard: narrator, interviewer, interpreter, companion.")
@click.option("--interview", default="", help="Code of an interview or of a recording.")
@click.option("--language", default="", help="Spoken there: cy, Welsh.")
@click.option("--state", default="", help="Of the transcript: machine, in work, corrected, checked, agreed.")
@click.option("--sound", default="", help="post (fit for a listening post), listen, read.")
@click.option("--usable-for", default="", help="Only what is allowed for this use, e.g. exhibition.")
@click.option("--way", default="words", help="words, voice or picture, with --usable-for.")
@click.option("--on", "usable_on", default="", help="The day of that use, 2027-05-01; today where it is not given.")
@click.option("--confirmed", is_flag=True, help="Only places, dates and themes that a person confirmed.")
@click.option("--other-names", is_flag=True, help="A place's name among the words finds its older and newer names too.")
@click.option("--order", default="", help="best, oldest (by what is told), newest, interview.")
@click.option("--limit", default=20, type=click.IntRange(1, 200), help="How many hits.")
@click.option("--save", default="", help="Save the question under this name: it then tells what is new (toldhere questions).")
@click.option("--team", is_flag=True, help="With --save: for the team's keepers and editors, not for you alone.")
@click.option("--near", is_flag=True, help="Also leads that are near in meaning, where the model is here. They are never complete.")
@json_option
@desk
def find(at: Desk, /, words: tuple[str, ...], limit: int, save: str, team: bool, near: bool, as_data: bool, **narrowed: Any) -> None:
    """Find passages by WORDS ("a phrase", and / or / not, begin*, rope within 5 of quay, place:"Net Row") and by what narrows them."""
    asked = Asked(" ".join(words), **narrowed)
    found = at.archive.finding.ask(at.viewer, asked, limit)
    if save:
        at.archive.questions.save(at.viewer, at.archive.finding.keep(at.viewer, asked), save, team)
    leads = at.archive.meaning.leads(at.viewer, asked) if near else None
    if as_data:
        say_json({"found": found, "near": leads.hits if leads else []} if near else found)
        return
    for note in found.notes:
        say(note)
    _say_hits(found.hits)
    if found.suggestion:
        say(f"Nothing has these words. Did you mean: {found.suggestion}")
    if not found.hits and narrowed["speaker"]:
        say(f"What {narrowed['speaker']} allowed, and what is held back: toldhere people show {narrowed['speaker']}")
    shown = f", {len(found.hits)} shown" if len(found.hits) < found.total else ""
    say(f"{phrases.many(found.total, 'passage')}{shown}." if found.total else "Nothing was found that you may read today.")
    for facet, values in found.facets.items():
        if values:
            known = dict(found.confirmed.get(facet, ()))
            say(f"{facet.replace('_', ' ')}: " + ", ".join(f"{phrases.tag('decade' if facet == 'born' else facet, v)} ({n}{f', {known[v]} confirmed' if v in known else ''})" for v, n in values[:12]))
    if leads and leads.hits:
        say()
        say(phrases.NEAR)
        _say_hits(leads.hits)
    elif near:
        say(phrases.NOTHING_NEAR if leads else at.archive.meaning.why_not())


def _say_hits(hits: Iterable[Any]) -> None:
    for hit in hits:
        snippet = " ".join(f"[{text}]" if match else text for text, match in hit.snippet.parts)
        tags = ", ".join(dict.fromkeys(phrases.tag(t.kind, t.value) + ("" if t.state == "confirmed" else " (suggested)") for t in hit.tags))
        say(f"{hit.recording} {phrases.clock(hit.start_ms)}–{phrases.clock(hit.end_ms)}  {'; '.join(hit.speakers)}  ({phrases.state(hit.state, hit.verbatim)})")
        say(f"    {snippet}")
        if hit.translated:
            say(f"    found in the translation ({hit.translated})")
        if tags:
            say(f"    {tags}")
        if hit.usable:
            say(f"    words allowed for {', '.join(hit.usable)}" + (f"; the voice for {', '.join(hit.usable_voice)}" if hit.usable_voice else ""))
        for other in hit.also:
            say(f"    also on {other.recording}, {'above, ' if other.above else ''}the other microphone, at {phrases.clock(other.at_ms)}")


@click.command()
@click.option("--forget", is_flag=True, help="Stop it, and delete every number that was made of words.")
@json_option
@desk
def meaning(at: Desk, forget: bool, as_data: bool) -> None:
    """Let our own computer read the passages, so that Find can offer leads that are near in meaning. Later ones are read by themselves."""
    if forget:
        at.archive.meaning.drop(at.viewer)
    elif not as_data:
        at.archive.meaning.ask(at.viewer)
        work(at.archive)
    state = at.archive.meaning.state(at.viewer)
    if as_data:
        say_json(state)
    elif forget:
        say("It is off, and what was made of words for it is deleted. Asking again: toldhere meaning")
    else:
        say(f"{phrases.many(state.read, 'passage is', 'passages are')} read, {state.waiting} wait. Leads beside the hits: toldhere find WORDS --near")


COMMANDS = (find, meaning)
