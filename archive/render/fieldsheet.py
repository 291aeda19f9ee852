"""Blank sheets of field notes to print: a code, the same code as a QR symbol (ISO/IEC 18004), and fields to fill in. A4, one page each.

A sheet has no name on it, neither of a person nor of an interview: who finds one learns nothing. It is the team's own paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from archive.domain.printed import Size
from archive.render.embedded import SANS

if TYPE_CHECKING:
    from archive.render.paper import Paper

INK, QUIET, RULE = (35, 33, 30), (92, 86, 80), (150, 143, 132)
MARGIN_MM, WIDTH_MM = 18, 210
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
    from archive.render.paper import Paper  # a fifth of a second, which every worker's start would wait for

    pdf = Paper(Size.A4, False, "Field notes", "en-GB", on, None)
    pdf.set_auto_page_break(False)
    for n, code in enumerate(codes):
        if n:
            pdf.add_page()
        _head(pdf, code)
        _fields(pdf)
    return bytes(pdf.output())


def _head(pdf: Paper, code: str) -> None:
    pdf.set_text_color(*INK)
    pdf.set_xy(MARGIN_MM, MARGIN_MM + 2)
    pdf.set_font(SANS, "B", 24)
    pdf.cell(text="Field notes")
    pdf.set_xy(MARGIN_MM, MARGIN_MM + 15)
    pdf.set_font(SANS, "", 20)
    pdf.cell(text=code)
    pdf.set_xy(MARGIN_MM, MARGIN_MM + 26)
    pdf.set_font(SANS, "", 8.5)
    pdf.set_text_color(*QUIET)
    pdf.multi_cell(120, text="The code finds these notes again: Upkeep, Field notes.\nKeep filled sheets locked away: they tell of people.")
    pdf.symbol(code, WIDTH_MM - MARGIN_MM - SYMBOL_MM, MARGIN_MM, SYMBOL_MM)


def _fields(pdf: Paper) -> None:
    y = float(FIRST_MM)
    pdf.set_draw_color(*RULE)
    pdf.set_line_width(0.25)
    for label, hint, lines in FIELDS:
        pdf.set_xy(MARGIN_MM, y)
        pdf.set_font(SANS, "B", 10.5)
        pdf.set_text_color(*INK)
        pdf.cell(text=label)
        pdf.set_xy(MARGIN_MM, y + 5)
        pdf.set_font(SANS, "", 8.5)
        pdf.set_text_color(*QUIET)
        pdf.cell(text=hint)
        y += 9
        for n in range(1, lines + 1):
            pdf.line(MARGIN_MM, y + n * LINE_MM, WIDTH_MM - MARGIN_MM, y + n * LINE_MM)
        y += lines * LINE_MM + 4
