"""A transcript as a DOCX to read, print and write on: times in the margin, who speaks before the words."""

from __future__ import annotations

from datetime import date

from docx.document import Document
from docx.shared import Mm, Pt

from archive.domain.cleared import ShownRecording
from archive.render.labels import day, moment
from archive.render.page import QUIET, coloured, new_document, running_lines, saved
from archive.render.transcript import INSIDE, Spoken, heading, spoken

_MARGIN_MM = 24
_TIME_PT, _WORDS_PT = 8, 11


def as_docx(shown: ShownRecording, on: date) -> bytes:
    """A4: one paragraph an utterance. The same transcript on the same day gives the same bytes."""
    document = new_document(shown.code, on)
    running_lines(document, shown.code, INSIDE.rstrip("."), f"Transcript, version {shown.version}, {day(on)}")
    document.add_paragraph(heading(shown), style="Show title")
    document.add_paragraph(f"Transcript, version {shown.version} · {day(on)} · {moment(shown.duration_ms)}", style="Sheet line")
    for said in spoken(shown):
        _utterance(document, said)
    return saved(document)


def _utterance(document: Document, said: Spoken) -> None:
    paragraph = document.add_paragraph(style="Testimony inside")
    form = paragraph.paragraph_format
    form.left_indent, form.first_line_indent = Mm(_MARGIN_MM), Mm(-_MARGIN_MM)
    form.tab_stops.add_tab_stop(Mm(_MARGIN_MM))
    form.keep_with_next = False
    time = paragraph.add_run(f"{moment(said.start_ms)}\t")
    time.font.size = Pt(_TIME_PT)
    coloured(time, QUIET)
    if said.speaker:
        speaker = paragraph.add_run(f"{said.speaker}: ")
        speaker.font.size = Pt(_WORDS_PT)
        coloured(speaker, QUIET, bold=True)
    words = paragraph.add_run(said.text)
    words.font.size = Pt(_WORDS_PT)
