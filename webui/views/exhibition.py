"""Exhibition: the chosen excerpts, what may leave and why not, ticked as heard, exported and fetched."""

from __future__ import annotations

import mimetypes
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, send_file, url_for
from werkzeug.wrappers import Response

from archive.app import phrases
from archive.errors import BadInput
from webui import testimony
from webui.desk import archive, viewer
from webui.jobs import in_words
from webui.sound import in_ranges

views = Blueprint("exhibition", __name__)


def given_names(paths: Sequence[str]) -> list[str]:
    """Names of given files inside their export's folder; the pages never show where on this machine they lie."""
    folder = os.path.commonpath([os.path.dirname(p) for p in paths]) if paths else ""
    return [Path(p).relative_to(folder).as_posix() for p in paths]


def in_order(names: Sequence[str]) -> tuple[list[str], list[str]]:
    """(what may leave: wall text, quotes, then clips; what stays with the team), from `given_names`."""

    def rank(name: str) -> tuple[int, str]:
        return next((i for i, end in enumerate(("wall-text.docx", "quotes.json")) if name.endswith(end)), 2), name

    inside = [name for name in names if "/" in name]
    return sorted((name for name in names if name not in inside), key=rank), sorted(inside)


@views.get("/exhibition")
def chosen() -> str:
    """Every chosen excerpt with its two decisions, made now."""
    return render_template(
        "exhibition.html",
        rows=archive().excerpts.list(viewer()),
        aside=archive().excerpts.list(viewer(), aside=True),
        uses=archive().uses(),
        labels={use.code: use.label for use in archive().uses()},
        given=archive().exports.register(viewer()),
        readings=archive().voices.of_excerpts(viewer()),
        lists=[row for row in archive().lists.list(viewer()) if row.items],
        cautions=phrases.BEFORE_A_TICK,
        stretches=lambda parts: testimony.stretches([(p.start_ms, p.end_ms) for p in parts]),
    )


def _shown(code: str) -> str:
    """The checksum of what was shown, which comes back with a tick. Raises BadInput where it or the mark is missing."""
    shown = request.form.get("shown", "")
    if not shown:
        raise BadInput("It is not told what was heard.", "Load the page again and listen once more.")
    if request.form.get("sure") != "yes":
        raise BadInput(
            f"{code} is not ticked as heard: the box before “I listened” is empty.",
            "Listen to the end. If exactly this is said, put a mark in the box, then press the button beside it.",
        )
    return shown


@views.get("/exhibition/<code>/sound/<int:start_ms>-<int:end_ms>.wav")
def sound(code: str, start_ms: int, end_ms: int) -> Response:
    """A stretch of an excerpt as its clip would have it, or an error in words."""
    return in_ranges(archive().exports.listen(viewer(), code, start_ms, end_ms))


@views.post("/exhibition/<code>/heard")
def heard(code: str) -> Response:
    """A person says that they heard exactly these words: what was shown comes back with the tick."""
    archive().excerpts.tick_heard(viewer(), code, shown=_shown(code))
    flash(f"{code} is on record as heard against the sound.")
    return redirect(url_for("exhibition.chosen", _anchor=code), 303)


@views.post("/exhibition/<code>/heard-again")
def heard_again(code: str) -> Response:
    """A second person says that nothing hidden is heard, and whether together with what stands around it somebody is named."""
    together, around = request.form.get("together", ""), request.form.get("around", "")
    # Whoever fears that somebody is named need not have listened to the end first.
    shown = request.form.get("shown", "") if together == "somebody" else _shown(code)
    if together == "nobody" and not around:
        raise BadInput("It is not told what stood around it.", "Load the page again and read it once more.")
    if archive().excerpts.tick_second(viewer(), code, together, shown=shown, around=around):
        flash(f"{code} is on record as heard by a second person.")
    else:
        flash(f"{code} is not ticked. {phrases.MIGHT_NAME}")
    return redirect(url_for("exhibition.chosen", _anchor=code), 303)


@views.post("/exhibition/<code>/shown-in")
def shown_in(code: str) -> Response:
    """Show an excerpt in its original, in a translation, or in both: "original", or "both TR-1"."""
    shows, _, translation = request.form.get("shown_in", "").partition(" ")
    archive().excerpts.show_as(viewer(), code, shows, translation[:400])
    flash(f"{code} is shown in {'its original' if shows == 'original' else 'translation' if shows == 'translation' else 'both'}. Ticks and approvals of before do not count for it.")
    return redirect(url_for("exhibition.chosen", _anchor=code), 303)


@views.post("/exhibition/<code>/dated")
def dated(code: str) -> Response:
    """Note after an excerpt the date that is on record, or take that note off."""
    edtf = request.form.get("dated", "")[:40]
    archive().excerpts.note_date(viewer(), code, edtf)
    flash(f"{f'[{phrases.told(edtf)}] stands after {code}' if edtf else f'No date stands after {code} any more'}. Ticks and approvals of before do not count for it.")
    return redirect(url_for("exhibition.chosen", _anchor=code), 303)


@views.post("/exhibition/<code>/set-aside")
def set_aside(code: str) -> Response:
    """Take an excerpt off the list; it stays on record."""
    archive().excerpts.set_aside(viewer(), code)
    flash(f"{code} is set aside.")
    return redirect(url_for("exhibition.chosen"), 303)


@views.post("/exhibition/<code>/take-back")
def take_back(code: str) -> Response:
    """Put an excerpt that was set aside on the list again."""
    archive().excerpts.take_back(viewer(), code)
    flash(f"{code} is on the list again.")
    return redirect(url_for("exhibition.chosen", _anchor=code), 303)


@views.post("/exhibition/<code>/reading")
def reading(code: str) -> Response:
    """Take a sound file in as a reading of exactly these words by somebody else."""
    given = request.files.get("file")
    path = Path(getattr(given.stream, "name", "")) if given is not None and given.filename else None
    if given is None or path is None:
        raise BadInput("No sound file was chosen.", "Choose the file in which the words are read, then press the button again.")
    given.stream.flush()
    kind = Path(given.filename or "").suffix
    made = archive().voices.add_reading(viewer(), code, path, request.form.get("credit", ""), kind)
    flash(f"{code} is read by {made.credit}. Listen to it against the words.")
    return redirect(url_for("exhibition.chosen", _anchor=code), 303)


@views.post("/exhibition/<code>/reading/drop")
def drop_reading(code: str) -> Response:
    """Use no reading of this excerpt any more."""
    archive().voices.drop_readings(viewer(), code)
    flash(f"No reading of {code} is used any more.")
    return redirect(url_for("exhibition.chosen", _anchor=code), 303)


@views.get("/exhibition/<code>/reading")
def reading_sound(code: str) -> Response:
    """The reading that counts, to be listened to."""
    path = archive().voices.sound(viewer(), code)
    return in_ranges(path.read_bytes(), mimetypes.guess_type(path.name)[0] or "application/octet-stream")


@views.post("/exhibition/export")
def export() -> Response:
    """Let what may leave be made; the job's own page says how far it is, then what may not leave and why."""
    number = archive().exports.queue(viewer(), request.form.getlist("excerpt"), request.form.get("use", ""))
    return redirect(url_for("exhibition.exported", number=number), 303)


@views.get("/exhibition/export/<int:number>")
def exported(number: int) -> str:
    """How far an export is; what it gave and refused."""
    report = archive().exports.report(viewer(), number)
    if report is None:
        held = archive().exports.held_back(viewer(), number)
        return render_template("exporting.html", job=in_words(archive().jobs.one(viewer(), number)), held=held)
    files, team_files = in_order(given_names(report.files))
    return render_template("exported.html", report=report, files=files, team_files=team_files)


@views.get("/exhibition/export/<int:number>.json")
def exported_as_json(number: int) -> list[dict[str, Any]]:
    """How far it is, for a page that stays open."""
    archive().exports.report(viewer(), number)
    return [in_words(archive().jobs.one(viewer(), number))]


@views.get("/exhibition/given/<code>/<path:name>")
def download(code: str, name: str) -> Response:
    """A file of the register, after its checksum was compared."""
    path = archive().exports.file(viewer(), code, name)
    return send_file(path, as_attachment=True, download_name=path.name, conditional=False)
