"""What the archive has: places by decades, and tellings of different people side by side."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.errors import BadInput
from webui import drawing, testimony
from webui.desk import archive, viewer, whole_number
from webui.views.lists import keeping

views = Blueprint("overview", __name__)


@views.get("/find/grid")
def grid() -> str:
    """Place × decade; `?use=` asks how much of it is usable for what."""
    found = archive().overview.grid(viewer(), request.args.get("use", "")[:30])
    return render_template("grid.html", grid=found, uses=archive().uses(), wide=lambda ms: drawing.share(ms, found.most))


@views.post("/find/grid/into")
def into() -> Response:
    """From a cell into Find, with its place and decade."""
    place, _, decade = request.form.get("cell", "").partition("-")
    asked = archive().overview.asked_of(viewer(), whole_number(place), whole_number(decade, 9999))
    return redirect(url_for("finding.answer", question=archive().finding.keep(viewer(), asked)), 303)


@views.get("/find/beside")
def beside() -> str:
    """Tellings side by side: `?event=` by its number, or `?place=` by its number with `?decade=`."""
    number = {name: whole_number(request.args.get(name) or "0") for name in ("event", "place", "decade")}
    asked = bool(number["event"] or number["place"] or number["decade"])
    found, missing = None, ""
    if asked:
        try:
            found = archive().overview.beside(viewer(), number["event"], number["place"], str(number["decade"] or ""))
        except BadInput as refused:
            missing = refused.message
    return render_template(
        "beside.html", found=found, missing=missing, choices=archive().overview.choices(viewer()), decades=archive().finding.choices(viewer())["decades"],
        chosen=number, words=testimony.words, **keeping(found.hits if found else ()),
    )  # fmt: skip
