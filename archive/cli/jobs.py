"""The list of work that our own computer does: seen, worked through, held, ended, put in another order."""

from __future__ import annotations

import contextlib
import signal
import time
from collections.abc import Iterator
from types import FrameType
from typing import Any

import click
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from archive.app import Archive, phrases
from archive.cli.desk import MOST, Desk, desk, json_option, out, say, say_json, table

WAIT_S = 0.5
NUMBER = click.IntRange(1, MOST)


def work(archive: Archive, idle_too: bool = False) -> None:
    """Work through all jobs that wait, with progress and the time left; what another worker holds is waited for."""
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"), TimeRemainingColumn())
    with _ended_by_signal(), Progress(*columns, console=out, transient=not out.is_terminal) as progress:
        ids = {r.id for r in archive.work.open() if idle_too or not r.idle}
        task = progress.add_task("working", total=max(1, len(ids)))
        told: set[int] = set()

        def watch(row: Any) -> None:
            rows = [r for r in archive.work.open() if r.id in ids]
            left = sum(1 - (r.done / r.total if r.total else 0) for r in rows)
            progress.update(task, description=phrases.work(row.kind, row.subject), completed=len(ids) - left)

        while True:
            while archive.work.once(watch, idle_too):
                pass
            held = [r for r in archive.work.open() if r.id in ids and r.state == "working"]
            if not held:
                progress.update(task, completed=max(1, len(ids)))
                return
            for row in held:
                watch(row)
                if row.id not in told:
                    told.add(row.id)
                    progress.console.print(
                        f"{row.subject}: another worker is at it, or was killed at it. Waiting; should it be dead, its work is taken "
                        f"over when its claim runs out, in {archive.settings.lease_s} s at most. Ctrl-C stops waiting."
                    )
            time.sleep(WAIT_S)


@contextlib.contextmanager
def _ended_by_signal() -> Iterator[None]:
    """A signal to end leaves as Ctrl-C does: the child is ended, and its job waits again."""

    def leave(number: int, _frame: FrameType | None) -> None:
        raise SystemExit(128 + number)

    before = signal.signal(signal.SIGTERM, leave)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


@click.group()
def jobs() -> None:
    """Work that our own computer does, and how far it is. JOB is a number of the list."""


@jobs.command("list")
@json_option
@desk
def jobs_list(at: Desk, as_data: bool) -> None:
    """The list of work in its order, with progress and the time left."""
    rows = at.archive.jobs.list(at.viewer)
    if as_data:
        say_json(rows)
    elif rows:
        table("", ("job", "work", "state", "done", "time left", "when", ""), [(r.id, phrases.work(r.kind, r.subject), r.state, f"{r.percent} %", phrases.about(r.left_s), "machine idle" if r.idle else "by hand", r.words) for r in rows])
    else:
        say("Nothing is waiting.")


@jobs.command("work")
@desk
def jobs_work(at: Desk) -> None:
    """Work through the whole list here and now, also what waits for an idle machine. Stop it at any time: it goes on."""
    work(at.archive, idle_too=True)


@jobs.command("pause")
@click.argument("job", type=NUMBER)
@desk
def jobs_pause(at: Desk, job: int) -> None:
    """Hold a job. Nothing that was finished is lost."""
    at.archive.jobs.pause(at.viewer, job)
    say("Paused. `toldhere jobs resume` lets it go on.")


@jobs.command("resume")
@click.argument("job", type=NUMBER)
@desk
def jobs_resume(at: Desk, job: int) -> None:
    """Let a job go on that was paused, failed, stopped or cancelled."""
    at.archive.jobs.resume(at.viewer, job)
    say("It waits for its turn, as the last.")


@jobs.command("cancel")
@click.argument("job", type=NUMBER)
@desk
def jobs_cancel(at: Desk, job: int) -> None:
    """End a job for good. What it had done so far is dropped; the recording is whole."""
    at.archive.jobs.cancel(at.viewer, job)
    say("Cancelled.")


@jobs.command("first")
@click.argument("job", type=NUMBER)
@desk
def jobs_first(at: Desk, job: int) -> None:
    """Move a job to the front: before all others that are done by hand, or when the machine is idle."""
    at.archive.jobs.move(at.viewer, job)
    say("Moved to the front.")


@jobs.command("before")
@click.argument("job", type=NUMBER)
@click.argument("other", type=NUMBER)
@desk
def jobs_before(at: Desk, job: int, other: int) -> None:
    """Let a job be done just before the OTHER."""
    at.archive.jobs.move(at.viewer, job, other)
    say(f"It is done before job {other}.")


@jobs.command("when")
@click.argument("job", type=NUMBER)
@click.argument("moment", type=click.Choice(("by-hand", "idle")))
@desk
def jobs_when(at: Desk, job: int, moment: str) -> None:
    """Do a job as asked for by hand, or only while the machine is idle: on mains power, its processors three quarters free."""
    (at.archive.jobs.only_idle if moment == "idle" else at.archive.jobs.by_hand)(at.viewer, job)
    say("Set.")


@click.command()
@click.argument("recording", default="")
@desk
def access(at: Desk, recording: str) -> None:
    """Queue an access copy of every recording that has none, or of one RECORDING. New recordings get theirs by themselves."""
    queued = at.archive.access.queue(at.viewer, recording)
    say(f"{phrases.begin(phrases.many(queued, 'access copy waits', 'access copies wait'))} until this machine is idle; `toldhere jobs work` makes them now.")


COMMANDS = (jobs, access)
