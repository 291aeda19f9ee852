"""The second copy of every recording; cards, and listening to start, middle and end before one is cleared."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.errors import BadInput
from webui.desk import archive, viewer
from webui.sound import in_ranges

views = Blueprint("copies", __name__)


@views.get("/upkeep/copies")
def all_of_them() -> str:
    """Where the second copy lies, and when each recording was written and read."""
    return render_template("upkeep_copies.html", page=archive().copies.page(viewer()))


@views.post("/upkeep/copies")
def choose() -> Response:
    """Choose the folder of the second place, on the computer that the archive lies on."""
    folder = request.form.get("folder", "").strip()
    if not Path(folder).is_absolute():
        raise BadInput("The folder must be written with its whole path.", "Write it from its beginning, as your system shows it.")
    archive().second_place.choose(viewer(), Path(folder), bool(request.form.get("other_disk")))
    flash("That is the second place now.")
    return redirect(url_for("copies.all_of_them"), 303)


@views.post("/upkeep/copies/make")
def make() -> Response:
    """Let the worker write what waits."""
    archive().copies.queue(viewer())
    flash("It waits for its turn; how far it is stands under Work under way.")
    return redirect(url_for("copies.all_of_them"), 303)


@views.post("/upkeep/copies/check")
def check() -> Response:
    """Let the worker read both copies again, for half an hour at most."""
    archive().copies.queue_check(viewer(), 30, bool(request.form.get("mend")))
    flash("Both copies are read again, for half an hour at most; what is found stands under Work under way.")
    return redirect(url_for("copies.all_of_them"), 303)


@views.get("/upkeep/cards")
def cards() -> str:
    """What is missing before each card may be cleared, with the stretches to listen to."""
    return render_template("upkeep_cards.html", cards=archive().clearing.cards(viewer()))


@views.post("/upkeep/cards/<code>/<part>/listened")
def listened(code: str, part: str) -> Response:
    """Put on record that this person listened."""
    archive().clearing.listened(viewer(), code, [part])
    flash(f"On record: you listened to the {part} of {code}.")
    return redirect(url_for("copies.cards", _anchor=code), 303)


@views.post("/upkeep/cards/<code>/<part>/open")
def open_part(code: str, part: str) -> Response:
    """Put on record why a keeper hears a closed part; it can then be heard for some minutes."""
    archive().clearing.open_part(viewer(), code, part, request.form.get("reason", ""))
    return redirect(url_for("copies.cards", _anchor=code), 303)


@views.get("/upkeep/cards/<code>/<part>/opened.wav")
def opened_sound(code: str, part: str) -> Response:
    """A part that this keeper opened just now."""
    return in_ranges(archive().clearing.opened_sound(viewer(), code, part))
