"""Forms to be signed, as PDF: from the archive's own list of uses, in its own words of a language (CHECKS §8 says what they must hold).

A box that is left empty is a no, and says so. What a form asks is set in the order in which somebody decides it; nothing is ticked beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence

from archive.domain.printed import WAYS_OF, Form, FormKind, Size
from archive.domain.values import Use, Way
from archive.render.embedded import SANS
from archive.render.paper import INK, MARGIN_MM, QUIET, RULE, Paper, check_letters
from archive.render.wordings import Wording

SYMBOL_MM = 26.0


def form_pdf(form: Form, wording: Wording, size: Size, large: bool) -> bytes:
    """The same form gives the same bytes. Raises BadInput where the words lack a sentence or our fonts a letter."""
    check_letters([form.archive, form.exhibition, form.name, form.interview, *(use.label for use in form.uses)])
    page = _Page(form, wording, size, large)
    page.head()
    page.who()
    for text in wording.some(form.kind, "intro"):
        page.pdf.put(text)
    if form.kind in (FormKind.RECORDING, FormKind.STANDING):
        page.uses()
        page.wishes(form.kind == FormKind.RECORDING)
    else:
        page.listed(wording(form.kind, "points_title"), wording.some(form.kind, "points"))
    if form.kind == FormKind.PARTICIPATION:
        page.choices(wording(form.kind, "recorded"), [wording(form.kind, key) for key in ("sound", "film", "nothing")])
        page.uses()
    page.signatures()
    return bytes(page.pdf.output())


class _Page:
    """One form on its way onto paper."""

    def __init__(self, form: Form, wording: Wording, size: Size, large: bool) -> None:
        self.form, self.words = form, wording
        title = wording(form.kind, "title")
        self.pdf = Paper(size, large, title, wording.language, form.on, form.code)
        self.line = self.pdf.high(self.pdf.points)
        self.box = self.pdf.points * 0.32

    # -- small pieces ------------------------------------------------------------------------------------------
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

    # -- the parts of a form -------------------------------------------------------------------------------------
    def head(self) -> None:
        """Title, who asks, and the code with its symbol."""
        pdf, form = self.pdf, self.form
        pdf.symbol(form.code, MARGIN_MM + pdf.wide - SYMBOL_MM, MARGIN_MM, SYMBOL_MM)
        pdf.set_right_margin(MARGIN_MM + SYMBOL_MM + 6)
        pdf.put(self.words(form.kind, "title"), bold=True, scale=1.45, gap=0.1)
        pdf.put(form.archive if form.exhibition in form.archive else f"{form.archive} · {form.exhibition}", gap=0.1)
        pdf.put(f"{form.code}   {self.words('form', 'code')}", quiet=True, scale=0.85, gap=0.2)
        pdf.set_right_margin(MARGIN_MM)
        pdf.set_y(max(pdf.get_y(), MARGIN_MM + SYMBOL_MM + 4))

    def who(self) -> None:
        """Whom it is about, as far as it is on record; the rest is written in."""
        words, form = self.words, self.form
        self.filled(words("form", "who"), form.name)
        if form.kind.asks and not form.grown_up:
            self.rule(words("form", "born"))
            self.pdf.put(words("form", "born_hint"), quiet=True, scale=0.85)
        if form.kind == FormKind.RECORDING:
            self.filled(words("form", "interview"), form.interview)
            self.choices(words("form", "covers"), [words("form", "covers_all"), words("form", "covers_part")])
        self.filled(words("form", "reach"), words("form", "reach_us"))
        self.pdf.ln(self.line * 0.3)

    def filled(self, label: str, value: str) -> None:
        """What is on record, else a line to write it on."""
        if value:
            self.pdf.put(f"{label}: {value}", gap=0.25)
        else:
            self.rule(label)

    def uses(self) -> None:
        """Each use in each way, with whether it is for this exhibition, and until when."""
        words = self.words
        self.heading(words("uses_head", "title"))
        for text in words.some("uses_head", "intro"):
            self.pdf.put(text)
        for use in self.form.uses:
            self.one_use(use)

    def one_use(self, use: Use) -> None:
        """One use: its name, what it means, a row of boxes for each way."""
        words, pdf = self.words, self.pdf
        title, sentence = words.use(use.code, use.label)
        ways = WAYS_OF.get(use.code, tuple(Way))
        pdf.set_font(SANS, "", pdf.points)
        answers = [words("form", answer) for answer in ("yes", "no", "ask")]
        labels = [words("form", way.value) for way in ways]
        across = sum(map(self._wide, answers))
        space = (pdf.wide - sum(pdf.get_string_width(words("form", way.value)) + 2.5 for way in Way) - 3 * across) / 2
        beside = space >= 2
        high = 2 + (1 if beside else len(ways)) + (0 if use.inward else 1) + (1 if pdf.points < 14 else 2)
        pdf.keep_together(self.line * high)
        pdf.put(title, bold=True, gap=0)
        if sentence:
            pdf.put(sentence, gap=0.05)
        pdf.set_font(SANS, "", pdf.points)
        column = max(map(pdf.get_string_width, labels)) + 2.5
        for n, label in enumerate(labels):
            if n and beside:
                pdf.line(pdf.get_x() + space / 2 - 1, pdf.get_y() + 1, pdf.get_x() + space / 2 - 1, pdf.get_y() + self.line - 1)
                pdf.set_x(pdf.get_x() + space)
            pdf.cell(pdf.get_string_width(label) + 2.5 if beside else column, self.line, label)
            for answer in answers:
                self._tick(answer)
            if not beside:
                pdf.ln(self.line)
        if beside:
            pdf.ln(self.line)
        if not use.inward:
            self.scope()
        pdf.ln(self.line * 0.6)

    def scope(self) -> None:
        """For this exhibition or any, and until when: on one line where there is room to write."""
        words, pdf = self.words, self.pdf
        options = [words("form", "this_exhibition").format(exhibition=self.form.exhibition), words("form", "any_exhibition")]
        until = pdf.get_string_width(words("form", "until")) + 3 + 35
        beside = pdf.get_string_width(words("form", "scope")) + 3 + sum(map(self._wide, options)) + until <= pdf.wide
        self.choices(words("form", "scope"), options, gap=-1 if beside else 0)
        if not beside:
            self.rule(words("form", "until"))
            return
        pdf.cell(until - 35, self.line, words("form", "until"))
        pdf.set_draw_color(*RULE)
        pdf.line(pdf.get_x(), pdf.get_y() + self.line * 0.9, MARGIN_MM + pdf.wide, pdf.get_y() + self.line * 0.9)
        pdf.ln(self.line)

    def wishes(self, narrator: bool) -> None:
        """How to name them and hear them; of a narrator also who sees it first, from when, and whose the copyright is."""
        words = self.words
        self.heading(words("naming", "title"))
        named = [words("naming", key) for key in ("full", "first", "initials", "other", "unnamed")]
        self.choices(f"{words('naming', 'walls')}:", named)
        self.choices(f"{words('naming', 'credits')}:", named)
        self.choices(f"{words('naming', 'voice_title')}:", [words("naming", "as_recorded"), words("naming", "disguised")])
        self.pdf.put(words("naming", "caution"))
        if narrator:
            self.heading(words("review", "title"))
            self.choices(f"{words('review', 'ask')}:", [words("form", "yes"), words("form", "no")])
            self.pdf.put(words("review", "hint"))
            self.rule(words("review", "other"))
            self.rule(words("review", "embargo"))
            self.pdf.put(words("review", "embargo_hint"))
        self.heading(words("copyright", "title"))
        for key in ("kept", "licensed", "assigned"):
            self.choices("", [words("copyright", key)], gap=0.2)
        self.pdf.put(words("copyright", "hint"))
        if narrator:
            self.listed(words("think", "title"), words.some("think", "points"))
            self.rule(words("think", "close"), 2)
        self.listed(words("change", "title"), words.some("change", "points"))

    def signatures(self) -> None:
        """Who signs: the person, who explained it, and, where it may be needed, guardian, deputy, witness."""
        words, form, pdf = self.words, self.form, self.pdf
        fields = [words("form", key) for key in ("name", "signature", "place", "day")]
        self.heading(words("sign", "title"), 6)
        pdf.put(words("form", "not_law"), bold=True)
        pdf.put(words("sign", "narrator"), gap=0)
        self.signed(fields)
        self.block(words("sign", "taken"), [fields[0], fields[1]])
        if form.kind.asks:
            if not form.grown_up:
                self.heading(words("sign", "minor_title"), 6)
                self.block(words("sign", "assent"), [fields[1], fields[3]])
                self.block(words("sign", "guardian"), fields)
            self.heading(words("sign", "for_title"), 5)
            self.block(words("sign", "for_whom"), fields)
            self.heading(words("sign", "witness_title"), 5)
            self.block(words("sign", "read_aloud"), [fields[0], fields[1]])
            self.block(words("sign", "witness"), [words("sign", "mark"), fields[0], fields[1], fields[3]])
        pdf.put(words("form", "copy"), quiet=True)

    def block(self, text: str, fields: Sequence[str]) -> None:
        """A sentence with its lines to sign on."""
        self.pdf.keep_together(self.line * 4)
        self.pdf.put(text, gap=0)
        self.signed(fields)
