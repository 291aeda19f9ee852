"""The thesaurus: its themes, what decisions taught about them, and what none of them describes."""

from __future__ import annotations

from flask import Blueprint, Response, flash, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as Answer

from archive.app import SKOS_FORMS, Asked, phrases
from archive.errors import BadInput, ToldHereError
from webui.desk import archive, viewer

views = Blueprint("themes", __name__)
COLUMNS = ("theme", "broader", "scope_note", "words", "use_for", "related", "labels")
MOST_TYPED = 8000
MOST_BYTES = 20_000_000


@views.get("/themes")
def all_of_them() -> str:
    """Every theme under its broader one."""
    return _list()


def _list(refused: ToldHereError | None = None) -> str:
    return render_template("themes.html", rows=archive().themes.list(viewer()), forms=SKOS_FORMS, refused=refused, form=request.form if refused else {})


@views.get("/themes/<int:theme>")
def one(theme: int) -> str:
    """One theme, and what was learned about it."""
    return _one(str(theme))


def _one(theme: str, refused: ToldHereError | None = None) -> str:
    rows = archive().themes.list(viewer())
    return render_template("theme.html", page=archive().learned.page(viewer(), theme), rows=rows, ids={r.name: r.id for r in rows}, refused=refused, form=request.form if refused else {})


@views.post("/themes")
def keep() -> Answer | tuple[str, int]:
    """Add a theme, or correct one; another name renames it."""
    cells = {name: _typed(name) for name in COLUMNS if name in request.form}
    was = _typed("was")
    try:
        archive().themes.write(viewer(), cells, was)
    except BadInput as refused:
        return (_one(was, refused) if was else _list(refused)), refused.status
    flash("Kept in the thesaurus.")
    return redirect(url_for("themes.one", theme=archive().themes.one(viewer(), cells["theme"]).id), 303)


@views.post("/themes/read")
def read() -> Answer | tuple[str, int]:
    """Read themes from a SKOS file, or one of its concepts with the narrower ones."""
    file = request.files.get("file")
    try:
        if file is None or not file.filename:
            raise BadInput("No file was chosen.", "Choose a SKOS file: Turtle, RDF/XML or JSON-LD.")
        found = archive().themes.read_skos(viewer(), file.stream.read(MOST_BYTES + 1), file.filename, _typed("only"))
    except BadInput as refused:
        return _list(refused), refused.status
    flash(f"{phrases.begin(phrases.many(found.themes, 'theme'))} read.")
    if found.left_out:
        flash(f"Not kept here: {', '.join(f'{what} ({number})' for what, number in found.left_out)}.")
    return redirect(url_for("themes.all_of_them"), 303)


@views.post("/themes/written")
def write() -> Response:
    """The thesaurus as SKOS, to be kept as a file."""
    form = _typed("form")
    written = archive().themes.write_skos(viewer(), form)
    answer = make_response(written.data)
    answer.headers["Content-Type"] = "application/octet-stream"
    answer.headers["Content-Disposition"] = f'attachment; filename="themes.{SKOS_FORMS[form][0]}"'
    return answer


@views.post("/themes/again")
def again() -> Answer:
    """Let the worker suggest anew, with what was learned."""
    archive().describing.queue(viewer())
    flash("Every recording is described anew; it is in the list of work under Upkeep.")
    return redirect(url_for("themes.all_of_them"), 303)


@views.get("/themes/missing")
def missing() -> str:
    """Passages that no theme describes, by the words that they share."""
    return render_template("themes_missing.html", page=archive().learned.missing(viewer()), tops=[r.name for r in archive().themes.list(viewer()) if not r.broader])


@views.post("/themes/<int:theme>/passages")
def passages(theme: int) -> Answer:
    """The passages of a theme and its narrower ones, in Find."""
    name = archive().themes.one(viewer(), str(theme)).name
    return redirect(url_for("finding.answer", question=archive().finding.keep(viewer(), Asked(theme=name))), 303)


@views.post("/themes/<int:theme>/merge")
def merge(theme: int) -> Answer:
    """Make a theme a part of another."""
    into = archive().themes.one(viewer(), _typed("into"))
    number = archive().themes.merge(viewer(), archive().themes.one(viewer(), str(theme)).name, into.name)
    flash(f"Merged; passages in {phrases.many(number, 'recording')} followed.")
    return redirect(url_for("themes.one", theme=into.id), 303)


@views.post("/themes/<int:theme>/drop")
def drop(theme: int) -> Answer:
    """Take a theme out."""
    archive().themes.remove(viewer(), archive().themes.one(viewer(), str(theme)).name)
    flash("Taken out of the thesaurus.")
    return redirect(url_for("themes.all_of_them"), 303)


@views.post("/themes/<int:theme>/word")
def word(theme: int) -> Answer:
    """Do not learn a word, or let it be learned again."""
    back = bool(request.form.get("back"))
    archive().learned.take_off(viewer(), str(theme), _typed("word"), back)
    flash("It may be learned again." if back else "It is not learned any more, and what it suggested is gone.")
    return redirect(url_for("themes.one", theme=theme, _anchor="learned-h"), 303)


def _typed(name: str) -> str:
    return " ".join(request.form.get(name, "")[:MOST_TYPED].split())
