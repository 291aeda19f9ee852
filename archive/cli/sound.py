"""The sound check on the command line."""

from __future__ import annotations

import click

from archive.app import ShownSoundCheck, phrases
from archive.cli.desk import Desk, desk, json_option, say, say_aside, say_json, table


@click.command("sound")
@click.argument("recording", default="")
@click.option("--again", is_flag=True, help="Measure anew: this RECORDING, or all that were taken in before there was a sound check.")
@json_option
@desk
def sound(at: Desk, recording: str, again: bool, as_data: bool) -> None:
    """What is wrong with the sound of one RECORDING or of all, what can be done, and whether a listening post could use it."""
    check = at.archive.sound_check
    for code in ([recording] if recording else check.not_checked(at.viewer)) if again else ():
        check.again(at.viewer, code, say_aside)
        if not as_data:
            say(f"{code}: measured anew.")
    if recording:
        (say_json if as_data else _tell)(check.one(at.viewer, recording))
        return
    found = check.list(at.viewer)
    if as_data:
        say_json(found)
        return
    table(
        "", ("recording", "for a listening post", "because", "problems"),
        [(c.code, c.verdict.fit.words if c.verdict else "not checked yet", " ".join(c.verdict.reasons) if c.verdict else "",
          ", ".join(dict.fromkeys(p.name for p in c.problems))) for c in found],
    )  # fmt: skip
    say(phrases.SOUND_ESTIMATE)


def _tell(check: ShownSoundCheck) -> None:
    if check.verdict is not None and check.figures is not None:
        say(f"{check.code}: {check.verdict.fit.words}. {' '.join(check.verdict.reasons)}")
        say(" ".join(check.figures.sentences))
        say(phrases.SOUND_ESTIMATE)
    else:
        say(f"{check.code} was taken in before there was a whole sound check: toldhere sound {check.code} --again measures it.")
    if not check.problems:
        say("No problem was found in what you may hear.")
        return
    table(
        "", ("problem", "what was found", "from-to", "what can be done"),
        [(g.name, g.words, " ".join(phrases.from_to(*p) for p in g.places) or "throughout", g.advice) for g in check.groups],
    )  # fmt: skip


COMMANDS = (sound,)
