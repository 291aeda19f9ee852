"""Upkeep: work under way, what came in, what left, the record of who did what, and accounts."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from archive.domain.values import Role
from webui.desk import archive, viewer

views = Blueprint("upkeep", __name__)
ENTRIES = 200
OVER = {"done", "failed", "stopped"}


@views.get("/upkeep")
def work() -> str:
    """Jobs and how far they are."""
    return render_template("upkeep_work.html", jobs=_jobs())


@views.get("/upkeep/jobs.json")
def work_as_json() -> list[dict[str, Any]]:
    """The same for a page that stays open."""
    return _jobs()


@views.post("/upkeep/jobs/<int:number>/stop")
def stop(number: int) -> Response:
    """Stop a job; what it finished is kept."""
    archive().jobs.stop(viewer(), number)
    flash("The job is stopped. What was finished is kept.")
    return redirect(url_for("upkeep.work"), 303)


@views.get("/upkeep/came-in")
def came_in() -> str:
    """What became of every file given to ingest."""
    findings = archive().ingest.findings(viewer())
    outcomes = ("refused", "duplicate", "taken")
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


def _record(faults: tuple[str, ...] | None) -> str:
    rows = archive().records.list(viewer(), ENTRIES)
    return render_template("upkeep_record.html", rows=rows, faults=faults, entries=ENTRIES)


def _jobs() -> list[dict[str, Any]]:
    return [
        {
            "id": job.id, "kind": job.kind, "subject": job.subject, "state": job.state, "words": job.words,
            "percent": round(100 * job.done_ms / job.total_ms) if job.total_ms else 0,
            "left": _left(job.left_s) if job.state not in OVER else "", "over": job.state in OVER,
        }
        for job in archive().jobs.list(viewer())
    ]  # fmt: skip


def _left(seconds: int | None) -> str:
    if seconds is None:
        return ""
    if seconds < 90:
        return f"about {max(5, round(seconds / 5) * 5)} seconds left"
    return f"about {round(seconds / 60)} minutes left"
