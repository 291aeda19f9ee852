"""Upkeep: work under way, what came in, what left, the record of who did what, and accounts."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from archive.domain.values import Role
from archive.errors import BadInput
from webui.desk import archive, day_of, given, viewer, whole_number
from webui.jobs import in_all, in_words

views = Blueprint("upkeep", __name__)
ENTRIES = 200
SAID = {
    "pause": "The job is paused within a few seconds. Nothing that was finished is lost.",
    "resume": "The job waits for its turn, as the last.",
    "cancel": "The job is cancelled. Every recording is whole.",
    "first": "The job is moved to the front.",
    "idle": "The job is done when our own computer is idle.",
    "by-hand": "The job is done as soon as it is its turn.",
}


@views.get("/upkeep")
def work() -> str:
    """Jobs and how far they are."""
    rows = _jobs()
    under_way, over = [r for r in rows if not r["over"]], [r for r in rows if r["over"]]
    return render_template("upkeep_work.html", jobs=under_way, over=over, left=in_all(under_way), meaning=archive().meaning.state(viewer()), how_to_bring=archive().meaning.how_to_bring)


@views.get("/upkeep/jobs.json")
def work_as_json() -> list[dict[str, Any]]:
    """The same for a page that stays open."""
    return _jobs()


@views.post("/upkeep/jobs/<int:number>")
def change_job(number: int) -> Response:
    """Pause, resume, cancel, put first, before another, or change when it is done."""
    asked, jobs = request.form.get("do", ""), archive().jobs
    if asked == "before":
        other = whole_number(request.form.get("other", ""))
        jobs.move(viewer(), number, other)
        flash(f"The job is done before job {other}.")
    elif asked in SAID:
        {
            "pause": jobs.pause, "resume": jobs.resume, "cancel": jobs.cancel, "first": jobs.move, "idle": jobs.only_idle,
            "by-hand": jobs.by_hand,
        }[asked](viewer(), number)  # fmt: skip
        flash(SAID[asked])
    else:
        raise BadInput("This page does not know what was asked for.", "Load the list of jobs again.")
    return redirect(url_for("upkeep.work"), 303)


@views.post("/upkeep/meaning")
def meaning() -> Response:
    """Let the passages be read for what is near in meaning, or stop it and delete what was read."""
    if request.form.get("do") == "forget":
        archive().meaning.drop(viewer())
        flash("It is off, and what was made of words for it is deleted.")
    else:
        archive().meaning.ask(viewer())
        flash("The passages are read when it is their turn. Later ones are read by themselves.")
    return redirect(url_for("upkeep.work"), 303)


@views.get("/upkeep/came-in")
def came_in() -> str:
    """What became of every file given to ingest."""
    findings = archive().ingest.findings(viewer())
    outcomes = ("refused", "missing", "duplicate", "taken")
    return render_template(
        "upkeep_came_in.html", groups=[(o, [f for f in findings if f.outcome == o]) for o in outcomes], total=len(findings)
    )


@views.get("/upkeep/when")
def when() -> str:
    """Recordings of which nobody said when they were made."""
    return render_template("upkeep_when.html", rows=archive().recordings.undated(viewer()))


@views.post("/upkeep/when/<code>")
def say_when(code: str) -> Response:
    """Say on which day something was recorded."""
    on = request.form.get("on", "")
    archive().recordings.say_when(viewer(), code, on)
    flash(f"{code} was recorded on {phrases.day(on)}.")
    return redirect(url_for("upkeep.when"), 303)


@views.get("/upkeep/left")
def left() -> str:
    """The register of what left the archive."""
    return render_template("upkeep_left.html", rows=archive().exports.register(viewer()))


@views.post("/upkeep/left/<code>")
def place(code: str) -> Response:
    """Write down where a file that went out hangs, plays or lies."""
    form = request.form
    archive().tasks.place(viewer(), code, form.get("file", "")[:200], form.get("where", "")[:400], day_of(form.get("on", "")))
    flash(f"Written down: where {code} stands.")
    return redirect(url_for("upkeep.left"), 303)


@views.post("/upkeep/places/<int:number>/down")
def take_down(number: int) -> Response:
    """It does not stand there any more."""
    archive().tasks.take_down(viewer(), number)
    flash("Taken down, and on record.")
    return redirect(url_for("upkeep.left"), 303)


@views.get("/upkeep/tasks")
def tasks() -> str:
    """What only people can do once something may not be used any more."""
    return render_template("upkeep_tasks.html", rows=archive().tasks.list(viewer()), done=archive().tasks.list(viewer(), done=True))


@views.post("/upkeep/tasks/<int:number>")
def tick(number: int) -> Response:
    """It was done."""
    archive().tasks.tick(viewer(), number, request.form.get("note", "")[:400])
    flash("Ticked, and on record.")
    return redirect(url_for("upkeep.tasks"), 303)


@views.get("/upkeep/due")
def due() -> str:
    """What comes due within so many days (`?days=`)."""
    days = min(whole_number(request.args.get("days", "") or "90"), 36_600)
    return render_template("upkeep_due.html", rows=archive().due.list(viewer(), days), days=days, today=archive().today())


@views.get("/upkeep/record")
def record() -> str:
    """The latest entries of the audit record."""
    return _record(None)


@views.post("/upkeep/record/check")
def check_record() -> str:
    """Go through the whole chain, and on request read every master again; say whether all is whole."""
    return _record(archive().records.check(viewer(), fixity=bool(request.form.get("fixity"))))


@views.get("/upkeep/accounts")
def accounts() -> str:
    """Who may sign in."""
    return render_template("upkeep_accounts.html", rows=archive().accounts.list(viewer()), roles=list(Role))


@views.post("/upkeep/accounts")
def add_account() -> Response:
    """Add an account."""
    form = request.form
    archive().accounts.add(viewer(), form.get("name", "").strip(), form.get("role", ""), form.get("password", ""))
    flash("The account is made.")
    return redirect(url_for("upkeep.accounts"), 303)


@views.post("/upkeep/accounts/reach")
def reach() -> Response:
    """Close a person to an account or open them to it again; assign a recording to a helper or take it back."""
    form, services = request.form, archive().accounts
    acts = {"close": services.close_to, "open": services.open_to, "assign": services.assign, "take": services.take_back}
    act = acts.get(form.get("act", ""))
    if act is None:
        raise BadInput("Nothing was chosen; nothing was changed.", "Go back and press one of the buttons.")
    act(viewer(), form.get("account", "")[:80], form.get("code", "").strip()[:40])
    flash("On record. It holds from the next request on.")
    return redirect(url_for("upkeep.accounts"), 303)


@views.post("/upkeep/accounts/keeper-sheet")
def keeper_sheet() -> Response:
    """The sheet for the sealed envelope; that it was printed goes on record, hence a POST."""
    return given(archive().accounts.envelope(viewer()))


def _record(faults: tuple[str, ...] | None) -> str:
    rows = archive().records.list(viewer(), ENTRIES)
    return render_template("upkeep_record.html", rows=rows, faults=faults, entries=ENTRIES)


def _jobs() -> list[dict[str, Any]]:
    return [in_words(job) for job in archive().jobs.list(viewer())]
