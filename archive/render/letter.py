"""A letter and an envelope as PDF. The address stands where the windows of common envelopes show it (common practice, no source)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from archive.domain.printed import Letter, Size
from archive.render.paper import MARGIN_MM, Paper, check_letters
from archive.render.wordings import Wording

WINDOW_TOP_MM = 48.0
WINDOW_BELOW_MM = 88.0
ENVELOPE_MM = (220.0, 110.0)  # ISO 269: DL


def letter_pdf(letter: Letter, wording: Wording, size: Size, large: bool) -> bytes:
    """The same letter gives the same bytes. Raises BadInput where our fonts lack a letter."""
    points = [point for p in letter.paragraphs for point in ((p,) if isinstance(p, str) else p)]
    check_letters([letter.sender, *letter.to, letter.name, letter.heading, *points])
    # its title is read in a list of files and by whoever sees the screen: it says no more than the name of the file
    pdf = Paper(size, large, wording("letter", "title"), wording.language, letter.on, letter.reference)
    pdf.put(letter.sender, bold=True, gap=0)
    pdf.put(wording.day(letter.on), gap=0)
    pdf.set_y(WINDOW_TOP_MM - 5)
    if letter.sender_outside and not letter.by_hand:
        pdf.put(letter.sender, scale=0.6, quiet=True, gap=0)
    pdf.set_y(WINDOW_TOP_MM)
    for line in (*((wording("letter", "by_hand"),) if letter.by_hand else ()), *letter.to):
        pdf.put(line, gap=0)
    pdf.set_y(max(WINDOW_BELOW_MM, pdf.get_y() + 8))
    pdf.put(letter.heading, bold=True, scale=1.1, gap=0.8)
    pdf.put(wording("letter", "dear").format(name=letter.name), gap=0.6)
    for paragraph in letter.paragraphs:
        if isinstance(paragraph, str):
            pdf.put(paragraph, gap=0.6)
        else:
            pdf.points_of(paragraph)
    pdf.keep_together(pdf.high(pdf.points) * 5)
    pdf.put(wording("letter", "closing"), gap=2.6)
    pdf.put(letter.sender, gap=0.6)
    return bytes(pdf.output())


def envelope_pdf(to: Sequence[str], sender: str, on: date, title: str, language: str) -> bytes:
    """The face of an envelope, with its address; `sender` "" on a plain one."""
    check_letters([*to, sender])
    pdf = Paper(ENVELOPE_MM, False, title, language, on, None)
    if sender:
        pdf.put(sender, scale=0.75, quiet=True, gap=0)
    pdf.set_y(ENVELOPE_MM[1] / 2)
    for line in to:
        pdf.put(line, scale=1.2, gap=0, left=ENVELOPE_MM[0] / 2 - MARGIN_MM)
    return bytes(pdf.output())
