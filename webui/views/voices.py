"""Who speaks, on a recording's page: by keys, by voices that our own computer compared, and what follows from both."""

from __future__ import annotations

import re

from flask import Blueprint, flash, jsonify, redirect, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from archive.errors import BadInput
from webui.desk import archive, viewer, whole_number

views = Blueprint("voices", __name__)
_SEEN = re.compile(r"(\d{1,9}):([^\s:]{1,20})", re.ASCII)


@views.post("/recordings/<code>/voices/assign.json")
def assign(code: str) -> Response:
    """Assign the utterances in `u` (numbers, by commas) to `person` ("": nobody); answers how much is unassigned now."""
    chosen = [whole_number(u) for u in request.form.get("u", "").split(",") if u]
    if not chosen:
        raise BadInput("No utterance was chosen.", "Click a word, or play, and press the digit again.")
    changed = archive().recordings.assign(viewer(), code, dict.fromkeys(chosen, request.form.get("person", "")))
    page = archive().speaking.page(viewer(), code)
    return jsonify(changed=changed, unassigned=page.unassigned, share=_share(page.unassigned_ms, page.spoken_ms))


@views.get("/recordings/<code>/voices/alike/<int:utterance>.json")
def alike(code: str, utterance: int) -> Response:
    """Utterances without a speaker that sound like this one."""
    return jsonify(alike=list(archive().speaking.alike(viewer(), code, utterance)))


@views.post("/recordings/<code>/voices/listen")
def listen(code: str) -> Response:
    """Queue comparing the voices."""
    archive().speaking.listen(viewer(), code)
    flash("Our own computer compares the voices as soon as it is free; Upkeep says how far it is. Then load this page again.")
    return redirect(url_for("recordings.one", code=code, _anchor="speakers"), 303)


@views.post("/recordings/<code>/voices/accept")
def accept(code: str) -> Response:
    """Take suggestions as decided: the one whose button was pressed, or all that are ticked."""
    one = request.form.get("one")
    seen = dict(_seen(s) for s in ([one] if one else request.form.getlist("s")))
    if not seen:
        raise BadInput("Nothing was ticked.", "Tick what you heard and agree with, then accept it.")
    taken = archive().speaking.accept(viewer(), code, seen)
    flash(f"{phrases.begin(phrases.many(taken, 'utterance has its speaker', 'utterances have their speaker'))} now.")
    return redirect(url_for("recordings.one", code=code, _anchor="speakers"), 303)


@views.post("/recordings/<code>/voices/forget")
def forget(code: str) -> Response:
    """It is decided who speaks: delete what the voices are like."""
    gone = archive().speaking.forget(viewer(), code)
    flash("What the voices of this interview are like is deleted." if gone else "Nothing of the kind was kept.")
    return redirect(url_for("recordings.one", code=code, _anchor="speakers"), 303)


def _seen(text: str) -> tuple[int, str]:
    match = _SEEN.fullmatch(text)
    if match is None:
        raise BadInput("The suggestion could not be read.", "Load the page again.")
    return int(match[1]), match[2]


def _share(part_ms: int, whole_ms: int) -> str:
    return f"{phrases.lasting(part_ms)} of {phrases.lasting(whole_ms)} of speech"
