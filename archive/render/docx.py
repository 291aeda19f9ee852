"""Two DOCX sheets from one cleared export: wall texts for outside eyes, and the team's own sheet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from docx.document import Document
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Mm, Pt

from archive.domain.cleared import ClearedClip, ClearedExport, ClearedInside, ClearedQuote
from archive.domain.languages import primary
from archive.domain.reasons import NOT_HEARD_TWICE, TRANSLATION_DRAFT
from archive.domain.translating import Shows
from archive.render.embedded import missing_letters
from archive.render.labels import day, label_notes, moment, use_label, word_count
from archive.render.page import (
    ACCENT,
    AUTHOR,
    QUIET,
    RULE,
    TEXT_WIDTH_MM,
    bordered,
    coloured,
    new_document,
    running_lines,
    saved,
)
from archive.render.sanitise import one_line, printable

SOME_DRAFT_MARK = "DRAFT – some texts not yet heard as they must be"
DRAFT_MARK = "DRAFT – not yet heard against the sound"
SECOND_MARK = "DRAFT – not yet heard by a second person"
TRANSLATION_MARK = "DRAFT – its translation is not yet checked"
INSIDE_MARK = "For the team only – do not send on"
_AS_THEY_STAND = (
    "Please set the words exactly as they stand here, with every […] and every bracket. "
    "If a text must be shorter, ask the exhibition team: a trimmed quote has to go back to its speaker."
)
_DRAFT_WORDS = (
    "Texts marked DRAFT are for layout only. They have not been heard and checked yet, so they must not be printed."
)
# Project wording; the substance is CHECKS §8 (Oral History Society, Oral History Association, GDPR art. 7(3)).
CAUTIONS = (
    "No record means no: whatever a speaker was not asked, or did not answer, is not allowed.",
    "Permission for the archive is not permission for the wall. Each use has its own answer.",
    "A withdrawal stops every future use. What has been printed or handed out cannot be called back, only asked back.",
    "When an embargo ends, somebody reviews the words first; they do not open by themselves.",
    "Trimming or changing a quote voids its speaker's approval. Export again instead of editing this sheet.",
    "A living third party, health, crime, migration status or a child needs a person's eye before print.",
    "A voice identifies its speaker, even without a name; so may a place, a date and a picture beside an unnamed quote.",
    "The machine's own checks are no proof. Somebody has to have heard these words against the sound.",
    "This is not legal advice: local law and your institution's counsel decide.",
)

# What the outside sheet says of itself: the last scan lets these words stand, should a hidden name be one of them.
OWN_WORDINGS = (SOME_DRAFT_MARK, DRAFT_MARK, SECOND_MARK, TRANSLATION_MARK, _AS_THEY_STAND, _DRAFT_WORDS, "Wall texts", AUTHOR)

_BRACKETED = re.compile(r"(\[[^\[\]]*\])")
_TIERS = ((45, "Testimony", 22.0), (110, "Testimony long", 18.0))
_LONGEST = ("Testimony longest", 15.0)
_LINE_CHARS = 52  # Smithsonian §III: ≤ 55 characters a line, 45–50 better
_CHAR_EM = 0.5  # mean width of a letter of this serif, in em [measured on the samples]
_LABEL_MM = 38


def _tier(words: int) -> tuple[str, float]:
    return next(((style, points) for most, style, points in _TIERS if words <= most), _LONGEST)


def _quote_runs(paragraph: Any, text: str, language: str = "") -> None:
    """The words, with masks and omission marks set quieter so that nobody reads them as speech."""
    for part in _BRACKETED.split(text):
        if not part:
            continue
        run = paragraph.add_run(part)
        if language:  # ISO 29500-1 §17.3.2.20: so that no spelling checker and no reading voice takes it for English
            run._r.get_or_add_rPr().append(parse_xml(f'<w:lang {nsdecls("w")} w:val="{language}"/>'))
        if _BRACKETED.fullmatch(part):
            coloured(run, QUIET)


def _testimony(document: Document, quote: ClearedQuote) -> None:
    """The quote as it is shown: its own words, their translation, or both."""
    if quote.shows != Shows.TRANSLATION:
        _said(document, quote, quote.words, "" if primary(quote.language) == "en" else quote.language, *_tier(word_count(quote.words)))
    if quote.translation:
        longest = max(quote.words, quote.translation, key=word_count) if quote.shows == Shows.BOTH else quote.translation
        _said(document, quote, quote.translation, quote.translation_language, *_tier(word_count(longest)))


def _said(document: Document, quote: ClearedQuote, words: str, language: str, style: str, points: float) -> None:
    """Words in their own paragraphs, between quotation marks; a bar in the accent colour beside a draft."""
    paragraphs = [one_line(part) for part in printable(words).splitlines() if part.strip()] or [""]
    width_mm = min(float(TEXT_WIDTH_MM), _LINE_CHARS * _CHAR_EM * points * 25.4 / 72)
    for number, text in enumerate(paragraphs):
        paragraph = document.add_paragraph(style=style)
        paragraph.paragraph_format.right_indent = Mm(TEXT_WIDTH_MM - width_mm)
        if style == _LONGEST[0]:
            paragraph.paragraph_format.keep_with_next = number == len(paragraphs) - 1
        else:
            paragraph.paragraph_format.keep_together = True
        closing = "" if number < len(paragraphs) - 1 else "”" + (f" {one_line(quote.dated)}" if quote.dated else "")
        _quote_runs(paragraph, ("“" if number == 0 else "") + text + closing, language)
        if quote.draft:
            bordered(paragraph, "left", ACCENT, 18, 12)


def _wall_text(document: Document, quote: ClearedQuote, *, last: bool) -> None:
    top = document.add_paragraph(style="Panel")
    top.paragraph_format.space_before = Pt(30)
    top.add_run(str(quote.item))
    if panel := one_line(quote.panel):
        top.add_run(f"   {panel}")
    if quote.draft:
        document.add_paragraph(_mark(quote), style="Draft line")
    _testimony(document, quote)
    credit = document.add_paragraph(one_line(quote.attribution), style="Credit")
    if quote.translated:
        document.add_paragraph(one_line(quote.translated), style="Source").paragraph_format.keep_with_next = True
    if source := one_line(quote.source_line):
        credit = document.add_paragraph(source, style="Source")
    credit.paragraph_format.keep_with_next = False
    if not last:
        bordered(credit, "bottom", RULE, 4, 18)


def _mark(quote: ClearedQuote) -> str:
    """What stands beside one quote; "" where it is final."""
    if not quote.draft:
        return ""
    return {NOT_HEARD_TWICE: SECOND_MARK, TRANSLATION_DRAFT: TRANSLATION_MARK}.get(quote.draft_reason, DRAFT_MARK)


def _page_mark(export: ClearedExport) -> str:
    """What stands at the head of each page."""
    if not export.draft:
        return ""
    marks = {_mark(quote) for quote in export.quotes}
    return marks.pop() if len(marks) == 1 else SOME_DRAFT_MARK


def wall_text_sheet(export: ClearedExport) -> bytes:
    """A4 sheet for designers and printers (DOCX): per quote the words large, attribution, source line, panel.

    Holds no codes, times, agreements or conditions. Drafts are marked in the header of each page and beside the quote.
    The same export gives the same bytes.
    """
    title = one_line(export.exhibition)
    document = new_document(f"{title}: wall texts", export.made_on)
    footer = f"Wall texts, {day(export.made_on)}"
    running_lines(document, title, _page_mark(export), footer)
    document.add_paragraph(title, style="Show title")
    count = len(export.quotes)
    line = f"Wall texts · {_counted(count, 'text') if count else 'nothing to set'}"
    document.add_paragraph(f"{line} · {day(export.made_on)}", style="Sheet line")
    if count:
        document.add_paragraph(_AS_THEY_STAND, style="Advice")
    if export.draft:
        coloured(document.add_paragraph(style="Advice").add_run(_DRAFT_WORDS), ACCENT, bold=True)
    for number, quote in enumerate(export.quotes):
        _wall_text(document, quote, last=number == count - 1)
    return saved(document)


def _rows(quote: ClearedQuote | None, inside: ClearedInside, clip: ClearedClip | None) -> list[tuple[str, list[str]]]:
    """Label and lines of each row of the team's table."""
    look_up = f"Look up {one_line(inside.excerpt_code)} in the archive"
    if inside.unnamed:
        place = [("Recording", [f"{look_up}: it is not written here, since somebody in it is not to be named."])]
        recheck = f"{look_up}: the days that count are not written here."
    else:
        place = [
            ("Recording", [one_line(inside.recording)]),
            ("From – to", [f"{moment(inside.start_ms)} – {moment(inside.end_ms)}"]),
        ]
        recheck = (
            f"{day(inside.recheck_on)}: the answer could change on this day. Ask the archive again."
            if inside.recheck_on
            else "No day is known on which the answer would change by itself."
        )
    rows = [
        *place,
        ("Speakers", [one_line(s) for s in inside.speakers] or ["nobody assigned"]),
        ("Agreements", [one_line(s) for s in inside.agreement_lines] or [f"{look_up}." if inside.unnamed else "none on record"]),
        ("Conditions", [one_line(s) for s in inside.conditions] or ["none"]),
        ("Names hidden", [_masks(inside.masks)]),
        ("Decide again", [recheck]),
        ("Heard", [one_line(inside.heard_line) or "Nobody has ticked it as heard against the sound."]),
    ]
    if quote is not None:
        rows.insert(0, ("Shown as", [one_line(quote.attribution), one_line(quote.source_line)]))
        notes = label_notes(quote.words) or [f"{word_count(quote.words)} words."]
        if strange := missing_letters(one_line(f"{quote.words} {quote.translation}")):
            notes.append(f"The sheet's serif does not have {' '.join(strange)}: look at these letters in the proof.")
        if quote.translated:
            rows.append(("In translation", [one_line(quote.translation), one_line(quote.translated)]))
        rows.append(("To read", notes))
    rows.append(("Clip", [_clip_line(clip)]))
    rows.append(("Checksum of the wording", [inside.wording_sha256]))
    return [(label, [line for line in lines if line]) for label, lines in rows]


def _masks(count: int) -> str:
    if count == 0:
        return "none in these words"
    return f"in {_counted(count, 'place')}"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's' if not noun.endswith('ch') else 'es'}"


def _clip_line(clip: ClearedClip | None) -> str:
    if clip is None:
        return "none: words only"
    seconds = sum(piece.end_ms - piece.start_ms for piece in clip.pieces) / 1000
    muted = f"{_counted(len(clip.mutes), 'stretch')} muted" if clip.mutes else "nothing muted"
    told = f"{seconds:.1f} s in {_counted(len(clip.pieces), 'piece')}, {muted}"
    if clip.read_by:
        return f"{seconds:.1f} s, read by {one_line(clip.read_by)}: not the speaker's voice"
    return f"{told}; the voice is disguised, which protects against nobody who knows it" if clip.disguised else told


def _table(document: Document, rows: Sequence[tuple[str, list[str]]]) -> None:
    table: Any = document.add_table(rows=0, cols=2)
    table.autofit = False
    for column, width_mm in zip(table.columns, (_LABEL_MM, TEXT_WIDTH_MM - _LABEL_MM), strict=True):
        column.width = Mm(width_mm)
    properties: Any = table._tbl.tblPr  # no public way to set the margins of all cells
    properties.find(qn("w:tblLook")).addprevious(  # the schema has the margins before the look
        parse_xml(
            f'<w:tblCellMar {nsdecls("w")}><w:left w:w="0" w:type="dxa"/>'
            '<w:right w:w="120" w:type="dxa"/></w:tblCellMar>'
        )
    )
    for number_of_row, (label, lines) in enumerate(rows, start=1):
        row = table.add_row()
        row_properties: Any = row._tr.get_or_add_trPr()  # no public way to keep a row on one page
        row_properties.append(parse_xml(f"<w:cantSplit {nsdecls('w')}/>"))
        for cell, width_mm in zip(row.cells, (_LABEL_MM, TEXT_WIDTH_MM - _LABEL_MM), strict=True):
            cell.width = Mm(width_mm)
            cell_properties: Any = cell._tc.get_or_add_tcPr()
            cell_properties.append(
                parse_xml(
                    f'<w:tcBorders {nsdecls("w")}>'
                    f'<w:top w:val="single" w:sz="4" w:space="0" w:color="{RULE}"/></w:tcBorders>'
                )
            )
        row.cells[0].paragraphs[0].style = "Cell label"
        row.cells[0].paragraphs[0].add_run(label)
        for number, line in enumerate(lines):
            paragraph = row.cells[1].paragraphs[0] if number == 0 else row.cells[1].add_paragraph()
            paragraph.style = "Cell"
            paragraph.add_run(line)
        for cell in row.cells:
            for paragraph in cell.paragraphs:
                # the first rows stay with the quote, the last two together; between them a page may end
                paragraph.paragraph_format.keep_with_next = number_of_row in (1, 2, len(rows) - 1)


def _inside_quote(
    document: Document, quote: ClearedQuote | None, inside: ClearedInside, clip: ClearedClip | None
) -> None:
    heading = document.add_paragraph(style="Quote heading")
    panel = f"   {one_line(quote.panel)}" if quote is not None and one_line(quote.panel) else ""
    heading.add_run(f"{inside.item}   {one_line(inside.excerpt_code)}{panel}")
    if quote is not None and quote.draft:
        document.add_paragraph(_mark(quote), style="Draft line")
    if quote is not None:
        _said(document, quote, quote.words, "", "Testimony inside", 12.0)
    _table(document, _rows(quote, inside, clip))


def inside_sheet(export: ClearedExport, listened: str = "") -> bytes:
    """The team's own sheet (DOCX, A4): each quote with recording, times, speakers, agreements, conditions, and cautions.

    Never for outside eyes. The same export gives the same bytes. `listened`: what our own computer's listening back gave.
    """
    title = one_line(export.exhibition)
    document = new_document(f"{title}: inside sheet", export.made_on)
    right = f"DRAFT · {INSIDE_MARK}" if export.draft else INSIDE_MARK
    running_lines(document, f"{title} · {one_line(export.code)}", right, f"Inside sheet, {day(export.made_on)}")
    document.add_paragraph(title, style="Show title")
    document.add_paragraph(
        f"Inside sheet · export {one_line(export.code)} · for {use_label(export.use)} · {day(export.made_on)}",
        style="Sheet line",
    )
    if listened:
        document.add_paragraph(listened, style="Advice")
    quotes = {quote.item: quote for quote in export.quotes}
    clips = {clip.item: clip for clip in export.clips}
    for inside in export.insides:
        _inside_quote(document, quotes.get(inside.item), inside, clips.get(inside.item))
    document.add_paragraph("Before anything is printed", style="Section")
    for caution in CAUTIONS:
        paragraph = document.add_paragraph(f"–\t{caution}", style="Cell")
        paragraph.paragraph_format.left_indent = Mm(5)
        paragraph.paragraph_format.first_line_indent = Mm(-5)
        paragraph.paragraph_format.tab_stops.add_tab_stop(Mm(5))
        paragraph.paragraph_format.space_after = Pt(3)
    return saved(document)
