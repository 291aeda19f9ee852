"""People and agreements: what each person allowed, in sentences; pause and withdrawal."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from webui.desk import archive, viewer

views = Blueprint("people", __name__)


@views.get("/people")
def all_of_them() -> str:
    """Everybody, by code."""
    return render_template("people.html", rows=archive().people.list(viewer()))


@views.get("/people/<code>")
def one(code: str) -> str:
    """One person: what they allowed, the papers behind it, what already left."""
    return render_template("person.html", page=archive().people.page(viewer(), code))


@views.get("/people/<code>/withdraw")
def before_withdrawal(code: str) -> str:
    """What a withdrawal does and cannot do, before it is done."""
    return render_template("withdraw.html", page=archive().people.page(viewer(), code), uses=archive().uses())


@views.post("/people/<code>/withdraw")
def withdraw(code: str) -> str:
    """Withdraw, and show what that stopped and what already went out."""
    form = request.form
    report = archive().people.withdraw(
        viewer(), code, use=form.get("use", ""), interview=form.get("interview", ""), how=form.get("how", "")[:400]
    )
    return render_template("withdrawn.html", report=report)


@views.post("/people/<code>/pause")
def pause(code: str) -> Response:
    """Hold everything of this person back while they think it over."""
    archive().people.pause(viewer(), code, request.form.get("how", "")[:400])
    flash("Paused. Nothing of this person is found or leaves until the pause is lifted.")
    return redirect(url_for("people.one", code=code), 303)


@views.post("/people/<code>/restraints/<int:restraint>/lift")
def lift(code: str, restraint: int) -> Response:
    """End a pause or an objection, with the reason on record."""
    archive().people.lift(viewer(), restraint, request.form.get("reason", "")[:400])
    flash("Lifted; the reason is on record.")
    return redirect(url_for("people.one", code=code), 303)
