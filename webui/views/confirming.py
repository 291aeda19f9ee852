"""Confirming: one suggestion after another by keys, the same evidence once for all, and whatever was decided within the hour taken back."""

from __future__ import annotations

import re
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import PickedTag, phrases
from archive.errors import BadInput, Clash, NotFound, ToldHereError
from webui.desk import archive, viewer, whole_number

views = Blueprint("confirming", __name__)
_PICKED = re.compile(r"(\d{1,10}) ([0-9a-f]{16})", re.ASCII)
STATES = {"yes": "confirmed", "no": "rejected"}
MOST_OFFERED = 1000  # places in the list of what may be said instead


@views.get("/confirm")
def one() -> str:
    """The suggestion to decide now."""
    return _page()


@views.post("/confirm")
def decide() -> Response | tuple[str, int]:
    """Yes, no, or another value; then the next one. What is not as it was shown is not decided."""
    form = request.form
    try:
        picked, do = _picked(form.get("tag", "")), form.get("do", "")
        if do == "other":
            archive().confirming.say(viewer(), picked, form.get("value", "")[:200])
        else:
            archive().confirming.decide(viewer(), [picked], STATES.get(do, ""))
    except (BadInput, Clash, NotFound) as refused:
        return _page(refused, whole_number(form.get("tag", "0").split(" ")[0] or "0")), refused.status
    return redirect(_next(whole_number(form.get("next", "0"))), 303)


@views.post("/confirm/undo")
def undo() -> Response | tuple[str, int]:
    """Take one decision of the hour back, or the newest of one's own."""
    try:
        number = archive().confirming.undo(viewer(), request.form.get("press", "")[:24])
    except (Clash, NotFound) as refused:
        return _page(refused), refused.status
    flash(f"Taken back: {phrases.many(number, 'suggestion waits', 'suggestions wait')} again.")
    return redirect(_next(whole_number(request.form.get("tag", "0"))), 303)


@views.get("/confirm/<int:tag_id>/same")
def same(tag_id: int) -> str:
    """Every place with the same evidence, each with its sound, before it is decided for all that are chosen."""
    return _same(tag_id)


@views.post("/confirm/<int:tag_id>/same")
def decide_same(tag_id: int) -> Response | tuple[str, int]:
    """Decide exactly those that were shown and chosen."""
    form = request.form
    try:
        picked = [_picked(text) for text in form.getlist("place")]
        archive().confirming.decide(viewer(), picked, STATES.get(form.get("do", ""), ""))
    except (BadInput, Clash, NotFound) as refused:
        return _same(tag_id, refused, frozenset(form.getlist("place"))), refused.status
    flash(f"{phrases.begin(phrases.many(len(picked), 'suggestion'))} decided: {STATES[form.get('do', '')]}.")
    return redirect(_next(0), 303)


def _page(refused: ToldHereError | None = None, at: int = 0) -> str:
    order, kind, recording = _asked()
    here = at or min(request.args.get("at", 0, type=int), phrases.MOST_MS)
    page = archive().confirming.page(viewer(), order, kind, recording, here)
    return render_template("confirm.html", page=page, order=order, kind=kind, recording=recording, refused=refused, offered=MOST_OFFERED, next_address=_next)


def _same(tag_id: int, refused: ToldHereError | None = None, ticked: frozenset[str] = frozenset()) -> str:
    order, kind, recording = _asked()
    found = archive().confirming.alike(viewer(), tag_id)
    return render_template("confirm_same.html", found=found, refused=refused, ticked=ticked, back=_next(tag_id), order=order, kind=kind, recording=recording)


def _asked() -> tuple[str, str, str]:
    """Order, kind and recording, which every address and form here carries along."""
    asked = request.form if request.method == "POST" else request.args
    return asked.get("order", "needed")[:20] or "needed", asked.get("kind", "")[:20], asked.get("recording", "")[:60]


def _next(tag_id: int) -> str:
    order, kind, recording = _asked()
    values: dict[str, Any] = {"order": order, "kind": kind or None, "recording": recording or None, "at": tag_id or None}
    return url_for("confirming.one", **values)


def _picked(text: str) -> PickedTag:
    match = _PICKED.fullmatch(text)
    if match is None:
        raise BadInput("This suggestion could not be read; nothing was changed.", "Load the page again.")
    return PickedTag(whole_number(match[1]), match[2])
