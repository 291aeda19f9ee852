"""A recording's transcript as a file: one that somebody typed, taken in; or written out for the team's own use."""

from __future__ import annotations

import re

from flask import Blueprint, Response, render_template, request

from archive.app import phrases
from archive.errors import BadInput
from webui.desk import archive, viewer

views = Blueprint("transcripts", __name__)
_MIME = {
    "vtt": "text/vtt; charset=utf-8", "srt": "application/x-subrip", "txt": "text/plain; charset=utf-8", "json": "application/json",
    "tei.xml": "application/tei+xml", "docx": "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
}  # fmt: skip
_MEANT = re.compile(r"(.+)=\s*([\w.-]+)")


@views.post("/recordings/<code>/transcript")
def read(code: str) -> str:
    """Take a file in as the newest transcript, and say once, as the answer to this very request, what became of it."""
    given = request.files.get("file")
    if given is None or not given.filename:
        raise BadInput("No file was chosen.", "Choose the transcript, then press the button again.")
    done = archive().transcripts.read(
        viewer(), code, given.stream.read(), _meant(request.form.get("speakers", "")), request.form.get("encoding", "").strip()[:40],
        request.form.get("to_sound") == "yes",
    )  # fmt: skip
    return render_template("transcript_read.html", done=done, exact=phrases.exact)


@views.post("/recordings/<code>/transcript/written")
def write(code: str) -> Response:
    """The transcript as this viewer may read it, as a file under the recording's code. It goes on record, hence a POST."""
    form = request.form.get("form", "")
    name, made = archive().transcripts.write(viewer(), code, form)
    return Response(made, headers={"Content-Type": _MIME[form], "Content-Disposition": f'attachment; filename="{name}"'})


def _meant(text: str) -> dict[str, str]:
    """Lines “label = code” of the form. Raises BadInput for a line that is none."""
    meant = {}
    for line in filter(None, map(str.strip, text[:4000].splitlines())):
        found = _MEANT.fullmatch(line)
        if found is None:
            raise BadInput("A line of who is meant cannot be understood.", "Write a label, = and a code: Ada M. = N-01.")
        meant[found[1].strip()] = found[2]
    return meant
