"""People and agreements: what each person allowed, in sentences; pause and withdrawal."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from archive.app import RULE_WORDS, FormKind, ObjectionDecision, Size, phrases
from archive.domain.values import Role, Way
from archive.errors import BadInput
from webui.desk import archive, day_of, given, viewer, whole_number

views = Blueprint("people", __name__)


@views.get("/people")
def all_of_them() -> str:
    """Everybody, by code."""
    return render_template("people.html", rows=archive().people.list(viewer()))


@views.get("/people/<code>")
def one(code: str) -> str:
    """One person: what they allowed, the papers behind it, what already left."""
    page = archive().people.page(viewer(), code)
    papers = zip(archive().people.agreements(viewer(), code), page.agreements, strict=True)
    contact = archive().letters.contact(viewer(), code)
    risks = archive().due.risks(viewer(), code) if viewer().role == Role.KEEPER else ()
    return render_template("person.html", spoken_for=archive().spokespeople.of(viewer(), code), risks=risks, cautions=phrases.BEFORE_A_DECISION, page=page, papers=papers, contact=contact, rules=RULE_WORDS, forms=archive().papers.forms(viewer(), code), reviews=archive().reviews.list(viewer(), code), kinds=[kind.value for kind in FormKind])


@views.get("/people/<code>/withdraw")
def before_withdrawal(code: str) -> str:
    """What a withdrawal does and cannot do, before it is done."""
    page = archive().people.page(viewer(), code)
    interviews = list(dict.fromkeys(line.rpartition(" as ")[0] for line in page.interviews))
    return render_template("withdraw.html", page=page, interviews=interviews, uses=archive().uses(), ways=list(Way))


@views.post("/people/<code>/withdraw")
def withdraw(code: str) -> str:
    """Withdraw, and show what that stopped and what already went out."""
    report = archive().consent.withdraw(viewer(), code, **_aim())
    return render_template("held.html", report=report, verb="Withdrawn")


@views.post("/people/<code>/pause")
def pause(code: str) -> str:
    """Hold everything of this person back, or as much as was named, while they think it over, and show what that stopped."""
    report = archive().consent.pause(viewer(), code, **_aim())
    return render_template("held.html", report=report, verb="Paused")


def _aim() -> dict[str, Any]:
    """What a withdrawal or a pause is narrowed to, and how it came."""
    form = request.form
    way = form.get("way", "")
    if way and way not in set(Way):
        raise BadInput("That is no way in which something is used.", "Choose among words, voice and picture. Nothing was changed.")
    return {
        "use": form.get("use", ""), "interview": form.get("interview", ""), "how": form.get("how", "")[:400],
        "stretch": form.get("stretch", "").strip()[:80], "way": Way(way) if way else None,
    }  # fmt: skip


@views.post("/people/<code>/lift")
def lift(code: str) -> Response:
    """End a hold that stands on this person's page, or say that it was looked at, with the reason on record."""
    form = request.form
    hold, how = whole_number(form.get("hold", "")), form.get("looked", "")
    archive().consent.lift(viewer(), hold, form.get("reason", "")[:400], how == "reviewed", code, kept=how == "stays")
    flash("Looked at. It stays closed; the reason is on record." if how == "stays" else "The hold is lifted; the reason is on record.")
    return redirect(url_for("people.one", code=code), 303)


@views.post("/people/<code>/letter")
def letter(code: str) -> Response:
    """The letter that confirms a withdrawal or a pause; it goes on record, hence a POST."""
    size, large = _print()
    return given(archive().ending_letters.of_hold(viewer(), code, whole_number(request.form.get("hold", "")), size, large))


# -- objections ------------------------------------------------------------------------------------------------------
@views.post("/people/<code>/object")
def object_to(code: str) -> str:
    """Somebody objects to what is said of them: hold it, and show what that reached."""
    form = request.form
    report = archive().consent.object(viewer(), code, form.get("how", "")[:400], form.get("stretch", "").strip()[:80])
    return render_template("held.html", report=report, verb="Held after an objection")


@views.get("/people/objections")
def objections() -> str:
    """Every objection, what it holds, and how it was decided."""
    return render_template("objections.html", rows=archive().consent.objections(viewer()), cautions=phrases.BEFORE_A_DECISION)


@views.post("/people/objections/<int:number>")
def decide(number: int) -> Response:
    """Decide an objection, with the reason."""
    decision = request.form.get("decision", "")
    if decision not in set(ObjectionDecision):
        raise BadInput("It is not said how it is decided. Nothing was changed.", "Choose whether it stays held or the hold ends.")
    archive().consent.decide_objection(viewer(), number, ObjectionDecision(decision), request.form.get("reason", "")[:2000])
    flash("Decided, and on record. Answer them by letter.")
    return redirect(url_for("people.objections"), 303)


@views.post("/people/objections/<int:number>/letter")
def answer(number: int) -> Response:
    """The letter that answers an objection."""
    size, large = _print()
    return given(archive().ending_letters.of_objection(viewer(), number, size, large))


# -- notes of risk ---------------------------------------------------------------------------------------------------
@views.post("/people/<code>/risk")
def note_risk(code: str) -> Response:
    """Note what could happen to somebody."""
    archive().due.note_risk(viewer(), code, request.form.get("words", "")[:2000], day_of(request.form.get("review_on", "")))
    flash("Noted, for keepers alone.")
    return redirect(url_for("people.one", code=code, _anchor="risk-h"), 303)


@views.post("/people/<code>/risk/<int:number>/end")
def end_risk(code: str, number: int) -> Response:
    """A note of risk counts no more."""
    archive().due.end_risk(viewer(), number)
    flash("That note counts no more.")
    return redirect(url_for("people.one", code=code, _anchor="risk-h"), 303)


def _print() -> tuple[Size, bool | None]:
    """Size of paper and print, as chosen on the page."""
    size, large = request.form.get("size", ""), request.form.get("print", "")
    return Size(size) if size in set(Size) else Size.A4, {"large": True, "normal": False}.get(large)
