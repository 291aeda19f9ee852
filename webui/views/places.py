"""The gazetteer: a plan and a list of places, one place, what may be mis-heard, and the files it is read from and written to."""

from __future__ import annotations

from collections.abc import Iterable

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from archive.app import PLACE_COLUMNS, PLACE_FORMS, PlaceRow, on_a_plane, phrases, place_cells
from archive.errors import BadInput, SheetError, ToldHereError
from webui.desk import archive, viewer, whole_number
from webui.drawing import Plan, plan

views = Blueprint("places", __name__)
MOST_TYPED = 2000


@views.get("/places")
def all_of_them() -> str:
    """The plan, and every place with what may be found there."""
    return _list()


def _list(refused: ToldHereError | None = None, typed: dict[str, str] | None = None) -> str:
    page = archive().places.page(viewer())
    return render_template(
        "places.html", page=page, plan=_plan(page.rows), refused=refused, typed=typed, named=[r.place.name for r in page.rows],
        forms={"csv": "a sheet (CSV)", "geojson": "GeoJSON", "linked": "Linked Places"},
    )  # fmt: skip


def _plan(rows: Iterable[PlaceRow]) -> Plan | None:
    """The places that have coordinates: on the archive's own plan, or by latitude and longitude where more have these."""
    metres = {r.place.name: (float(r.place.x_m), float(r.place.y_m)) for r in rows if r.place.x_m is not None and r.place.y_m is not None}
    degrees = {r.place.name: (r.place.latitude, r.place.longitude) for r in rows if r.place.latitude is not None and r.place.longitude is not None}
    points = metres if len(metres) >= len(degrees) else on_a_plane(degrees)
    drawn = [(r.place.number, r.place.name, r.passages, *points[r.place.name]) for r in rows if r.place.name in points]
    return plan(drawn, north=points is not metres)


@views.get("/places/<int:number>")
def one(number: int) -> str:
    """A place, and where it is spoken of."""
    return _one(number)


def _one(number: int, refused: ToldHereError | None = None, typed: dict[str, str] | None = None) -> str:
    page = archive().places.one(viewer(), number)
    by_name = {r.place.name: r.place.number for r in archive().places.page(viewer()).rows}
    return render_template(
        "place.html", page=page, numbers=by_name, typed=typed or place_cells(page.place), refused=refused, named=list(by_name),
        tags={hit.unit_id: [t for t in hit.tags if t.kind == "place"] for hit in page.found.hits},
    )  # fmt: skip


@views.post("/places")
def write() -> Answer | tuple[str, int]:
    """Add a place, or correct the one whose number comes with it."""
    typed = {c: request.form.get(c, "")[:MOST_TYPED] for c in PLACE_COLUMNS}
    number = whole_number(request.form["number"]) if request.form.get("number") else None
    try:
        done = archive().places.write(viewer(), typed, number)
    except SheetError as refused:
        return (_one(number, refused, typed) if number is not None else _list(refused, typed)), refused.status
    for note in ("The place is in the gazetteer. It is suggested in what is described from now on.", *done.notes):
        flash(note)
    return redirect(url_for("places.one", number=number) if number is not None else url_for("places.all_of_them"), 303)


@views.post("/places/<int:number>/drop")
def drop(number: int) -> Answer:
    """Take a place out."""
    archive().places.drop(viewer(), number)
    flash("It is no longer in the gazetteer.")
    return redirect(url_for("places.all_of_them"), 303)


# -- mis-hearings ------------------------------------------------------------------------------------------------------
@views.get("/places/misheard")
def misheard() -> str:
    """What sounds like a place and waits for a decision."""
    return render_template("places_misheard.html", groups=archive().places.misheard(viewer()))


@views.post("/places/misheard")
def decide() -> Answer:
    """Say whether words are a mis-hearing of a place, wherever they were shown."""
    form = request.form
    tags = [whole_number(t) for t in form.getlist("tag")]
    is_it = form.get("answer") == "yes"
    if not is_it and form.get("answer") != "no":
        raise BadInput("Nothing was answered.", "Say yes or no.")
    done = archive().places.decide_misheard(viewer(), whole_number(form.get("number", "")), form.get("said", "")[:MOST_TYPED], tags, is_it)
    flash(f"{phrases.begin(phrases.many(done, 'suggestion'))} {'confirmed, and kept as a mis-hearing of the place' if is_it else 'rejected; these words are not taken for it again'}.")
    return redirect(url_for("places.misheard"), 303)


@views.post("/places/<int:number>/back")
def take_back(number: int) -> Answer:
    """Forget a mis-hearing that was added by hand, or that something is none."""
    archive().places.take_back(viewer(), number, request.form.get("said", "")[:MOST_TYPED])
    flash("Taken back.")
    return redirect(url_for("places.one", number=number), 303)


# -- files -------------------------------------------------------------------------------------------------------------
@views.post("/places/read")
def read() -> Answer | tuple[str, int]:
    """Take a sheet, GeoJSON or Linked Places in: all of it or nothing."""
    given = request.files.get("file")
    if given is None or not given.filename:
        raise BadInput("No file was chosen.", "Choose the file, then press the button again.")
    try:
        done = archive().places.read_sent(viewer(), given.filename, given.stream.read())
    except SheetError as refused:
        return _list(refused), refused.status
    for note in (f"{phrases.begin(phrases.many(done.rows, 'place'))} read.", *done.notes):
        flash(note)
    return redirect(url_for("places.all_of_them"), 303)


@views.post("/places/written")
def written() -> Response:
    """The gazetteer as a file that may leave. It goes on record, hence a POST."""
    name, made, _ = archive().places.file(viewer(), request.form.get("form", ""))
    kind = PLACE_FORMS[request.form["form"]][1]
    return Response(made, headers={"Content-Type": kind, "Content-Disposition": f'attachment; filename="{name}"'})
