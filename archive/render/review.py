"""A sheet of quotes for their speaker, as PDF: each as it will stand, with boxes to answer and lines to say it otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from archive.domain.cleared import ClearedQuestion, ClearedReview, ForbiddenName
from archive.domain.phrases import from_to
from archive.domain.printed import Size
from archive.domain.translating import Shows
from archive.domain.values import Use
from archive.render.boxes import Boxes, names_whole
from archive.render.paper import Paper, check_letters
from archive.render.wordings import Wording

INDENT_MM = 6.0
CHANGE_LINES = 4


@dataclass(frozen=True, slots=True)
class Head:
    """What stands over the quotes: the sheet's code, who asks, whom, by when it is answered, and of which day it is."""

    code: str
    archive: str
    name: str
    answer_by: date
    on: date


def review_pdf(review: ClearedReview, head: Head, uses: dict[str, Use], wording: Wording, size: Size, large: bool) -> bytes:
    """The same sheet gives the same bytes. `uses`: the archive's own, by code. Raises BadInput where our fonts lack a letter."""
    said = [text for q in review.questions for text in (q.words, q.translation, q.attribution, q.panel, *(part for pair in q.beside for part in pair))]
    check_letters([head.archive, head.name, *said])
    page = _Page(head, wording, size, large, review.forbidden)
    page.begin()
    for number, question in enumerate(review.questions, 1):
        page.quote(number, question, uses[question.use])
    page.end()
    return bytes(page.pdf.output())


class _Page(Boxes):
    """One sheet on its way onto paper."""

    def __init__(self, head: Head, wording: Wording, size: Size, large: bool, names: Sequence[ForbiddenName]) -> None:
        self.head, self.wording, self.names = head, wording, names
        # its title is read in a list of files and by whoever sees the screen: it says no more than the name of the file
        super().__init__(Paper(size, large, wording("letter", "title"), wording.language, head.on, head.code))

    def words(self, key: str) -> str:
        """One of the sheet's own sentences."""
        return self.wording("review_sheet", key)

    def begin(self) -> None:
        """What it is, for whom, and what an answer means."""
        head, pdf = self.head, self.pdf
        self.top(self.words("title"), head.archive, head.code, self.wording("form", "code"))
        pdf.put(names_whole(self.words("opening").format(name=head.name), self.names))
        pdf.put(self.words("by").format(day=self.wording.day(head.answer_by)), bold=True)
        for key in ("exactly", "marks", "think"):
            pdf.put(self.words(key))

    def quote(self, number: int, question: ClearedQuestion, use: Use) -> None:
        """One quote as it will stand, and its questions."""
        pdf = self.pdf
        self.heading(self.words("quote").format(number=number), 8)
        if question.shows != Shows.TRANSLATION:
            pdf.put(names_whole(f"“{question.words}”", self.names), scale=1.1, left=INDENT_MM)
        if question.translation:
            pdf.put(names_whole(f"“{question.translation}”", self.names), scale=1.1, left=INDENT_MM)
        under = " ".join(filter(None, (_ended(question.attribution), question.dated, question.translated)))
        pdf.put(names_whole(f"{self.words('under')}: {under}", self.names), left=INDENT_MM, gap=0.6)
        if question.later:
            pdf.put(self.words("later"))
        pdf.put(f"{self.words('use')}: {self.wording.use(use.code, use.label)[0]}.", gap=0.15)
        pdf.put(f"{self.words('panel')}: {question.panel or self.words('no_panel')}.", gap=0.15)
        self._beside(question)
        self._sound(question)
        pdf.ln(self.line * 0.3)
        answers = [self.wording("form", "yes"), self.wording("form", "no"), self.words("change")]
        self._ask(self.words("ask_words").format(number=question.words_number), answers)
        if question.voice_number:
            asked = self.words("ask_disguised" if question.disguised else "ask_voice")
            self._ask(asked.format(number=question.voice_number), answers[:2])
        self.rule(self.words("otherwise"), CHANGE_LINES)

    def _ask(self, text: str, options: list[str]) -> None:
        self.pdf.keep_together(self.line * 4)
        self.pdf.put(text, bold=True, gap=0.1)
        self.choices("", options)

    def _beside(self, question: ClearedQuestion) -> None:
        pdf = self.pdf
        if not question.beside:
            pdf.put(self.words("alone"), gap=0.15)
            return
        pdf.put(f"{self.words('beside')}:", gap=0.1)
        for words, attribution in question.beside:
            said = f"“{words}” — {_ended(attribution)}" if words else self.words("unreleased")
            pdf.put(names_whole(said, self.names), left=INDENT_MM, gap=0.15)

    def _sound(self, question: ClearedQuestion) -> None:
        times = ", ".join(from_to(p.start_ms, p.end_ms) for p in question.pieces)
        said = self.words("sound").format(recording=question.recording, times=times)
        joins = len(question.pieces) - 1
        self.pdf.put(said + (f" {self.words('joined').format(number=joins + 1)}" if joins else ""), gap=0.15)

    def end(self) -> None:
        """What can still be changed, and who answered."""
        pdf = self.pdf
        self.heading(self.words("sign"), 8)
        for text in (self.words("after"), self.wording("form", "not_law")):
            pdf.put(text)
        self.signed([self.wording("form", key) for key in ("name", "signature", "place", "day")])
        for key in ("for_them", "read_aloud"):
            pdf.keep_together(self.line * 8)
            self.block(self.words(key), [self.wording("form", field) for field in ("name", "signature")])


def _ended(line: str) -> str:
    """A line under a quote with its full stop, so that whoever reads the paper back tells where the name ends."""
    return line if line.endswith(".") else f"{line}."
