"""Quotes that go to their speaker first: sheets that are out, and what comes back."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from webui.desk import archive, day_of, given, viewer, whole_number

views = Blueprint("reviews", __name__)


@views.get("/reviews")
def all_of_them() -> str:
    """Every sheet, the newest first."""
    return render_template("reviews.html", rows=archive().reviews.list(viewer()))


@views.get("/reviews/<code>")
def one(code: str) -> str:
    """One sheet: each question, its answer, and what changed since."""
    return render_template("review.html", sheet=archive().reviews.found(viewer(), code))


@views.post("/people/<code>/review")
def print_sheet(code: str) -> Response:
    """A sheet for this person, to be printed."""
    chosen = request.form
    large = {"large": True, "normal": False}.get(chosen.get("print", ""))
    codes = chosen.get("excerpts", "")[:600].replace(",", " ").split()
    return given(archive().reviews.sheet(viewer(), code, codes, day_of(chosen.get("by", "")), chosen.get("size") or "a4", large, chosen.get("language", "").strip()[:40]))


@views.post("/people/<code>/copy")
def own_copy(code: str) -> Response:
    """Their own copy of a recording, into the archive's own folder."""
    chosen = request.form
    made = archive().own_copies.make(viewer(), code, chosen.get("recording", "").strip()[:40], None, chosen.get("size") or "a4", chosen.get("print") != "normal")
    flash(f"{made.code} lies in {made.folder}: {', '.join(made.files)}. {' '.join(made.notes)}")
    return redirect(url_for("people.one", code=code, _anchor="left-h"), 303)


@views.post("/reviews/<code>/answer")
def answer(code: str) -> Response:
    """What came back for one question."""
    form = request.form
    told = archive().reviews.answer(
        viewer(), code, whole_number(form.get("question", "")), form.get("answer", ""), form.get("words", "")[:8000],
        form.get("given_by", "").strip()[:20], form.get("language", "").strip()[:40],
    )  # fmt: skip
    flash(phrases.plainly(told))
    return redirect(url_for("reviews.one", code=code), 303)


@views.post("/reviews/<code>/stand")
def stand(code: str) -> Response:
    """Let an excerpt of this sheet stand in its speaker's later wording, or as it was said."""
    form = request.form
    flash(archive().reviews.stand(viewer(), form.get("excerpt", "")[:20], form.get("later") == "yes"))
    return redirect(url_for("reviews.one", code=code), 303)
