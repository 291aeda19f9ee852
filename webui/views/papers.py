"""Agreements on paper: forms to print, signed papers, how somebody may be reached, and who is asked again."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from archive.errors import BadInput
from webui.desk import archive, day_of, given, to_save, viewer

views = Blueprint("papers", __name__)


@views.get("/agreements/<code>")
def agreement(code: str) -> str:
    """One agreement: its answers, what it rests on, what it says otherwise than the version before."""
    return render_template("agreement.html", page=archive().papers.agreement(viewer(), code))


@views.get("/papers/<code>")
def form(code: str) -> str:
    """What a printed form is of, and the papers that came back with its code."""
    return render_template("paper.html", form=archive().papers.found(viewer(), code))


@views.post("/papers/find")
def find() -> Response:
    """Find a form, or a sheet of quotes, by its code, as it was typed or scanned."""
    typed = request.form.get("code", "")[:40]
    if typed.strip().upper().startswith("RV"):
        return redirect(url_for("reviews.one", code=archive().reviews.found(viewer(), typed).code), 303)
    if typed.strip().upper().startswith("OUT"):  # the sheet of an own copy
        return redirect(url_for("upkeep.left"), 303)
    return redirect(url_for("papers.form", code=archive().papers.found(viewer(), typed).code), 303)


@views.post("/papers/attach")
def attach() -> Response:
    """Keep a scan with an agreement (“to”) or with the form whose code it bears."""
    given = request.files.get("file")
    path = Path(getattr(given.stream, "name", "")) if given is not None and given.filename else None
    if given is None or path is None:
        raise BadInput("No scan was chosen.", "Choose the file, then press the button again.")
    given.stream.flush()
    to, code = request.form.get("to", "")[:40], request.form.get("code", "").strip()[:20]
    flash(phrases.plainly(archive().papers.attach(viewer(), path, to, code)))
    return redirect(url_for("papers.form" if to.startswith("FM-") else "papers.agreement", code=to), 303)


@views.post("/agreements/<code>/spoken")
def spoken(code: str) -> Response:
    """Point at the stretch in which an agreement is spoken."""
    flash(archive().papers.spoken(viewer(), code, request.form.get("stretch", "")[:80]))
    return redirect(url_for("papers.agreement", code=code), 303)


@views.post("/papers/scan")
def scan() -> Response:
    """A scan, to be read; it goes on record, hence a POST."""
    return to_save(*archive().papers.scan(viewer(), request.form.get("sum", "")[:64]))


@views.post("/people/<code>/form")
def print_form(code: str) -> Response:
    """A form for this person, to be printed."""
    chosen = request.form
    large = {"large": True, "normal": False}.get(chosen.get("print", ""))
    return given(archive().papers.form(viewer(), code, chosen.get("kind", ""), chosen.get("interview", ""), chosen.get("language", "").strip()[:40], chosen.get("size", ""), large))


@views.post("/people/<code>/contact")
def contact(code: str) -> Response:
    """Keep how this person may be reached."""
    chosen = request.form
    cells = {name: chosen.get(name, "")[:1000] for name in ("called", "address", "language", "how")}
    archive().letters.say(viewer(), code, cells, chosen.getlist("rule"), chosen.get("large") == "yes")
    flash("Kept. Every letter, label and file name obeys it from now on.")
    return redirect(url_for("people.one", code=code, _anchor="contact-h"), 303)


@views.post("/people/<code>/envelope")
def envelope(code: str) -> Response:
    """The face of an envelope to this person."""
    return given(archive().letters.envelope(viewer(), code))


@views.get("/people/again")
def again() -> str:
    """Who must be asked again for a use, or before it runs longer."""
    use, through = request.args.get("use", "")[:40], day_of(request.args.get("through", ""))
    found = archive().papers.ask_again(viewer(), use, through) if use else None
    return render_template("again.html", uses=archive().uses(), use=use, through=through, found=found)


@views.post("/people/again")
def letters() -> Response:
    """A letter and a form for everybody who is to be asked again, in one file."""
    chosen = request.form
    return given(archive().papers.letters_again(viewer(), chosen.get("use", ""), day_of(chosen.get("through", "")), chosen.get("size", "")))
