"""Decisions that can be read, who speaks for whom, and works of others inside speech."""

from __future__ import annotations

from datetime import date

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import WORK_CAUTION, WORK_KINDS
from archive.domain.values import Answer, Way
from archive.errors import BadInput
from webui.desk import archive, viewer

views = Blueprint("deciding", __name__)


def _day(text: str) -> date | None:
    """A day as a form sends it; None where it is empty. Raises BadInput."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise BadInput("That is no day.", "Write it as 2029-06-14. Nothing was changed.") from None


@views.get("/may")
def blank() -> str:
    """What somebody wants to know about."""
    return render_template("may.html", table=None)


@views.post("/may")
def ask() -> Response:
    """Posted, so that what somebody types by mistake stands in no address: only what is on record is asked about there."""
    on = _day(request.form.get("on", ""))
    table = archive().deciding.table(viewer(), request.form.get("of", "").strip()[:80], on)
    return redirect(url_for("deciding.one", target=table.target, on=on.isoformat() if on else None), 303)


@views.get("/may/<target>")
def one(target: str) -> str:
    """Every use in every way for a person, an excerpt or a stretch, today or on a day, with the reasons and what would change them."""
    return render_template("may.html", table=archive().deciding.table(viewer(), target, _day(request.args.get("on", ""))))


@views.post("/may/<target>/answered")
def answered(target: str) -> Response:
    """A speaker, or who speaks for them, said yes or no to exactly the wording of an excerpt."""
    form = request.form
    answer = Answer.YES if form.get("answer") == "yes" else Answer.NO
    way = Way.VOICE if form.get("way") == "voice" else Way.WORDS
    archive().consent.approve(
        viewer(), target, form.get("person", ""), answer, way, form.get("given_by", "").strip()[:20], form.get("language", "").strip()[:40]
    )
    flash("On record, for exactly this wording in this way.")
    return redirect(url_for("deciding.one", target=target), 303)


@views.post("/may/<target>/compared")
def compared(target: str) -> Response:
    """Somebody who speaks both languages compared an interpreter's words with what was said."""
    archive().consent.check_interpreted(viewer(), target)
    flash("On record, for exactly this wording.")
    return redirect(url_for("deciding.one", target=target), 303)


@views.post("/people/<code>/speaks-for")
def speaks_for(code: str) -> Response:
    """Put on record who speaks for somebody."""
    form = request.form
    since = _day(form.get("from", ""))
    if since is None:
        raise BadInput("Since when is missing.", "Go back and fill it in. Nothing was changed.")
    caution = archive().spokespeople.put(
        viewer(), code, form.get("other", "").strip()[:20], form.get("relation", ""), since, form.get("papers", "")[:400], _day(form.get("through", ""))
    )
    flash(f"On record. {caution}")
    return redirect(url_for("people.one", code=code), 303)


@views.get("/works")
def works() -> str:
    """Works of others that lie in the recordings."""
    return render_template("works.html", rows=archive().works.list(viewer()), kinds=WORK_KINDS, uses=archive().uses(), ways=list(Way), caution=WORK_CAUTION)


@views.post("/works")
def mark() -> Response:
    """Mark a stretch as somebody else's work."""
    form = request.form
    number = archive().works.mark(viewer(), form.get("stretch", "").strip()[:80], form.get("kind", ""), form.get("about", "")[:400])
    flash(f"W-{number} is on record and held back from every use but our own listening.")
    return redirect(url_for("deciding.works"), 303)


@views.post("/works/<int:number>")
def say(number: int) -> Response:
    """What its owner, or the law, says to a use of a work."""
    form = request.form
    answer = Answer.YES if form.get("answer") == "yes" else Answer.NO
    archive().works.say(
        viewer(), number, answer, form.get("basis", "")[:400], form.get("use", ""), form.get("way", ""), "", _day(form.get("through", ""))
    )
    flash("On record. The speaker’s own answer is another matter: both must be yes.")
    return redirect(url_for("deciding.works"), 303)
