"""The paper that both DOCX sheets are written on: styles, page, header, footer, and a zip that never differs by date."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime
from typing import Any

import docx
from docx.document import Document
from docx.enum.section import WD_ORIENT
from docx.enum.text import WD_TAB_ALIGNMENT
from docx.opc.constants import RELATIONSHIP_TYPE as REL
from docx.opc.packuri import PackURI
from docx.opc.part import Part
from docx.oxml import OxmlElement, parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Mm
from docx.text.paragraph import Paragraph

from archive.render.embedded import SANS, SERIF, faces

INK = "23211E"
QUIET = "6B655C"
ACCENT = "8C3A2B"
RULE = "CFC8BC"
TEXT_WIDTH_MM = 160
AUTHOR = "Exhibition team"

_KEPT_PARTS = {REL.STYLES, REL.SETTINGS, REL.FONT_TABLE}
# PANOSE (serif text face, sans text face), for a program that ignores embedded fonts. The older "family" would do as
# well, but its words are people's names too, and the last scan reads attributes.
_LIKENESS = {SERIF: "02040503050405020303", SANS: "020B0603020202020204"}
_VEILED_FONT = "application/vnd.openxmlformats-officedocument.obfuscatedFont"
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can hold (APPNOTE 4.4.6): says nothing of when it was made

# style: (font, half-points, bold, italic, colour, space before, space after, line spacing in 240ths, keep with next)
_STYLES: dict[str, tuple[str, int, bool, bool, str, int, int, int, bool]] = {
    "Show title": (SERIF, 52, False, False, INK, 0, 80, 252, True),
    "Sheet line": (SANS, 19, False, False, QUIET, 0, 200, 276, True),
    "Panel": (SANS, 18, True, False, QUIET, 0, 120, 264, True),
    "Draft line": (SANS, 18, True, False, ACCENT, 0, 120, 264, True),
    "Testimony": (SERIF, 44, False, False, INK, 0, 160, 248, True),
    "Testimony long": (SERIF, 36, False, False, INK, 0, 160, 248, True),
    "Testimony longest": (SERIF, 30, False, False, INK, 0, 140, 248, False),
    "Credit": (SERIF, 26, False, True, INK, 40, 20, 276, True),
    "Source": (SANS, 18, False, False, QUIET, 0, 0, 276, False),
    "Advice": (SANS, 17, False, False, QUIET, 0, 60, 276, False),
    "Running": (SANS, 16, False, False, QUIET, 0, 0, 264, False),
    "Quote heading": (SANS, 22, True, False, INK, 320, 80, 264, True),
    "Section": (SANS, 22, True, False, INK, 360, 100, 264, True),
    "Testimony inside": (SERIF, 24, False, False, INK, 0, 120, 240, True),
    "Cell": (SANS, 18, False, False, INK, 30, 30, 264, False),
    "Cell label": (SANS, 18, True, False, QUIET, 30, 30, 264, False),
}


def _style_xml(name: str) -> str:
    font, half_points, bold, italic, colour, before, after, line, keep = _STYLES[name]
    marks = ("<w:b/>" if bold else "") + ("<w:i/>" if italic else "")
    return (
        f'<w:style {nsdecls("w")} w:type="paragraph" w:customStyle="1" w:styleId="{name.replace(" ", "")}">'
        f'<w:name w:val="{name}"/><w:basedOn w:val="Normal"/><w:qFormat/>'
        f"<w:pPr>{'<w:keepNext/>' if keep else ''}<w:widowControl/>"
        f'<w:spacing w:before="{before}" w:after="{after}" w:line="{line}" w:lineRule="auto"/></w:pPr>'
        f'<w:rPr><w:rFonts w:ascii="{font}" w:hAnsi="{font}" w:eastAsia="{font}" w:cs="{font}"/>{marks}'
        f'<w:color w:val="{colour}"/><w:sz w:val="{half_points}"/><w:szCs w:val="{half_points}"/></w:rPr></w:style>'
    )


def _plain_styles(document: Document) -> None:
    """Our own styles instead of the library's: no theme, no hundred unused names."""
    element: Any = document.styles.element
    for child in list(element):
        element.remove(child)
    element.append(
        parse_xml(
            f"<w:docDefaults {nsdecls('w')}><w:rPrDefault><w:rPr>"
            f'<w:rFonts w:ascii="{SANS}" w:hAnsi="{SANS}" w:eastAsia="{SANS}" w:cs="{SANS}"/>'
            '<w:sz w:val="19"/><w:szCs w:val="19"/><w:lang w:val="en-GB" w:eastAsia="en-GB" w:bidi="ar-SA"/>'
            "</w:rPr></w:rPrDefault><w:pPrDefault/></w:docDefaults>"
        )
    )
    element.append(
        parse_xml(
            f'<w:style {nsdecls("w")} w:type="paragraph" w:default="1" w:styleId="Normal"><w:name w:val="Normal"/>'
            "<w:qFormat/></w:style>"
        )
    )
    element.append(
        parse_xml(
            f'<w:style {nsdecls("w")} w:type="table" w:default="1" w:styleId="TableNormal">'
            '<w:name w:val="Normal Table"/><w:tblPr><w:tblInd w:w="0" w:type="dxa"/></w:tblPr></w:style>'
        )
    )
    for name in _STYLES:
        element.append(parse_xml(_style_xml(name)))


def _plain_parts(document: Document) -> None:
    """Keeps only the parts that we fill: the library's template brings a thumbnail, a theme and custom data along."""
    part: Any = document.part
    for key, rel in list(part.rels.items()):
        if rel.reltype not in _KEPT_PARTS:
            del part.rels[key]
        elif rel.reltype == REL.FONT_TABLE:
            _fill_font_table(rel.target_part)
    package: Any = part.package
    for key, rel in list(package.rels.items()):
        if rel.reltype not in (REL.OFFICE_DOCUMENT, REL.CORE_PROPERTIES):
            del package.rels[key]
    settings: Any = document.settings.element
    for child in list(settings):
        settings.remove(child)
    settings.append(OxmlElement("w:embedTrueTypeFonts"))
    settings.append(
        parse_xml(
            f'<w:compat {nsdecls("w")}><w:compatSetting w:name="compatibilityMode" '
            'w:uri="http://schemas.microsoft.com/office/word" w:val="15"/></w:compat>'
        )
    )


def _fill_font_table(part: Any) -> None:
    """Names both families, says what they are like for programs that ignore embedded fonts, and embeds the fonts."""
    for key in list(part.rels):
        del part.rels[key]
    fonts: list[str] = []
    for name, likeness in _LIKENESS.items():
        embedded = ""
        for number, face in enumerate(faces(), start=1):
            if face.family == name:
                made = Part(PackURI(f"/word/fonts/font{number}.odttf"), _VEILED_FONT, face.data, part.package)
                embedded += f'<w:embed{face.style} r:id="{part.relate_to(made, REL.FONT)}" w:fontKey="{face.key}"/>'
        fonts.append(
            f'<w:font w:name="{name}"><w:panose1 w:val="{likeness}"/><w:charset w:val="00"/>'
            f'<w:pitch w:val="variable"/>{embedded}</w:font>'
        )
    xml = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    xml += f"<w:fonts {nsdecls('w', 'r')}>{''.join(fonts)}</w:fonts>"
    part._blob = xml.encode("utf-8")  # the library has no public way to fill this part


def new_document(title: str, made_on: date) -> Document:
    """An empty A4 document whose properties say the title, the team and the day of the export, nothing else."""
    document = docx.Document()
    _plain_styles(document)
    _plain_parts(document)
    section = document.sections[0]
    section.orientation = WD_ORIENT.PORTRAIT
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm((210 - TEXT_WIDTH_MM) / 2)
    section.top_margin, section.bottom_margin = Mm(32), Mm(26)
    section.header_distance = section.footer_distance = Mm(13)
    properties = document.core_properties
    properties.title = title
    properties.author = properties.last_modified_by = AUTHOR
    properties.subject = properties.keywords = properties.comments = properties.category = ""
    properties.language = "en-GB"
    properties.revision = 1
    noon = datetime(made_on.year, made_on.month, made_on.day, 12)  # the day is on record, the hour is nobody's business
    properties.created = properties.modified = noon
    return document


def _field(paragraph: Paragraph, instruction: str) -> None:
    """A field that Word fills in when it lays out the page (PAGE, NUMPAGES)."""
    field = OxmlElement("w:fldSimple")
    field.set(qn("w:instr"), instruction)
    run = OxmlElement("w:r")
    text = OxmlElement("w:t")
    text.text = "1"
    run.append(text)
    field.append(run)
    element: Any = paragraph._p  # the library's own documented way down to the element
    element.append(field)


def bordered(paragraph: Paragraph, side: str, colour: str, eighths: int, space: int) -> None:
    """A line along one side of a paragraph: `side` top, left or bottom; width in eighths of a point; space in points."""
    properties: Any = paragraph._p.get_or_add_pPr()
    border = parse_xml(
        f'<w:pBdr {nsdecls("w")}>'
        f'<w:{side} w:val="single" w:sz="{eighths}" w:space="{space}" w:color="{colour}"/></w:pBdr>'
    )
    properties.insert_element_before(
        border, "w:shd", "w:tabs", "w:suppressAutoHyphens", "w:spacing", "w:ind", "w:jc", "w:rPr"
    )


def running_lines(document: Document, left: str, right: str, footer: str) -> None:
    """Header (left words, right words in the accent colour, a rule below) and footer (words, page of pages)."""
    section = document.sections[0]
    head = section.header.paragraphs[0]
    head.style = "Running"
    head.paragraph_format.tab_stops.add_tab_stop(Mm(TEXT_WIDTH_MM), WD_TAB_ALIGNMENT.RIGHT)
    head.add_run(left)
    if right:
        head.add_run("\t")
        coloured(head.add_run(right), ACCENT, bold=True)
    bordered(head, "bottom", RULE, 4, 6)
    foot = section.footer.paragraphs[0]
    foot.style = "Running"
    foot.paragraph_format.tab_stops.add_tab_stop(Mm(TEXT_WIDTH_MM), WD_TAB_ALIGNMENT.RIGHT)
    foot.add_run(f"{footer}\t")
    _field(foot, "PAGE")
    foot.add_run(" of ")
    _field(foot, "NUMPAGES")


def coloured(run: Any, colour: str, *, bold: bool | None = None, italic: bool | None = None) -> None:
    """Sets a run's colour (RRGGBB), and weight and slant where given."""
    run.font.color.rgb = docx.shared.RGBColor.from_string(colour)
    run.bold = bold
    run.italic = italic


def saved(document: Document) -> bytes:
    """The document as bytes: members in order of name, one fixed date, so that the same input gives the same file."""
    made = io.BytesIO()
    document.save(made)
    fixed = io.BytesIO()
    with zipfile.ZipFile(made) as source, zipfile.ZipFile(fixed, "w", zipfile.ZIP_DEFLATED) as target:
        names = sorted(source.namelist(), key=lambda name: (name != "[Content_Types].xml", name))
        for name in names:
            member = zipfile.ZipInfo(name, date_time=_ZIP_DATE)
            member.compress_type = zipfile.ZIP_DEFLATED
            member.create_system = 0  # the same bytes on every system
            target.writestr(member, source.read(name))
    return fixed.getvalue()
