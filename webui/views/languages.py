"""Which language is spoken in a recording, said by a person."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from webui.desk import archive, viewer

views = Blueprint("languages", __name__)


@views.post("/recordings/<code>/language")
def say(code: str) -> Response:
    """Say which language is spoken, in all of it or from–to."""
    form = request.form
    starts, ends = (phrases.clock_ms(form[n]) if form.get(n, "").strip() else None for n in ("starts", "ends"))
    archive().languages.say(viewer(), code, "" if form.get("none") else form.get("language", "")[:80], starts, ends)
    flash("The language is on record.")
    return redirect(url_for("recordings.one", code=code, _anchor="languages"), 303)
