"""The list of spellings, and the same change wherever else a mis-hearing stands. Words are posted: they may be names, and stand in no address."""

from __future__ import annotations

import re
import secrets

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from archive.app import Picked, phrases
from archive.domain.values import SpellingKind
from archive.errors import BadInput, SheetError, ToldHereError
from webui.desk import archive, as_answer, viewer, whole_number

views = Blueprint("spellings", __name__)
MOST_TYPED = 1200
_PLACE = re.compile(r"([\w.-]{1,60}) (\d{1,10}) (\d{1,9})-(\d{1,9})", re.ASCII)


@views.get("/spellings")
def all_of_them() -> str:
    """Every spelling with how it is mis-heard."""
    return _list()


def _list(refused: ToldHereError | None = None) -> str:
    return render_template("spellings.html", page=archive().spellings.page(viewer()), kinds=list(SpellingKind), form=request.form, refused=refused)


@views.post("/spellings")
def keep() -> Answer | tuple[str, int]:
    """Put a spelling on the list, or change it."""
    cells = {name: " ".join(_typed(name).split()) for name in ("spelling", "kind", "heard_as", "note")}
    try:
        where = archive().spellings.add(viewer(), cells, whole=bool(request.form.get("whole")))
    except SheetError as refused:
        return _list(refused), refused.status
    flash(phrases.SPELLING_KEPT[where])
    return redirect(url_for("spellings.all_of_them"), 303)


@views.post("/spellings/drop")
def drop() -> Answer:
    """Take a spelling, or one of its mis-hearings, off the list; or put a spelling on it again."""
    back = bool(request.form.get("back"))
    archive().spellings.drop(viewer(), _typed("spelling"), _typed("heard_as"), back)
    flash("On the list again." if back else "Taken off.")
    return redirect(url_for("spellings.all_of_them"), 303)


# -- the same elsewhere --------------------------------------------------------------------------------------------
@views.post("/spellings/offer.json")
def offer() -> Response:
    """In how many other places the change that somebody just typed may be wanted; an empty object: none."""
    asked = request.get_json(silent=True)
    if not isinstance(asked, dict):
        raise BadInput("This could not be read.", "Load the page again; what was saved is kept.")
    found = archive().spellings.offer(viewer(), str(asked.get("before", "")), str(asked.get("after", "")))
    return as_answer(found if found is not None else {})


@views.post("/spellings/same")
def same() -> str:
    """Every place where the mis-hearing stands, each with its sound."""
    return _same()


@views.post("/spellings/change")
def change() -> str | tuple[str, int]:
    """Change exactly the places that were shown and ticked; what is left stands on the page that follows."""
    form = request.form
    picked = [_picked(text) for text in form.getlist("place")]
    try:
        if form.get("remember"):
            archive().spellings.add(viewer(), {"spelling": _typed("right"), "kind": _typed("kind"), "heard_as": _typed("wrong")})
    except SheetError as refused:
        return _same(refused=refused, ticked=frozenset(form.getlist("place"))), refused.status
    done = archive().spellings.change(viewer(), _typed("right"), picked, form.get("mark", ""))
    return _same(changed=done.changed, left=len(done.refused))


def _same(
    refused: ToldHereError | None = None, ticked: frozenset[str] = frozenset(), changed: dict[str, int] | None = None, left: int = 0
) -> str:  # fmt: skip
    page = archive().spellings.same(viewer(), _typed("wrong"), _typed("right"), _typed("recording"))
    return render_template(
        "same.html", page=page, kinds=list(SpellingKind), recording=_typed("recording"), desk=_typed("desk"), mark=secrets.token_hex(12),
        refused=refused, ticked=ticked, changed=changed or {}, left=left,
    )  # fmt: skip


@views.post("/spellings/finish")
def finish() -> Answer:
    """End the sittings in which something was changed: it becomes versions."""
    done = archive().spellings.finish(viewer(), request.form.getlist("code"))
    flash(f"{phrases.begin(phrases.many(done, 'sitting'))} finished: what was changed can be found now.")
    return redirect(url_for("spellings.all_of_them"), 303)


def _typed(name: str) -> str:
    return request.form.get(name, "")[:MOST_TYPED].strip()


def _picked(text: str) -> Picked:
    match = _PLACE.fullmatch(text)
    if match is None:
        raise BadInput("One of the places could not be read.", "Load the page again; nothing was changed.")
    code, *numbers = match.groups()
    return Picked(code, *map(whole_number, numbers))
