"""Forms to be signed, as PDF: from the archive's own list of uses, in its own words of a language (CHECKS §8 says what they must hold).

A box that is left empty is a no, and says so. What a form asks is set in the order in which somebody decides it; nothing is ticked beforehand.
"""

from __future__ import annotations

from archive.domain.printed import WAYS_OF, Form, FormKind, Size
from archive.domain.values import Use, Way
from archive.render.boxes import Boxes
from archive.render.embedded import SANS
from archive.render.paper import MARGIN_MM, RULE, Paper, check_letters
from archive.render.wordings import Wording


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


class _Page(Boxes):
    """One form on its way onto paper."""

    def __init__(self, form: Form, wording: Wording, size: Size, large: bool) -> None:
        self.form, self.words = form, wording
        title = wording(form.kind, "title")
        super().__init__(Paper(size, large, title, wording.language, form.on, form.code))

    # -- the parts of a form -------------------------------------------------------------------------------------
    def head(self) -> None:
        """Title, who asks, and the code with its symbol."""
        form = self.form
        asks = form.archive if form.exhibition in form.archive else f"{form.archive} · {form.exhibition}"
        self.top(self.words(form.kind, "title"), asks, form.code, self.words("form", "code"))

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
