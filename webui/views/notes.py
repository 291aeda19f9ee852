"""Field notes: the list, one sheet, a form, blank sheets to print."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from webui.desk import archive, viewer, whole_number

views = Blueprint("notes", __name__)
FIELDS = ("about", "who", "where", "when", "with_what", "in_the_room", "remarks")


@views.get("/upkeep/notes")
def all_of_them() -> str:
    """Every sheet, and which interviews have none; `?about=` fills in what a new one is about."""
    return render_template("upkeep_notes.html", page=archive().notes.page(viewer()), about=request.args.get("about", "")[:40])


@views.get("/upkeep/notes/<code>")
def one(code: str) -> str:
    """One sheet, to read and to write on."""
    return render_template("upkeep_note.html", note=archive().notes.one(viewer(), code))


@views.post("/upkeep/notes/find")
def find() -> Response:
    """Find a sheet by its code, as it was typed or scanned."""
    note = archive().notes.one(viewer(), request.form.get("code", ""))
    return redirect(url_for("notes.one", code=note.code), 303)


@views.post("/upkeep/notes")
def write() -> Response:
    """Keep what was typed: with a code, on that sheet; without, on a new one."""
    cells = {name: request.form.get(name, "").strip() for name in ("code", *FIELDS)}
    code = archive().notes.write(viewer(), cells, whole=True)
    flash(f"Kept as {code}.")
    return redirect(url_for("notes.one", code=code), 303)


@views.post("/upkeep/notes/sheets.pdf")
def sheets() -> Response:
    """Blank sheets to print."""
    _, pdf = archive().notes.print_sheets(viewer(), whole_number(request.form.get("number", "")))
    return Response(pdf, mimetype="application/pdf", headers={"Content-Disposition": 'attachment; filename="field-notes.pdf"'})
