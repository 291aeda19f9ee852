"""Lists and saved questions: what is kept of answers, put in order, and what is new since somebody looked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from archive.errors import BadInput
from webui import testimony
from webui.desk import archive, viewer, whole_number

views = Blueprint("lists", __name__)
NEW = "new"  # in place of a list's number: a list of the name that is typed beside it
DONE = {
    "up": "", "down": "", "off": "It is taken off. It can be put back below, for a month.", "back": "It is in the list again.", "note": "The note is written.",
}  # fmt: skip


def keeping(hits: Iterable[Any]) -> dict[str, Any]:
    """What a page of hits needs to keep them: the lists, which one is offered first, and in which each hit is already."""
    found = archive().lists.list(viewer())
    held = archive().lists.holding(viewer(), [(h.unit_id, h.recording, h.start_ms, h.end_ms) for h in hits])
    return {"lists": found, "used_last": archive().lists.used_last(viewer()), "held": held}


@views.get("/find/lists")
def all_of_them() -> str:
    """Every list."""
    deleted = archive().lists.list(viewer(), deleted=True)
    return render_template("lists.html", rows=archive().lists.list(viewer()), deleted=deleted)


@views.post("/find/lists")
def make() -> Response:
    """A new list."""
    made = archive().lists.make(viewer(), request.form.get("name", ""), request.form.get("own") == "yes")
    flash("The list is there. Keep passages into it from an answer of Find.")
    return redirect(url_for("lists.one", number=made), 303)


@views.get("/find/lists/<int:number>")
def one(number: int) -> str:
    """One list with what may be read of it today."""
    page = archive().lists.page(viewer(), number)
    return render_template(
        "list.html", page=page, words=testimony.words,
        stretches=lambda parts: testimony.stretches([(p.start_ms, p.end_ms) for p in parts]),
    )  # fmt: skip


@views.post("/find/lists/<int:number>/rename")
def rename(number: int) -> Response:
    """Another name."""
    archive().lists.rename(viewer(), number, request.form.get("name", ""))
    flash("The list has its new name.")
    return redirect(url_for("lists.one", number=number), 303)


@views.post("/find/lists/<int:number>/delete")
def delete(number: int) -> Response:
    """Take a whole list away, to be put back for a month."""
    archive().lists.delete(viewer(), number)
    flash("The list is deleted. It can be put back below, for a month.")
    return redirect(url_for("lists.all_of_them"), 303)


@views.post("/find/lists/<int:number>/put-back")
def put_back(number: int) -> Response:
    """A list that was deleted is there again."""
    archive().lists.put_back(viewer(), number)
    flash("The list is there again.")
    return redirect(url_for("lists.one", number=number), 303)


@views.post("/find/keep")
def keep() -> Response:
    """Keep a hit into a list, or into a new one, and go back to where it stood."""
    at, _, hit = request.form.get("hit", "").partition(" ")
    try:
        recording, start_ms, end_ms = phrases.stretch(hit)
    except BadInput:
        raise BadInput("It is not told what to keep.", "Load the page again and press Keep beside a passage.") from None
    into = request.form.get("list", "")
    number = archive().lists.make(viewer(), request.form.get("name", "")) if into in ("", NEW) else whole_number(into)
    kept = archive().lists.keep(viewer(), number, recording, start_ms, end_ms)
    flash("It is in the list." if kept else "It was in the list already.")
    return redirect(_back(f"hit-{whole_number(at)}"), 303)


def _back(anchor: str) -> str:
    """The page of hits from which something was kept, at that hit."""
    form = request.form
    if form.get("question"):
        return url_for("finding.answer", question=form["question"][:40], page=whole_number(form.get("page", "1")), _anchor=anchor)
    if form.get("news"):
        return url_for("lists.news", key=form["news"][:40], _anchor=anchor)
    event, place, decade = (form.get(name, "") or None for name in ("event", "place", "decade"))
    return url_for("overview.beside", event=event, place=place, decade=decade, _anchor=anchor)


@views.post("/find/items/<int:item>")
def item(item: int) -> Response:
    """Move an item, write its note, take it off or put it back."""
    what, lists = request.form.get("do", ""), archive().lists
    if what not in DONE:
        raise BadInput("It is not told what to do with it.", "Load the list again and use a button on it.")
    if what == "note":
        number = lists.write_note(viewer(), item, request.form.get("note", ""))
    elif what == "off":
        number = lists.take_off(viewer(), item)
    elif what == "back":
        number = lists.put_item_back(viewer(), item)
    else:
        number = lists.move(viewer(), item, -1 if what == "up" else 1)
    if DONE[what]:
        flash(DONE[what])
    return redirect(url_for("lists.one", number=number, _anchor="" if what == "off" else f"item-{item}"), 303)


# -- saved questions -------------------------------------------------------------------------------------------------
@views.get("/find/questions")
def questions() -> str:
    """Every saved question, with what is new."""
    return render_template("questions.html", rows=archive().questions.list(viewer()))


@views.post("/find/questions/<key>/save")
def save(key: str) -> Response:
    """Keep a question by name."""
    archive().questions.save(viewer(), key, request.form.get("name", ""), request.form.get("team") == "yes")
    flash("The question is saved. It tells what is new whenever you look.")
    return redirect(url_for("finding.answer", question=key), 303)


@views.post("/find/questions/<key>/look")
def look(key: str) -> Response:
    """Somebody looks: what answers now counts as seen."""
    archive().questions.look(viewer(), key)
    return redirect(url_for("lists.news", key=key), 303)


@views.get("/find/questions/<key>")
def news(key: str) -> str:
    """What was new at the last look."""
    found = archive().questions.news(viewer(), key)
    return render_template("news.html", news=found, **keeping(found.hits))


@views.post("/find/questions/<key>/drop")
def drop(key: str) -> Response:
    """Forget a saved question for good."""
    archive().questions.drop(viewer(), key)
    flash("The question is forgotten.")
    return redirect(url_for("lists.questions"), 303)
