"""Erasure: asked for, agreed to, carried out, and what is left to do outside."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from webui.desk import archive, viewer

views = Blueprint("erasing", __name__)


@views.get("/upkeep/erasure")
def all_of_them() -> str:
    """What was erased or is asked for, and the form to ask."""
    return render_template("upkeep_erasures.html", rows=archive().erasures.list(viewer()), cautions=archive().erasures.cautions, target=request.args.get("of", "")[:80])


@views.post("/upkeep/erasure")
def ask() -> Response:
    """Ask for an erasure; what it is of is held at once."""
    form = request.form
    code = archive().erasures.ask(viewer(), form.get("target", "")[:80], form.get("reason", "")[:2000], form.get("paper", ""), bool(form.get("whole")))
    flash(f"{code} is asked for. Nothing of it is used meanwhile.")
    return redirect(url_for("erasing.one", code=code), 303)


@views.get("/upkeep/erasure/<code>")
def one(code: str) -> str:
    """What goes, what it waits for, what is left to do."""
    return render_template("upkeep_erasure.html", page=archive().erasures.page(viewer(), code), found=None)


@views.post("/upkeep/erasure/<code>/agree")
def agree(code: str) -> Response:
    """A second keeper agrees, with their password."""
    archive().erasures.second(viewer(), code, request.form.get("password", ""))
    flash("Your agreement is on record. It may be carried out.")
    return redirect(url_for("erasing.one", code=code), 303)


@views.post("/upkeep/erasure/<code>/back")
def back(code: str) -> Response:
    """Take it back while it waits."""
    archive().erasures.take_back(viewer(), code, request.form.get("reason", "")[:2000])
    flash("It is taken back. The hold stays until a keeper lifts it on the person's own page.")
    return redirect(url_for("erasing.one", code=code), 303)


@views.post("/upkeep/erasure/<code>/now")
def now(code: str) -> Response:
    """Carry it out. Everybody else is told to wait meanwhile."""
    archive().erasures.carry_out(viewer(), code)
    flash("It is erased. See to what lies outside: the tasks are below.")
    return redirect(url_for("erasing.one", code=code), 303)


@views.post("/upkeep/erasure/<code>/search")
def search(code: str) -> str:
    """Search the raw bytes of the whole folder once more. Names are posted and kept nowhere."""
    names = request.form.get("names", "")[:400].split(";")
    return render_template("upkeep_erasure.html", page=archive().erasures.page(viewer(), code), found=archive().erasures.search(viewer(), names))
