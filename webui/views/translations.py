"""Translations beside the original: written for chosen words, changed, checked by a second speaker of the language."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from archive.errors import BadInput
from webui.desk import archive, chosen_word, viewer, whole_number

views = Blueprint("translations", __name__)


@views.post("/recordings/<code>/translate")
def words(code: str) -> str:
    """The chosen words, with room for their translation. Posted: which words they are is nobody's history."""
    form = request.form
    if not (form.get("first") and form.get("last")):
        raise BadInput("No words are chosen.", "Click the first word on the recording's page, hold Shift and click the last one.")
    chosen = archive().translating.look(viewer(), code, chosen_word(form["first"]), chosen_word(form["last"]))
    return _page(chosen, None)


@views.post("/recordings/<code>/translations")
def write(code: str) -> Response:
    """Put a translation beside the words."""
    form = request.form
    made = archive().translating.write(
        viewer(), code, whole_number(form.get("start_ms", "")), whole_number(form.get("end_ms", "")), form.get("language", "")[:80],
        form.get("text", ""), form.get("translator", "")[:80],
    )  # fmt: skip
    flash(f"{made} stands beside the original, as a draft.")
    return redirect(url_for("translations.one", code=made), 303)


@views.get("/translations/<code>")
def one(code: str) -> str:
    """A translation with its original."""
    page = archive().translating.one(viewer(), code)
    return _page(page.words, page)


@views.post("/translations/<code>")
def change(code: str) -> Response:
    """Save other words for it, or the same for the original of today."""
    form = request.form
    archive().translating.change(viewer(), code, form.get("text", ""), form.get("language", "")[:80], form.get("translator", "")[:80])
    flash("Saved. It is a draft again.")
    return redirect(url_for("translations.one", code=code), 303)


@views.post("/translations/<code>/state")
def say_state(code: str) -> Response:
    """Say how far it has come."""
    state = request.form.get("state", "")
    archive().translating.say_state(viewer(), code, state)
    flash(f"{phrases.begin(phrases.TRANSLATION_STATES[state])}: on record.")
    return redirect(url_for("translations.one", code=code), 303)


def _page(words: Any, page: Any) -> str:
    spoken = archive().languages.of(viewer(), words.recording).at(words.start_ms, words.end_ms)
    return render_template("translation.html", page=page, words=words, spoken=spoken)
