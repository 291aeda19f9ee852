"""Take in: recordings sent from a browser in pieces that may be resumed, and folders of this machine."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.errors import BadInput, NotAllowed
from webui.desk import archive, at_this_machine, viewer, whole_number

views = Blueprint("take_in", __name__)
NOT_HERE = "Folders of this machine are shown to the keeper who sits at it."
MOST_BYTES = 2**53  # what a browser can count


@views.get("/take-in")
def page() -> str:
    """Choose files or a folder; what was sent or begun."""
    return _page(None)


@views.post("/take-in/folder/look")
def look() -> str:
    """What lies in a folder of this machine: posted, as names of folders may be somebody's."""
    _need_here()
    return _page(archive().uploads.look(viewer(), request.form.get("path", "")))


@views.post("/take-in/folder")
def folder() -> Response:
    """Queue a folder of this machine."""
    _need_here()
    archive().uploads.take_folder(viewer(), request.form.get("path", ""), request.form.get("interview", "").strip())
    flash("The folder waits to be taken in. What became of each file will stand under “What came in”.")
    return redirect(url_for("upkeep.work"), 303)


@views.get("/take-in/uploads.json")
def uploads() -> list[dict[str, Any]]:
    """Every file that was sent or begun, for a page that stays open."""
    return [
        {"key": u.key, "name": u.name, "state": u.state, "words": u.words, "recording": u.recording, "have": u.have, "pieces": u.pieces}
        for u in archive().uploads.list(viewer())
    ]


@views.post("/take-in/uploads/begin.json")
def begin() -> dict[str, Any]:
    """Begin a file, or go on with it: its key, and the pieces that are here."""
    form = request.form
    key, here = archive().uploads.begin(
        viewer(), form.get("name", ""), whole_number(form.get("bytes", ""), MOST_BYTES), form.get("first", ""),
        whole_number(form.get("modified", "0"), MOST_BYTES), form.get("interview", "").strip(), anew=bool(form.get("anew")), batch=form.get("batch", ""),
    )  # fmt: skip
    return {"key": key, "here": {str(n): total for n, total in here.items()}}


@views.post("/take-in/uploads/<key>/<int:n>.json")
def piece(key: str, n: int) -> dict[str, bool]:
    """One piece: its bytes are the body, its checksum a header."""
    with _body() as data:
        archive().uploads.put(viewer(), key, n, request.headers.get("X-Piece-Sum", ""), data)
    return {"here": True}


@views.post("/take-in/uploads/<key>/whole.json")
def whole(key: str) -> dict[str, list[int]]:
    """All was sent; the answer names what is missing yet."""
    return {"missing": archive().uploads.finish(viewer(), key, request.form.get("sum", ""))}


@views.post("/take-in/uploads/together.json")
def together() -> dict[str, int]:
    """All that was chosen together was sent; the answer says how many are not whole yet."""
    return {"waits_for": archive().uploads.together(viewer(), request.form.get("batch", ""))}


@views.post("/take-in/uploads/<key>/again")
def again(key: str) -> Response:
    """Try once more, with the sound track that somebody chose where a file has several."""
    track = request.form.get("track", "")
    if track and not track.isdecimal():
        raise BadInput("That is no number of a sound track.", "Write 1, 2, …")
    archive().uploads.again(viewer(), key, whole_number(track) if track else None)
    flash("It waits to be taken in.")
    return redirect(url_for("take_in.page"), 303)


@views.post("/take-in/uploads/<key>/remove")
def remove(key: str) -> Response:
    """Forget what was sent; recordings stay."""
    archive().uploads.remove(viewer(), key)
    flash("Removed from the list. A recording that was taken from it stays.")
    return redirect(url_for("take_in.page"), 303)


def _body() -> memoryview:
    """What was sent, where it lies already: a copy of each piece would be the server's largest work, and its most memory."""
    stream = request.stream  # refuses what is too large
    whole = request.environ["wsgi.input"]
    if isinstance(whole, BytesIO) and whole.tell() == 0 and whole.getbuffer().nbytes == request.content_length:
        return whole.getbuffer()
    return memoryview(stream.read(request.content_length or 0))


def _need_here() -> None:
    if not at_this_machine():
        raise NotAllowed(NOT_HERE, "Use the link that `toldhere serve` prints, on this machine; or send the files instead.")


def _page(shelf: Any) -> str:
    here = at_this_machine()
    return render_template(
        "take_in.html", here=here, shelf=shelf, tops=archive().uploads.tops(viewer()) if here and shelf is None else (), sent=archive().uploads.list(viewer())
    )
