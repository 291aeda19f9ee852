"""People and agreements: what each person allowed, in sentences; pause and withdrawal."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from webui.desk import archive, viewer, whole_number

views = Blueprint("people", __name__)


@views.get("/people")
def all_of_them() -> str:
    """Everybody, by code."""
    return render_template("people.html", rows=archive().people.list(viewer()))


@views.get("/people/<code>")
def one(code: str) -> str:
    """One person: what they allowed, the papers behind it, what already left."""
    return render_template("person.html", page=archive().people.page(viewer(), code), spoken_for=archive().spokespeople.of(viewer(), code))


@views.get("/people/<code>/withdraw")
def before_withdrawal(code: str) -> str:
    """What a withdrawal does and cannot do, before it is done."""
    page = archive().people.page(viewer(), code)
    interviews = list(dict.fromkeys(line.rpartition(" as ")[0] for line in page.interviews))
    return render_template("withdraw.html", page=page, interviews=interviews, uses=archive().uses())


@views.post("/people/<code>/withdraw")
def withdraw(code: str) -> str:
    """Withdraw, and show what that stopped and what already went out."""
    form = request.form
    report = archive().consent.withdraw(
        viewer(), code, use=form.get("use", ""), interview=form.get("interview", ""), how=form.get("how", "")[:400],
        stretch=form.get("stretch", "").strip()[:80],
    )  # fmt: skip
    return render_template("held.html", report=report, verb="Withdrawn")


@views.post("/people/<code>/pause")
def pause(code: str) -> str:
    """Hold everything of this person back while they think it over, and show what that stopped."""
    report = archive().consent.pause(viewer(), code, how=request.form.get("how", "")[:400])
    return render_template("held.html", report=report, verb="Paused")


@views.post("/people/<code>/lift")
def lift(code: str) -> Response:
    """End a hold that stands on this person's page, with the reason on record."""
    hold = whole_number(request.form.get("hold", ""))
    archive().consent.lift(viewer(), hold, request.form.get("reason", "")[:400], person=code)
    flash("The hold is lifted; the reason is on record.")
    return redirect(url_for("people.one", code=code), 303)
