"""What papers to be filled in by hand are made of: boxes to tick, lines to write and sign on, and the head with the code that finds them again."""

from __future__ import annotations

import re
from collections.abc import Sequence

from archive.domain.cleared import ForbiddenName
from archive.render.embedded import SANS
from archive.render.paper import INK, MARGIN_MM, QUIET, RULE, SYMBOL_MM, Paper

NO_BREAK = "\u00a0"


class Boxes:
    """One paper on its way to be printed."""

    def __init__(self, pdf: Paper) -> None:
        self.pdf = pdf
        self.line = pdf.high(pdf.points)
        self.box = pdf.points * 0.32

    def top(self, title: str, asks: str, code: str, about: str) -> None:
        """Title, who asks, and the code with its symbol and what it is for."""
        pdf = self.pdf
        pdf.symbol(code, MARGIN_MM + pdf.wide - SYMBOL_MM, MARGIN_MM, SYMBOL_MM)
        pdf.set_right_margin(MARGIN_MM + SYMBOL_MM + 6)
        pdf.put(title, bold=True, scale=1.45, gap=0.1)
        pdf.put(asks, gap=0.1)
        pdf.put(f"{code}   {about}", quiet=True, scale=0.85, gap=0.2)
        pdf.set_right_margin(MARGIN_MM)
        pdf.set_y(max(pdf.get_y(), MARGIN_MM + SYMBOL_MM + 4))

    def heading(self, text: str, keep: float = 3) -> None:
        """A heading that stays with what follows it."""
        self.pdf.keep_together(self.line * (keep + 2))
        self.pdf.ln(self.line * 0.5)
        self.pdf.put(text, bold=True, scale=1.15, gap=0.3)

    def listed(self, title: str, points: Sequence[str]) -> None:
        """A heading and a list below it."""
        self.heading(title)
        self.pdf.points_of(points)

    def choices(self, label: str, options: Sequence[str], *, gap: float = 0.4) -> None:
        """A label with a box before each option; what does not fit goes to the next line, with its box. `gap` -1: whatever follows stays on it."""
        pdf = self.pdf
        pdf.keep_together(self.line * 2)
        pdf.set_font(SANS, "", pdf.points)
        pdf.set_x(MARGIN_MM)
        if label:
            self.label(label, self._wide(options[0]))
        for option in options:
            if pdf.get_x() - 0.1 > MARGIN_MM and pdf.get_x() + self._wide(option) > MARGIN_MM + pdf.wide + 0.1:
                pdf.ln(self.line)
                pdf.set_x(MARGIN_MM)
            self._tick(option)
        if gap > -1:
            pdf.ln(self.line * (1 + gap))

    def label(self, text: str, beside: float) -> bool:
        """A label; True where so many mm would not fit beside it, so that it has its line to itself."""
        pdf = self.pdf
        wide = pdf.get_string_width(text) + 3
        alone = wide + beside > pdf.wide
        pdf.multi_cell(pdf.wide if alone else wide, self.line, text, align="L", new_x="LMARGIN" if alone else "RIGHT", new_y="NEXT" if alone else "TOP")
        return alone

    def _wide(self, option: str) -> float:
        return self.box + 1.6 + float(self.pdf.get_string_width(option)) + self.pdf.points * 0.16

    def _tick(self, option: str) -> None:
        pdf = self.pdf
        x, y = pdf.get_x(), pdf.get_y()
        pdf.set_draw_color(*INK)
        pdf.set_line_width(0.3)
        pdf.rect(x, y + (self.line - self.box) / 2, self.box, self.box)
        pdf.set_x(x + self.box + 1.6)
        room = MARGIN_MM + pdf.wide - pdf.get_x()
        if pdf.get_string_width(option) > room:  # longer than a line: it goes on below
            pdf.multi_cell(room, self.line, option, align="L", new_x="RIGHT", new_y="LAST")
        else:
            pdf.cell(self._wide(option) - self.box - 1.6, self.line, option)

    def rule(self, label: str, lines: int = 1) -> None:
        """A label, and lines to write on."""
        pdf = self.pdf
        pdf.keep_together(self.line * (1.5 * lines + 1))
        pdf.set_font(SANS, "", pdf.points)
        pdf.set_x(MARGIN_MM)
        alone = self.label(label, pdf.wide * 0.4)
        pdf.set_draw_color(*RULE)
        pdf.set_line_width(0.3)
        start = pdf.get_x()
        y = pdf.get_y() + self.line * (1.2 if alone else 0.9)
        for n in range(lines):
            pdf.line(start if n == 0 else MARGIN_MM, y, MARGIN_MM + pdf.wide, y)
            y += self.line * 1.5
        pdf.set_y(y - self.line * 0.9)

    def signed(self, fields: Sequence[str]) -> None:
        """Lines to sign on, each with what it is for below."""
        pdf = self.pdf
        in_a_row = 1 if pdf.points > 14 else 2
        for first in range(0, len(fields), in_a_row):
            row = fields[first : first + in_a_row]
            wide = (pdf.wide - 6 * (len(row) - 1)) / len(row)
            pdf.keep_together(self.line * 3)
            y = pdf.get_y() + self.line * 1.5
            pdf.set_draw_color(*RULE)
            for n, label in enumerate(row):
                x = MARGIN_MM + n * (wide + 6)
                pdf.line(x, y, x + wide, y)
                pdf.set_xy(x, y + 0.5)
                pdf.set_font(SANS, "", pdf.points * 0.85)
                pdf.set_text_color(*QUIET)
                pdf.cell(wide, self.line, label)
            pdf.set_text_color(*INK)
            pdf.set_y(y + self.line * 1.1)
        pdf.ln(self.line * 0.4)

    def filled(self, label: str, value: str) -> None:
        """What is on record, else a line to write it on."""
        if value:
            self.pdf.put(f"{label}: {value}", gap=0.25)
        else:
            self.rule(label)

    def block(self, text: str, fields: Sequence[str]) -> None:
        """A sentence with its lines to sign on."""
        self.pdf.keep_together(self.line * 4)
        self.pdf.put(text, gap=0)
        self.signed(fields)


def names_whole(text: str, names: Sequence[ForbiddenName]) -> str:
    """The same text with each of these names kept on one line, and the words beside it: whoever reads the paper back reads its lines closed
    up as well, and takes a name that is broken, or grown together with a neighbour, for part of one that may not stand."""
    for name in names:
        if " " in name.text and name.text in text:
            found = re.compile(rf"(?:\S+ )?{re.escape(name.text)}\S*(?: \S+)?")
            text = found.sub(lambda m: m[0].replace(" ", NO_BREAK), text)
    return text
