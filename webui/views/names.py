"""Names that are spoken: one name with all its stretches, decided together; words hidden like names; what may be off the record."""

from __future__ import annotations

import re

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import Pointed, ShownMention, phrases
from archive.errors import BadInput, Clash, Refused, ToldHereError
from webui.desk import archive, chosen_word, day_of, viewer, whole_number

views = Blueprint("names", __name__)
_MOST_WORDS = 400
_STRETCH = re.compile(r"([\w.-]{1,60})@(\d{1,10})-(\d{1,10}) (\S{0,40}) ([0-9a-z]{1,40})", re.ASCII)
DONE = {"hide": "hidden", "keep": "may stand", "cleared": "may stand: they agreed", "public": "may stand: publicly known"}


@views.get("/names")
def all_of_them() -> str:
    """Every name that is spoken, those that wait for a decision first."""
    return render_template("names.html", groups=archive().naming.heard(viewer()), closed=archive().consent.closed(viewer(), waiting=True))


@views.get("/names/<key>")
def one(key: str) -> str:
    """One name with every stretch that may be read, to be heard and decided."""
    return _page(key)


@views.post("/names/<key>")
def decide(key: str) -> Response | tuple[str, int]:
    """Decide exactly the stretches that were heard (or, where they may not be heard, hidden)."""
    form = request.form
    heard, unheard = form.getlist("heard"), form.getlist("unheard")
    pointed = [_pointed(text, heard=True) for text in heard] + [_pointed(text, heard=False) for text in unheard]
    decision = form.get("decision", "")
    try:
        done = archive().naming.decide_many(viewer(), pointed, decision, form.get("how", "")[:_MOST_WORDS], form.get("instead", "")[:_MOST_WORDS])
    except (BadInput, Clash, Refused) as refused:
        return _page(key, refused, frozenset(heard)), refused.status
    flash(f"{phrases.begin(phrases.many(done, 'stretch', 'stretches'))} decided: {DONE.get(decision, decision)}.")
    return redirect(url_for("names.one", key=key), 303)


def _page(key: str, refused: ToldHereError | None = None, heard: frozenset[str] = frozenset()) -> str:
    page = archive().naming.name(viewer(), key)
    waiting = [m for m in page.stretches if m.decision == "undecided" and not m.stands]
    return render_template(
        "name.html", page=page, waiting=waiting, others=[m for m in page.stretches if m not in waiting], written=written,
        refused=refused, heard=heard, form=request.form, most=_MOST_WORDS,
    )  # fmt: skip


def written(shown: ShownMention) -> str:
    """A stretch as the form sends it back: where, who, and what was on record when it was shown."""
    return f"{shown.recording}@{shown.start_ms}-{shown.end_ms} {shown.person or '-'} {shown.seen}"


def _pointed(text: str, *, heard: bool) -> Pointed:
    match = _STRETCH.fullmatch(text)
    if match is None:
        raise BadInput("One of the stretches could not be read.", "Load the page again and listen once more.")
    code, start_ms, end_ms, person, seen = match.groups()
    return Pointed(code, whole_number(start_ms), whole_number(end_ms), "" if person == "-" else person, seen, heard)


# -- words that are hidden like a name -----------------------------------------------------------------------------
@views.post("/recordings/<code>/words")
def words(code: str) -> str:
    """Where the chosen words are said, shown before they are hidden. Posted: the words may name somebody."""
    form = request.form
    where = form.get("where", "here")
    chosen = (chosen_word(form["first"]), chosen_word(form["last"])) if form.get("first") and form.get("last") else None
    if chosen is None and where == "here":
        where = "recording"
    found = archive().naming.occurrences(viewer(), code, form.get("quote", "")[:_MOST_WORDS], chosen, where)
    return render_template(
        "hide.html", code=code, found=found, where=where, form=form, written=written, kinds=phrases.NAMINGS, chosen=chosen is not None
    )


@views.post("/recordings/<code>/hide")
def hide(code: str) -> Response:
    """Hide exactly the stretches that were shown and left chosen."""
    form = request.form
    pointed = [_pointed(text, heard=True) for text in form.getlist("stretch")]
    done = archive().naming.decide_many(viewer(), pointed, "hide", form.get("how", "")[:_MOST_WORDS], form.get("instead", "")[:_MOST_WORDS], form.get("kind", ""))
    flash(f"{phrases.begin(phrases.many(done, 'stretch', 'stretches'))} hidden in whatever leaves, and from readers.")
    return redirect(url_for("recordings.one", code=code), 303)


# -- said off the record? ------------------------------------------------------------------------------------------
@views.get("/off-the-record")
def off_the_record() -> str:
    """What our own computer closed because somebody may not have wanted it recorded."""
    return render_template("off_the_record.html", rows=archive().consent.closed(viewer(), waiting=True))


@views.post("/off-the-record/<int:hold>/open")
def open_again(hold: int) -> Response:
    """It was not said off the record: open it, with the reason."""
    archive().consent.open_again(viewer(), hold, request.form.get("reason", "")[:_MOST_WORDS])
    flash("The stretch is open again as the agreements say; the reason is on record.")
    return redirect(url_for("names.off_the_record"), 303)


@views.post("/off-the-record/<int:hold>/close")
def close_exactly(hold: int) -> Response:
    """Close exactly from here to there; what lies around it opens again."""
    form = request.form
    limits = [(phrases.clock_ms(form.get("starts", "")), phrases.clock_ms(form.get("ends", "")))]
    archive().consent.close_exactly(viewer(), hold, limits, form.get("reason", "")[:_MOST_WORDS], day_of(form.get("until", "")))
    flash("Exactly this stretch is closed; what lies around it is open again as the agreements say.")
    return redirect(url_for("names.off_the_record"), 303)
