"""The glossary: words with their meanings, and where each is said."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from webui.desk import archive, viewer

views = Blueprint("glossary", __name__)
_FIELDS = ("word", "language", "meanings", "sensitive", "source", "note")


@views.get("/glossary")
def all_of_them() -> str:
    """Every word."""
    return render_template("glossary.html", page=None, rows=archive().glossary.list(viewer()))


@views.get("/glossary/<int:entry>")
def one(entry: int) -> str:
    """One word, and where it is said."""
    return render_template("glossary.html", page=archive().glossary.one(viewer(), entry), rows=())


@views.post("/glossary")
def write() -> Response:
    """Add or correct a word."""
    made = archive().glossary.write(viewer(), {name: request.form.get(name, "") for name in _FIELDS})
    flash("The word is in the glossary.")
    return redirect(url_for("glossary.one", entry=made), 303)


@views.post("/glossary/<int:entry>/drop")
def drop(entry: int) -> Response:
    """Take a word out."""
    archive().glossary.drop(viewer(), entry)
    flash("It is no longer in the glossary.")
    return redirect(url_for("glossary.all_of_them"), 303)
