"""Find."""

from __future__ import annotations

import click

from archive.app import Asked, phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json


@click.command("find")
@click.argument("words", nargs=-1)
@click.option("--place", default="", help="A place by any of its names; what lies within counts.")
@click.option("--decade", default="", help="1960")
@click.option("--theme", default="", help="A theme; its narrower ones count.")
@click.option("--speaker", default="", help="Code of who is heard.")
@click.option("--usable-for", default="", help="Only what is allowed for this use today, e.g. exhibition.")
@click.option("--way", default="words", help="words, voice or picture, with --usable-for.")
@click.option("--limit", default=20, type=click.IntRange(1, 200), help="How many hits.")
@click.option("--save", default="", help="Save the question under this name: it then tells what is new (toldhere questions).")
@click.option("--team", is_flag=True, help="With --save: for the team's keepers and editors, not for you alone.")
@json_option
@desk
def find(
    at: Desk, words: tuple[str, ...], place: str, decade: str, theme: str, speaker: str, usable_for: str, way: str, limit: int,
    save: str, team: bool, as_data: bool,
) -> None:  # fmt: skip
    """Find passages by WORDS ("a phrase", and / or / not, begin*), place, decade, theme, speaker."""
    asked = Asked(" ".join(words), place, decade, theme, speaker, usable_for, way)
    found = at.archive.finding.ask(at.viewer, asked, limit)
    if save:
        at.archive.questions.save(at.viewer, at.archive.finding.keep(at.viewer, asked), save, team)
    if as_data:
        say_json(found)
        return
    for hit in found.hits:
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
    if not found.hits and speaker:
        say(f"What {speaker} allowed, and what is held back: toldhere people show {speaker}")
    shown = f", {len(found.hits)} shown" if len(found.hits) < found.total else ""
    say(f"{phrases.many(found.total, 'passage')}{shown}." if found.total else "Nothing was found that you may read today.")
    for facet, values in found.facets.items():
        if values:
            say(f"{facet}: " + ", ".join(f"{phrases.tag(facet, value)} ({count})" for value, count in values[:12]))


COMMANDS = (find,)
