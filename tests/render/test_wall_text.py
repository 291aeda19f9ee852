"""The two DOCX sheets, read back as zip and XML by the standard library (not by the library that wrote them)."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import fields
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import docx
import pytest

from archive.domain.cleared import GATE_TOKEN, ClearedExport, ClearedInside, ClearedQuote
from archive.domain.reasons import NOT_HEARD_TWICE
from archive.render import embedded
from archive.render.docx import (
    CAUTIONS,
    DRAFT_MARK,
    INSIDE_MARK,
    SECOND_MARK,
    SOME_DRAFT_MARK,
    inside_sheet,
    wall_text_sheet,
)
from archive.render.labels import label_notes, longest_sentence, moment, word_count

GOLDEN = Path(__file__).parents[1] / "golden"
W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"


def paragraphs(data: bytes, part: str = "word/document.xml") -> list[str]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        root = ElementTree.fromstring(archive.read(part))
    return ["".join(t.text or "" for t in p.iter(f"{W}t")) for p in root.iter(f"{W}p")]


def part_text(data: bytes, part: str) -> str:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return archive.read(part).decode("utf-8")


def altered(export: ClearedExport, **changes: Any) -> ClearedExport:
    values = {f.name: getattr(export, f.name) for f in fields(export) if f.name != "token"}
    return ClearedExport(token=GATE_TOKEN, **{**values, **changes})


def quote(words: str, **changes: Any) -> ClearedQuote:
    values: dict[str, Any] = {"item": 1, "attribution": "Dot", "source_line": "", "draft": False, "use": "exhibition"}
    return ClearedQuote(token=GATE_TOKEN, words=words, **{**values, **changes})


def test_wall_text_golden(make_export: Callable[..., ClearedExport]) -> None:
    made = "\n".join(paragraphs(wall_text_sheet(make_export(drafts=(2,))))) + "\n"
    assert made == (GOLDEN / "wall_text.txt").read_text(encoding="utf-8")


def test_outside_sheet_holds_nothing_of_the_inside(make_export: Callable[..., ClearedExport]) -> None:
    data = wall_text_sheet(make_export())
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        everything = "\n".join(
            archive.read(name).decode("utf-8") for name in archive.namelist() if name.endswith((".xml", ".rels"))
        )
    for inside in ("X-0007", "E-0001", "R-0003", "N-01", "greement", "lent photograph", "1:02:03", "E-01", "ab" * 32, "Lena"):
        assert inside not in everything


@pytest.mark.parametrize("sheet", [wall_text_sheet, inside_sheet])
def test_same_export_same_bytes(
    make_export: Callable[..., ClearedExport], sheet: Callable[[ClearedExport], bytes]
) -> None:
    assert sheet(make_export()) == sheet(make_export())
    with zipfile.ZipFile(io.BytesIO(sheet(make_export()))) as archive:
        assert {member.date_time for member in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert not [n for n in archive.namelist() if "thumbnail" in n or "theme" in n or "customXml" in n]


def test_properties_say_title_team_and_day_only(make_export: Callable[..., ClearedExport]) -> None:
    core = part_text(wall_text_sheet(make_export()), "docProps/core.xml")
    texts = [t for t in (e.text for e in ElementTree.fromstring(core).iter()) if t and t.strip()]
    assert sorted(texts) == sorted(
        ["Marigold: the last chain ferry: wall texts", "Exhibition team", "Exhibition team", "1", "en-GB"]
        + ["2025-06-12T12:00:00Z"] * 2
    )


def test_draft_stands_on_each_page_and_beside_its_quote(make_export: Callable[..., ClearedExport]) -> None:
    final, some = wall_text_sheet(make_export()), wall_text_sheet(make_export(drafts=(2,)))
    every = wall_text_sheet(make_export(drafts=(1, 2, 3, 4)))
    assert "DRAFT" not in part_text(final, "word/header1.xml") + part_text(final, "word/document.xml")
    assert SOME_DRAFT_MARK in "".join(paragraphs(some, "word/header1.xml"))
    assert DRAFT_MARK in "".join(paragraphs(every, "word/header1.xml"))
    body = paragraphs(some)
    assert body.count(DRAFT_MARK) == 1
    assert body[body.index(DRAFT_MARK) + 1].startswith("“The chain sang")
    assert paragraphs(every).count(DRAFT_MARK) == 4
    # one section with one header and no separate first page: the header is on every page (ECMA-376 Part 1, §17.10)
    document = docx.Document(io.BytesIO(some))
    assert len(document.sections) == 1 and not document.sections[0].different_first_page_header_footer


def test_a4_page_and_serif_words(make_export: Callable[..., ClearedExport]) -> None:
    document = docx.Document(io.BytesIO(wall_text_sheet(make_export())))
    section = document.sections[0]
    assert (round(section.page_width.mm), round(section.page_height.mm)) == (210, 297)  # ISO 216
    styles = {p.style.name: p.style for p in document.paragraphs}
    assert styles["Testimony"].font.name == embedded.SERIF and styles["Testimony"].font.size.pt >= 20
    assert styles["Testimony long"].font.size.pt == 18


# ECMA-376 Part 1, §17.3.1.26 (pPr), §17.4.60 (tblPr), §17.4.70 (tcPr), §17.8.3.10 (font): the order of the children that
# we use. Word calls a document broken where they stand otherwise.
ORDER = {
    "pPr": "pStyle keepNext keepLines widowControl pBdr tabs spacing ind jc rPr",
    "tblPr": "tblStyle tblW jc tblInd tblLayout tblCellMar tblLook",
    "tcPr": "tcW tcBorders",
    "font": "panose1 charset pitch embedRegular embedBold embedItalic",
    "style": "name basedOn qFormat pPr rPr tblPr",
    "rPr": "rFonts b i color sz szCs lang",
    "settings": "embedTrueTypeFonts compat",
}


@pytest.mark.parametrize("sheet", [wall_text_sheet, inside_sheet])
def test_elements_stand_in_the_order_of_the_schema(
    make_export: Callable[..., ClearedExport], sheet: Callable[[ClearedExport], bytes]
) -> None:
    with zipfile.ZipFile(io.BytesIO(sheet(make_export(drafts=(2,))))) as archive:
        roots = [ElementTree.fromstring(archive.read(n)) for n in archive.namelist() if re.match(r"word/\w+\.xml", n)]
    looked_at = 0
    for element in (e for root in roots for e in root.iter()):
        order = ORDER.get(element.tag.removeprefix(W), "").split()
        if order:
            children = [child.tag.removeprefix(W) for child in element]
            assert [c for c in children if c not in order] == []
            assert children == sorted(children, key=order.index)
            looked_at += 1
    assert looked_at > 50


def test_embedded_fonts_come_back_as_they_were(make_export: Callable[..., ClearedExport]) -> None:
    """ECMA-376 Part 4, §2.8.1: XOR of the first 32 bytes with the key, last byte first, gives a TrueType file."""
    data = wall_text_sheet(make_export())
    table = part_text(data, "word/fontTable.xml")
    keys = re.findall(r'w:fontKey="\{([0-9A-F-]{36})\}"', table)
    assert len(keys) == 4
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for number, key in enumerate(keys, start=1):
            veil = bytes.fromhex(key.replace("-", ""))[::-1] * 2
            font = archive.read(f"word/fonts/font{number}.odttf")
            assert bytes(a ^ b for a, b in zip(font[:4], veil, strict=False)) == b"\x00\x01\x00\x00"  # TrueType 1.0
    assert embedded.missing_letters("Dziękuję, říkala žluťoučký kůň “so” — […] ŵ ő") == []
    assert embedded.missing_letters("ǃ and я") == ["ǃ", "я"]


def test_masks_and_omissions_are_kept_and_set_quieter(make_export: Callable[..., ClearedExport]) -> None:
    document = docx.Document(io.BytesIO(wall_text_sheet(make_export())))
    paragraph = next(p for p in document.paragraphs if "The chain sang" in p.text)
    assert paragraph.text == f"“{make_export().quotes[1].words}”"
    quieter = [run.text for run in paragraph.runs if run.font.color.rgb is not None]
    assert quieter == ["[…]", "[name withheld]"]


@pytest.mark.parametrize("hostile", ["a\x0bb", "a\x00b", "a\ud800b", "a\ufffeb", "a\u202eb", "a\u200bb"])
def test_control_characters_and_surrogates_do_no_harm(make_export: Callable[..., ClearedExport], hostile: str) -> None:
    export = altered(make_export(), quotes=(quote(hostile, attribution=hostile, panel=hostile),), exhibition=hostile)
    assert "“ab”" in paragraphs(wall_text_sheet(export))
    assert paragraphs(inside_sheet(export))


def test_markup_in_words_stays_words(make_export: Callable[..., ClearedExport]) -> None:
    words = "<w:t>one</w:t> & {two} **three** </w:p>"
    assert f"“{words}”" in paragraphs(wall_text_sheet(altered(make_export(), quotes=(quote(words),))))


def test_empty_export_and_many_pages(make_export: Callable[..., ClearedExport]) -> None:
    empty = paragraphs(wall_text_sheet(altered(make_export(), quotes=(), insides=(), clips=())))
    assert "Wall texts · nothing to set · 2025-06-12" in empty
    many = paragraphs(wall_text_sheet(make_export(times=25)))
    assert sum(line.startswith("“You didn't cross") for line in many) == 25


def test_inside_sheet_says_everything_and_the_cautions(make_export: Callable[..., ClearedExport]) -> None:
    data = inside_sheet(make_export(drafts=(2,)))
    text = "\n".join(paragraphs(data))
    for wanted in (
        "E-0001",
        "R-0003",
        "1:02:03.004 – 1:02:21.020",  # CHECKS §4: 3723.004 s
        "N-01: agreement of 3 May 2025, version 2, signed",
        "Show the lent photograph with its credit line.",
        "2030-05-04: the answer could change on this day.",
        "Heard by E-01 on 7 June 2025",
        "4.5 s in 1 piece, 1 stretch muted",
        "in 1 place",
        "ab" * 32,
        *CAUTIONS,
    ):
        assert wanted in text
    assert "not legal advice: local law and your institution's counsel decide" in text
    header = "".join(paragraphs(data, "word/header1.xml"))
    assert INSIDE_MARK in header and "DRAFT" in header


def test_label_notes_name_their_source() -> None:
    """Smithsonian Guidelines for Accessible Exhibition Design §III: label ≤ 75–100 words, sentence ≤ 25 words."""
    assert label_notes("We stood there. " * 5) == []
    assert label_notes(" ".join(["word"] * 25) + ".") == []
    (sentence, advice) = label_notes(" ".join(["word"] * 26) + ".")
    assert "26 words" in sentence and "Smithsonian" in sentence and "voids" in advice
    assert "101 words" in label_notes("One two three four. " * 25 + "Five.")[0]
    assert not any("100 words" in note for note in label_notes("One two three four. " * 25))
    assert word_count("and when [name withheld] stopped […] it – was quiet") == 7
    assert longest_sentence("“Stop!” He said it twice. “Is it? Yes.”") == 4


def test_moment() -> None:
    assert moment(0) == "0:00:00.000" and moment(3_723_004) == "1:02:03.004"


def test_day_is_said_without_the_machines_language(make_export: Callable[..., ClearedExport]) -> None:
    sheet = paragraphs(wall_text_sheet(altered(make_export(), made_on=date(2026, 3, 1))))
    assert any(line.endswith("2026-03-01") for line in sheet)


def test_a_draft_says_whose_listening_is_missing(make_export: Callable[..., ClearedExport]) -> None:
    """Where one person listened and a second has not, nobody is told that nobody did."""
    export = make_export(drafts=(1, 2, 3, 4))
    second = tuple(quote(q.words, item=q.item, draft=True, draft_reason=NOT_HEARD_TWICE) for q in export.quotes)
    for quotes, head in ((second, SECOND_MARK), ((*second[:2], *export.quotes[2:]), SOME_DRAFT_MARK)):
        for sheet in (wall_text_sheet, inside_sheet):
            data = sheet(altered(export, quotes=quotes))
            assert "DRAFT" in "".join(paragraphs(data, "word/header1.xml"))
            assert paragraphs(data).count(SECOND_MARK) == sum(bool(q.draft_reason) for q in quotes)
        assert head in "".join(paragraphs(wall_text_sheet(altered(export, quotes=quotes)), "word/header1.xml"))


def test_the_teams_sheet_says_nothing_that_leads_to_the_unnamed(make_export: Callable[..., ClearedExport]) -> None:
    export = make_export()
    unnamed = tuple(
        ClearedInside(
            token=GATE_TOKEN, **{f.name: getattr(i, f.name) for f in fields(i) if f.name != "token"}
            | {"unnamed": True, "speakers": (f"unnamed speaker, item {i.item}",), "agreement_lines": (), "recheck_on": date(2029, 6, 14)}
        )
        for i in export.insides
    )  # fmt: skip
    text = "\n".join(paragraphs(inside_sheet(altered(export, insides=unnamed))))
    assert "Look up E-0002 in the archive" in text and "unnamed speaker, item 2" in text
    for lead in ("R-0003", "1:02:03", "N-01", "2029", "none on record"):
        assert lead not in text, lead
