"""Blank sheets of field notes to print: a code, the same code as a QR symbol (ISO/IEC 18004), and fields to fill in. A4, one page each.

A sheet has no name on it, neither of a person nor of an interview: who finds one learns nothing. It is the team's own paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from importlib import resources
from typing import TYPE_CHECKING

import segno

if TYPE_CHECKING:
    from fpdf import FPDF

INK, QUIET, RULE = (35, 33, 30), (92, 86, 80), (150, 143, 132)
MARGIN_MM, WIDTH_MM, HEIGHT_MM = 18, 210, 297
SYMBOL_MM = 30
LINE_MM = 8
FIRST_MM = 57
# label, what to think of, lines
FIELDS = (
    ("Interview", "Its code, once it has one.", 1),
    ("Who", "Codes, not names: who spoke, who asked, who interpreted.", 2),
    ("Where", "Which room; what could be heard from outside.", 1),
    ("When", "Day, from, until, breaks. The recorder’s clock may be wrong.", 1),
    ("With what", "Recorder, microphones, who sat on which channel, names of files.", 2),
    ("Who else was in the room", "Whoever is heard and signed nothing has allowed nothing. Write “nobody” where nobody was.", 3),
    ("Remarks", "What the sound does not tell; what was asked to stay out, and at what time. Go on overleaf.", 7),
)


def field_sheets(codes: Sequence[str], on: date) -> bytes:
    """A PDF with one page for each code; the same codes and day give the same bytes."""
    from fpdf import FPDF  # a fifth of a second, which every worker's start would wait for

    pdf = FPDF(format="A4", unit="mm")
    pdf.set_creation_date(datetime.combine(on, time(), UTC))
    pdf.set_title("Field notes")
    pdf.set_lang("en-GB")
    fonts = resources.files("archive.render") / "fonts"
    for style, file in (("", "public-sans-regular.ttf"), ("B", "public-sans-bold.ttf")):
        with resources.as_file(fonts / file) as path:
            pdf.add_font("Public Sans", style, path)
    pdf.set_auto_page_break(False)
    for code in codes:
        pdf.add_page()
        _head(pdf, code)
        _fields(pdf)
    return bytes(pdf.output())


def _head(pdf: FPDF, code: str) -> None:
    pdf.set_text_color(*INK)
    pdf.set_xy(MARGIN_MM, MARGIN_MM + 2)
    pdf.set_font("Public Sans", "B", 24)
    pdf.cell(text="Field notes")
    pdf.set_xy(MARGIN_MM, MARGIN_MM + 15)
    pdf.set_font("Public Sans", "", 20)
    pdf.cell(text=code)
    pdf.set_xy(MARGIN_MM, MARGIN_MM + 26)
    pdf.set_font("Public Sans", "", 8.5)
    pdf.set_text_color(*QUIET)
    pdf.multi_cell(120, text="The code finds these notes again: Upkeep, Field notes.\nKeep filled sheets locked away: they tell of people.")
    rows = [list(row) for row in segno.make(code, error="q", micro=False, boost_error=False).matrix]
    module = SYMBOL_MM / len(rows)
    left, top = WIDTH_MM - MARGIN_MM - SYMBOL_MM, MARGIN_MM
    pdf.set_fill_color(*INK)
    for y, row in enumerate(rows):
        for x, dark in enumerate(row):
            if dark:
                pdf.rect(left + x * module, top + y * module, module + 0.02, module + 0.02, style="F")


def _fields(pdf: FPDF) -> None:
    y = float(FIRST_MM)
    pdf.set_draw_color(*RULE)
    pdf.set_line_width(0.25)
    for label, hint, lines in FIELDS:
        pdf.set_xy(MARGIN_MM, y)
        pdf.set_font("Public Sans", "B", 10.5)
        pdf.set_text_color(*INK)
        pdf.cell(text=label)
        pdf.set_xy(MARGIN_MM, y + 5)
        pdf.set_font("Public Sans", "", 8.5)
        pdf.set_text_color(*QUIET)
        pdf.cell(text=hint)
        y += 9
        for n in range(1, lines + 1):
            pdf.line(MARGIN_MM, y + n * LINE_MM, WIDTH_MM - MARGIN_MM, y + n * LINE_MM)
        y += lines * LINE_MM + 4
