"""Correcting a transcript: the desk, what is typed there, and the versions that come of it."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from archive.app import LineAct, as_json, phrases
from archive.errors import BadInput
from webui import drawing, testimony
from webui.desk import archive, as_answer, viewer, whole_number

views = Blueprint("correcting", __name__)
FIRST_LINES = 60  # in the page itself: what a screen or two show
MOST_KEYS = 2000
NOT_READ = ("This change could not be read.", "Load the page again; what was saved is kept.")


@views.get("/recordings/<code>/correct")
def desk(code: str) -> str:
    """The desk: sound, lines to type in, keys."""
    heard = archive().recordings.heard(viewer(), code)
    lines, count = archive().correcting.lines(viewer(), code, 0, FIRST_LINES)
    playable = [(p.start_ms, p.end_ms) for p in heard.playable]
    return render_template(
        "correct.html",
        code=heard.code, heard=heard, people=archive().recordings.taking_part(viewer(), code), count=count,
        playable=testimony.stretches(playable), wave=drawing.wave_path(heard.peaks),
        silent_bars=drawing.bars([(s, e, "") for s, e in drawing.gaps(playable, heard.duration_ms)], heard.duration_ms),
        start=as_json({"count": count, "lines": lines, "desk": archive().correcting.desk(viewer(), code)}, None),
        states=as_json(phrases.STATES, None),
        start_ms=min(max(0, request.args.get("from", 0, type=int)), heard.duration_ms),
    )  # fmt: skip


@views.get("/recordings/<code>/correct/lines.json")
def lines(code: str) -> Response:
    """Lines from `first` on; or, with `from` and `to` (ms), those of a stretch, as they stand now."""
    if "from" in request.args:
        start_ms, end_ms = whole_number(request.args["from"]), whole_number(request.args.get("to", ""))
        return as_answer({"lines": archive().correcting.lines_at(viewer(), code, start_ms, end_ms)})
    found, count = archive().correcting.lines(viewer(), code, whole_number(request.args.get("first", "")))
    return as_answer({"lines": found, "count": count})


@views.post("/recordings/<code>/correct/change.json")
def change(code: str) -> Response:
    """One thing that a person does to one line or several; or undo, or do again; or which of two wordings stands."""
    asked = request.get_json(silent=True)
    if not isinstance(asked, dict):
        raise BadInput(*NOT_READ)
    act, mark = str(asked.get("act", "")), str(asked.get("mark", ""))
    if act in ("undo", "again"):
        return as_answer(archive().correcting.undo(viewer(), code, mark, act == "again"))
    if act in ("ours", "newer"):
        return as_answer(archive().correcting.decide(viewer(), code, _number(asked, "at"), act == "newer", mark))
    keys, speaker = asked.get("keys", []), asked.get("speaker")
    if not isinstance(keys, list) or len(keys) > MOST_KEYS or not all(type(k) is int for k in keys):
        raise BadInput(*NOT_READ)
    if act == "fit":
        return as_answer(archive().fitting.queue(viewer(), code, keys))
    wanted = LineAct(
        act, tuple(keys), str(asked.get("text", "")), _number(asked, "at"), None, str(asked.get("state", "")), asked.get("on") is True,
        _number(asked, "start_ms"), _number(asked, "end_ms"),
    )  # fmt: skip
    return as_answer(archive().correcting.change(viewer(), code, wanted, mark, None if speaker is None else str(speaker)))


@views.get("/recordings/<code>/correct/conflicts.json")
def conflicts(code: str) -> Response:
    """Places where a newer hearing differs from what people corrected."""
    return as_answer(archive().correcting.conflicts(viewer(), code))


@views.get("/recordings/<code>/correct/fit.json")
def fit(code: str) -> Response:
    """Whether typed words are being put to the sound."""
    return as_answer(archive().fitting.state(viewer(), code))


@views.post("/recordings/<code>/correct/finish")
def finish(code: str) -> Answer:
    """End the sitting: what was changed becomes a version."""
    archive().correcting.finish(viewer(), code)
    flash("What you corrected is a version of its own now, and can be found.")
    return redirect(url_for("recordings.one", code=code), 303)


@views.post("/recordings/<code>/again")
def again(code: str) -> Answer:
    """Let a recording be heard again, with a model that is chosen; what people corrected is carried over."""
    queued, refused = archive().transcribing.queue(viewer(), code, True, request.form.get("model", ""))
    why = " ".join(reason for _, reasons in refused for reason in reasons)
    flash("It is heard again as soon as our own computer is free; Upkeep says how far it is." if queued else f"It is not heard again. {why}")
    return redirect(url_for("recordings.one", code=code), 303)


@views.get("/recordings/<code>/versions")
def versions(code: str) -> str:
    """Every version; with `before` and `after` (their numbers), where two of them differ."""
    rows = archive().correcting.versions(viewer(), code)
    before, after = request.args.get("before", 0, type=int), request.args.get("after", 0, type=int)
    differences = archive().correcting.compare(viewer(), code, before, after) if before and after else None
    return render_template("versions.html", code=code, rows=rows, before=before, after=after, differences=differences)


@views.post("/recordings/<code>/versions/back")
def back(code: str) -> Answer:
    """Take an older version up again, as a new one."""
    archive().correcting.back_to(viewer(), code, whole_number(request.form.get("number", "")))
    flash("The older version is the newest again. What came after it is still in the list.")
    return redirect(url_for("correcting.versions", code=code), 303)


def _number(asked: dict[str, Any], name: str) -> int:
    found = asked.get(name, 0)
    if type(found) is not int or not 0 <= found < 2**31:
        raise BadInput(*NOT_READ)
    return found
