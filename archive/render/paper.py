"""The paper that forms and letters are printed on: its sizes, normal and large print, our open fonts, a QR symbol (ISO/IEC 18004).

Normal print is 12 point and large print 18: RNIB's Clear Print asks for 12 at least and large print for 16 or more, the American Printing
House for the Blind for 18 (from memory). Set ragged right, in one sans family, never in capitals or italics. Loading this takes a fifth of a
second, which a worker's start would wait for: import it where it is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time
from importlib import resources

import segno
from fpdf import FPDF
from fpdf.enums import MethodReturnValue

from archive.domain.printed import Size
from archive.errors import BadInput
from archive.render.embedded import SANS, missing_letters
from archive.render.sanitise import one_line, printable

INK, QUIET, RULE = (35, 33, 30), (92, 86, 80), (150, 143, 132)
MARGIN_MM = 18.0
FOOT_MM = 16.0
SYMBOL_MM = 26.0
MOST_TOGETHER = 12  # lines
LEADING = 1.32  # lines, as a multiple of the letters' height
_MM_A_POINT = 25.4 / 72
_FORMATS = {Size.A4: "A4", Size.LETTER: "Letter"}


class Paper(FPDF):
    """Pages of one size (or of so many mm) in one print. `foot` stands at the foot of each page, before its number; None: no foot."""

    def __init__(self, size: Size | tuple[float, float], large: bool, title: str, language: str, on: date, foot: str | None = "") -> None:
        super().__init__(format=_FORMATS[size] if isinstance(size, Size) else size, unit="mm")
        self.points, self.foot = 18.0 if large else 12.0, foot
        self.set_creation_date(datetime.combine(on, time(), UTC))  # the day is on record, the hour is nobody's business
        self.set_title(title)
        self.set_lang(language)
        fonts = resources.files("archive.render") / "fonts"
        for style, file in (("", "public-sans-regular.ttf"), ("B", "public-sans-bold.ttf")):
            with resources.as_file(fonts / file) as path:
                self.add_font(SANS, style, path)
        self.c_margin = 0.0  # text and boxes begin on one line
        self.set_margins(MARGIN_MM, MARGIN_MM, MARGIN_MM)
        self.set_auto_page_break(True, FOOT_MM + 6)
        self.add_page()

    @property
    def wide(self) -> float:
        """Width of the text, mm."""
        return float(self.epw)

    def high(self, points: float) -> float:
        """Height of a line of this size, mm."""
        return points * LEADING * _MM_A_POINT

    def footer(self) -> None:
        """The foot's words and the page of pages."""
        if self.foot is None:
            return
        points = max(9.0, self.points * 0.7)
        self.set_y(-FOOT_MM)
        self.set_font(SANS, "", points)
        self.set_text_color(*QUIET)
        self.cell(self.wide / 2, text=self.foot)
        self.cell(self.wide / 2, text=f"{self.page_no()} / {{nb}}", align="R")
        self.set_text_color(*INK)

    def put(self, text: str, *, bold: bool = False, scale: float = 1.0, quiet: bool = False, gap: float = 0.35, left: float = 0.0) -> None:
        """A paragraph over the width of the page; `gap`: lines left free below it; `left`: mm further in."""
        points = self.points * scale
        self.set_font(SANS, "B" if bold else "", points)
        self.set_text_color(*(QUIET if quiet else INK))
        self.whole(text, self.wide - left, points)
        self.set_x(MARGIN_MM + left)
        self.multi_cell(self.wide - left, self.high(points), printable(text), align="L", new_x="LMARGIN", new_y="NEXT")
        self.ln(self.high(points) * gap)
        self.set_text_color(*INK)

    def points_of(self, some: Sequence[str]) -> None:
        """A list: each point with its mark."""
        high, left = self.high(self.points), self.points * 0.4
        for text in some:
            self.set_font(SANS, "", self.points)
            self.whole(text, self.wide - left, self.points)
            self.set_x(MARGIN_MM)
            self.cell(left, high, "•")
            self.set_x(MARGIN_MM + left)
            self.multi_cell(self.wide - left, high, printable(text), align="L", new_x="LMARGIN", new_y="NEXT")
        self.ln(high * 0.35)

    def whole(self, text: str, wide: float, points: float) -> None:
        """A new page where this paragraph, in the font that is set, would go on overleaf; a long one may."""
        lines = self.multi_cell(wide, self.high(points), printable(text), align="L", dry_run=True, output=MethodReturnValue.LINES)
        self.keep_together(self.high(points) * min(len(lines), MOST_TOGETHER))  # type: ignore[arg-type]

    def keep_together(self, high: float) -> None:
        """A new page where so much does not fit on this one any more."""
        if self.will_page_break(high):
            self.add_page()

    def symbol(self, code: str, left: float, top: float, side: float) -> None:
        """The code as a QR symbol with its corner at left and top, mm."""
        rows = [list(row) for row in segno.make(code, error="q", micro=False, boost_error=False).matrix]
        module = side / len(rows)
        self.set_fill_color(*INK)
        for y, row in enumerate(rows):
            for x, dark in enumerate(row):
                if dark:
                    self.rect(left + x * module, top + y * module, module + 0.02, module + 0.02, style="F")


def check_letters(texts: Sequence[str]) -> None:
    """Raises BadInput where our fonts lack a letter, which would be printed as nothing."""
    lacking = missing_letters("".join(one_line(text) for text in texts), SANS)
    if lacking:
        raise BadInput(
            f"Our fonts do not have {' '.join(sorted(lacking)[:3])}{' and others' if len(lacking) > 3 else ''}, so this cannot be printed.", "Write it in other letters. Nothing was made."
        )
