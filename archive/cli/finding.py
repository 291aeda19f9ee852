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
@click.option("--theme", default="", help="A theme; its narrower ones count.")
@click.option("--speaker", default="", help="Code of who is heard.")
@click.option("--usable-for", default="", help="Only what is allowed for this use today, e.g. exhibition.")
@click.option("--way", default="words", help="words, voice or picture, with --usable-for.")
@click.option("--limit", default=20, type=click.IntRange(1, 200), help="How many hits.")
@click.option("--near", is_flag=True, help="Also leads that are near in meaning, where the model is here. They are never complete.")
@json_option
@desk
def find(
    at: Desk, words: tuple[str, ...], place: str, decade: str, theme: str, speaker: str, usable_for: str, way: str, limit: int, near: bool,
    as_data: bool,
) -> None:  # fmt: skip
    """Find passages by WORDS ("a phrase", and / or / not, begin*), place, decade, theme, speaker."""
    asked = Asked(" ".join(words), place=place, decade=decade, theme=theme, speaker=speaker, usable_for=usable_for, way=way)
    found = at.archive.finding.ask(at.viewer, asked, limit)
    leads = at.archive.meaning.leads(at.viewer, asked) if near else None
    if as_data:
        say_json({"found": found, "near": leads.hits if leads else []} if near else found)
        return
    _say_hits(found.hits)
    if not found.hits and speaker:
        say(f"What {speaker} allowed, and what is held back: toldhere people show {speaker}")
    shown = f", {len(found.hits)} shown" if len(found.hits) < found.total else ""
    say(f"{phrases.many(found.total, 'passage')}{shown}." if found.total else "Nothing was found that you may read today.")
    for facet, values in found.facets.items():
        if values:
            say(f"{facet}: " + ", ".join(f"{phrases.tag(facet, value)} ({count})" for value, count in values[:12]))
    if leads and leads.hits:
        say()
        say(phrases.NEAR)
        _say_hits(leads.hits)
    elif near:
        say(phrases.NOTHING_NEAR if leads else at.archive.meaning.why_not())


def _say_hits(hits: Iterable[Any]) -> None:
    for hit in hits:
        snippet = " ".join(f"[{text}]" if match else text for text, match in hit.snippet.parts)
        tags = ", ".join(dict.fromkeys(phrases.tag(t.kind, t.value) for t in hit.tags))
        say(f"{hit.recording} {phrases.clock(hit.start_ms)}–{phrases.clock(hit.end_ms)}  {'; '.join(hit.speakers)}  ({phrases.state(hit.state, hit.verbatim)})")
        say(f"    {snippet}")
        if hit.translated:
            say(f"    found in the translation ({hit.translated})")
        if tags:
            say(f"    {tags}")
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
