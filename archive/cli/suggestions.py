"""Suggestions that wait for a person, and the newest decisions taken back."""

from __future__ import annotations

import click

from archive.app import TAG_KINDS, TAG_ORDERS, phrases
from archive.cli.desk import Desk, desk, json_option, say, say_json, table


@click.group()
def suggestions() -> None:
    """Places, dates and themes that wait for a person. For keepers and editors."""


@suggestions.command("waiting")
@click.argument("recording", default="")
@click.option("--first", "order", default="needed", type=click.Choice(TAG_ORDERS), help="What comes first: what the exhibition needs, the most doubtful, or by speaker.")
@click.option("--kind", default="", type=click.Choice(["", *TAG_KINDS]), help="Only of this kind.")
@click.option("--most", default=50, type=click.IntRange(1, 500), show_default=True, help="At most so many.")
@json_option
@desk
def suggestions_waiting(at: Desk, recording: str, order: str, kind: str, most: int, as_data: bool) -> None:
    """What waits in one RECORDING or in all, with its evidence. Decide it with `describe --confirm` and `--reject`, or on the pages by keys."""
    found, number = at.archive.confirming.waiting(at.viewer, order, kind, recording, most)
    if as_data:
        say_json({"waiting": number, "suggestions": found})
        return
    rows = [
        (f.tag.tag_id, f.tag.kind, phrases.tag(f.tag.kind, f.tag.value), f"“{f.said or f.tag.evidence}”", f"{f.recording}@{phrases.from_to(f.tag.start_ms, f.tag.end_ms)}", f.tag.rule)
        for f in found
    ]  # fmt: skip
    if rows:
        table("", ("number", "kind", "value", "words", "stretch", "because"), rows)
    say(f"{phrases.begin(phrases.many(number, 'suggestion waits', 'suggestions wait'))} for a person.")


@suggestions.command("undo")
@desk
def suggestions_undo(at: Desk) -> None:
    """Take your newest decision of the last hour back."""
    say(f"Taken back: {phrases.many(at.archive.confirming.undo(at.viewer), 'suggestion waits', 'suggestions wait')} again.")


COMMANDS = (suggestions,)
