"""A speaker's own copy as PDF: what they said, and a sheet on which to strike, close, correct and add."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from archive.domain.cleared import ClearedCopy
from archive.domain.phrases import clock
from archive.domain.printed import Size
from archive.render.boxes import Boxes, names_whole
from archive.render.paper import Paper, check_letters
from archive.render.wordings import Wording

CHANGES = 5  # places to write a change


@dataclass(frozen=True, slots=True)
class CopyHead:
    """What stands over it: the entry of the register, who hands it over, to whom, of which day."""

    code: str
    archive: str
    name: str
    on: date


def own_copy_pdf(copy: ClearedCopy, head: CopyHead, wording: Wording, size: Size, large: bool) -> bytes:
    """The same copy gives the same bytes. Raises BadInput where our fonts lack a letter."""
    check_letters([head.archive, head.name, copy.recording, *(line.text for line in copy.lines)])
    # its title is read in a list of files and by whoever sees the screen: it says no more than the name of the file
    page = Boxes(Paper(size, large, wording("letter", "title"), wording.language, head.on, head.code))
    pdf = page.pdf

    def words(key: str) -> str:
        return wording("own_copy", key)

    page.top(words("title"), head.archive, head.code, wording("form", "code"))
    day = f", {wording.day(copy.recorded_on)}" if copy.recorded_on else ""
    for text in (words("opening").format(name=head.name), words("of").format(recording=f"{copy.recording}{day}"), words("draft"), words("left_out")):
        pdf.put(names_whole(text, copy.forbidden))
    for line in copy.lines:
        pdf.put(names_whole(f"{clock(line.start_ms)}   {line.text}", copy.forbidden) if line.text else "[…]", gap=0.4)
    pdf.add_page()
    pdf.put(words("sheet"), bold=True, scale=1.15)
    for text in (words("how"), words("think")):
        pdf.put(text)
    for _ in range(CHANGES):
        pdf.keep_together(page.line * 7)
        page.choices("", [words(key) for key in ("strike", "close", "correct", "add")], gap=0)
        page.rule(words("where"))
        page.rule(words("what"), 2)
    page.signed([wording("form", key) for key in ("name", "signature", "day")])
    pdf.put(wording("form", "not_law"))
    return bytes(pdf.output())
