"""Places in pictures, sheets and packages in which text can stand (see planting.py)."""

from __future__ import annotations

import base64
import functools
import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable
from datetime import date
from html import escape
from pathlib import Path
from typing import Any

import docx

from archive.domain.cleared import GATE_TOKEN, ClearedExport, ClearedQuote
from archive.render.docx import wall_text_sheet
from tests.gate.planting import (
    LATIN,
    LINES,
    PLACES,
    QUIET,
    UNICODE,
    WORD,
    Builder,
    Place,
    references,
    spread,
    template,
    written,
)

# ---------------------------------------------------------------- PNG (W3C PNG, third edition, §5 and §11)


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(*before: bytes, after: bytes = b"", behind: bytes = b"") -> bytes:
    """A grey dot with further chunks before its dots, after them, and bytes behind its end."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    dots = chunk(b"IDAT", zlib.compress(b"\0\x80"))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(before) + dots + after + chunk(b"IEND", b"") + behind


def _international(keyword: str, language: str, translated: str, text: str, packed: bool) -> bytes:
    body = zlib.compress(text.encode()) if packed else text.encode()
    return chunk(b"iTXt", keyword.encode() + b"\0" + bytes([packed, 0]) + language.encode() + b"\0" + translated.encode() + b"\0" + body)


def _png(make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    return Place(spellings, written(".png", make))


KEYWORDS = ("Title", "Author", "Description", "Copyright", "Creation Time", "Software", "Disclaimer", "Warning", "Source", "Comment")
PLACES[".png"] = {
    **{
        f"tEXt {key}": _png(lambda t, key=key: png(chunk(b"tEXt", key.encode() + b"\0" + t.encode("latin-1"))), LATIN)
        for key in KEYWORDS
    },
    "tEXt in UTF-8": _png(lambda t: png(chunk(b"tEXt", b"Title\0" + t.encode()))),
    "tEXt after the dots": _png(lambda t: png(after=chunk(b"tEXt", b"Title\0" + t.encode()))),
    "keyword": _png(lambda t: png(chunk(b"tEXt", t.encode() + b"\0x"))),
    "zTXt": _png(lambda t: png(chunk(b"zTXt", b"Comment\0\0" + zlib.compress(t.encode())))),
    "zTXt after the dots": _png(lambda t: png(after=chunk(b"zTXt", b"Comment\0\0" + zlib.compress(t.encode())))),
    "zTXt keyword": _png(lambda t: png(chunk(b"zTXt", t.encode() + b"\0\0" + zlib.compress(b"x")))),
    "behind a packed text": _png(lambda t: png(chunk(b"zTXt", b"Comment\0\0" + zlib.compress(b"x") + t.encode()))),
    "iTXt": _png(lambda t: png(_international("Title", "en", "Title", t, False)), LINES),
    "iTXt packed": _png(lambda t: png(_international("Title", "en", "Title", t, True)), LINES),
    "iTXt translated keyword": _png(lambda t: png(_international("Title", "en", t, "x", False))),
    "iTXt language": _png(lambda t: png(_international("Title", t, "x", "x", True))),
    "iTXt keyword": _png(lambda t: png(_international(t, "en", "x", "x", False))),
    "XMP": _png(lambda t: png(_international("XML:com.adobe.xmp", "", "", f"<x:xmpmeta xmlns:x='adobe:ns:meta/'><a>{t}</a></x:xmpmeta>", False))),
    "EXIF": _png(lambda t: png(chunk(b"eXIf", b"MM\0*\0\0\0\x08" + t.encode() + b"\0"))),
    "EXIF in UTF-16": _png(lambda t: png(chunk(b"eXIf", b"II*\0" + t.encode("utf-16-le")))),
    "profile's name": _png(lambda t: png(chunk(b"iCCP", t.encode() + b"\0\0" + zlib.compress(b"x" * 128)))),
    "profile": _png(lambda t: png(chunk(b"iCCP", b"x\0\0" + zlib.compress(bytes(128) + t.encode())))),
    "palette's name": _png(lambda t: png(chunk(b"sPLT", t.encode() + b"\0\x08"))),
    "behind the end": _png(lambda t: png(behind=t.encode())),
    "a second picture behind the end": _png(lambda t: png(behind=png(chunk(b"tEXt", b"Title\0" + t.encode())))),
}  # fmt: skip

# ---------------------------------------------------------------- SVG

_SVG = {
    "words": "<text>@@</text>", "title": "<title>@@</title>", "description": "<desc>@@</desc>", "metadata": "<metadata>@@</metadata>", "span": "<text><tspan>@@</tspan></text>",
    "words on a path": "<text><textPath href='#a'>@@</textPath></text>", "identity": "<g id='@@'/>", "class": "<g class='@@'/>", "label": "<g aria-label='@@'/>", "link": "<a href='/@@'/>",
    "old link": "<a xmlns:xlink='http://www.w3.org/1999/xlink' xlink:href='@@'/>", "data": "<g data-by='@@'/>", "style": "<style>.x { content: '@@' }</style>", "style of a thing": "<g style='font-family: @@'/>",
    "script": "<script>/* @@ */</script>", "comment": "<!-- @@ -->", "instruction": "<?note @@?>", "CDATA": "<text><![CDATA[@@]]></text>", "foreign words": "<foreignObject><p xmlns='http://www.w3.org/1999/xhtml'>@@</p></foreignObject>",
    "symbol": "<symbol><text>@@</text></symbol>", "pattern": "<defs><pattern><text>@@</text></pattern></defs>", "hidden": "<text display='none'>@@</text>", "font": "<text font-family='@@'>x</text>",
    "linked data": "<metadata><r:d xmlns:r='urn:r' r:about='@@'/></metadata>", "switch": "<switch><text systemLanguage='de'>@@</text></switch>", "view": "<view id='@@'/>",
}  # fmt: skip


def _drawing(inside: str) -> str:
    return f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'><path d='M0 0L9 9'/>{inside}</svg>"


def _xml(text: str) -> str:
    return escape(text)


PLACES[".svg"] = {
    **{place: template(".svg", _drawing(text), UNICODE, _xml if place not in ("comment", "instruction", "CDATA", "script", "style") else str) for place, text in _SVG.items()},
    "lines": template(".svg", _drawing("<text>@@</text>"), LINES),
    "references": template(".svg", _drawing("<text>@@</text>"), UNICODE, references),
    "a letter a span": Place(("Coyle", "COYLE"), written(".svg", lambda t: _drawing("<text>" + "".join(f"<tspan>{c}</tspan>" for c in t) + "</text>"))),
    "odd spans": Place(("Coyle",), written(".svg", lambda t: _drawing(f"<text>{t[:1]}<tspan dy='1'>{t[1:3]}</tspan>{t[3:]}</text>"))),
    "a word a line": Place(LATIN[:3], written(".svg", lambda t: _drawing(spread(t, "<text>", "</text>")))),
    "a picture within": Place(UNICODE, written(".svg", lambda t: _drawing(f"<image href='data:image/png;base64,{base64.b64encode(png(chunk(b'tEXt', b'Title' + bytes(1) + t.encode()))).decode()}'/>"))),
    "a page within": Place(UNICODE, written(".svg", lambda t: _drawing(f"<image href='data:text/plain;base64,{base64.b64encode(t.encode()).decode()}'/>"))),
    "element": template(".svg", _drawing("<x:@@ xmlns:x='urn:x'/>"), ("AgnesCoyle", "Agnes_Coyle", "COYLE")),
}  # fmt: skip
PLACES[".html"] |= {
    "a picture within": Place(UNICODE, written(".html", lambda t: f"<img src='data:image/png;base64,{base64.b64encode(png(chunk(b'tEXt', b'Title' + bytes(1) + t.encode()))).decode()}'>")),
    "words packed into an address": Place(UNICODE, written(".html", lambda t: f"<iframe src=\"data:text/html;base64,{base64.b64encode(t.encode()).decode()}\"></iframe>")),
}  # fmt: skip

# ---------------------------------------------------------------- DOCX

W = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
NS = f'xmlns:w="{W}"'


@functools.cache
def sheet() -> bytes:
    """A wall text as this product writes it."""
    quote = ClearedQuote(
        token=GATE_TOKEN, item=1, words=QUIET, attribution="Maud Ellery", source_line="Recorded in Tarnwick, 2025", draft=True, use="exhibition",
    )  # fmt: skip
    export = ClearedExport(
        token=GATE_TOKEN, exhibition="Marigold: the last chain ferry", code="X-0001", use="exhibition", quotes=(quote,), insides=(), clips=(),
        made_on=date(2025, 6, 12),
    )  # fmt: skip
    return wall_text_sheet(export)


def repacked(folder: Path, parts: dict[str, bytes], changed: Callable[[str, bytes], bytes] = lambda _, data: data) -> Path:
    """The wall text with parts replaced, changed or added."""
    with zipfile.ZipFile(io.BytesIO(sheet())) as archive:
        held = {name: changed(name, archive.read(name)) for name in archive.namelist()}
    path = folder / "file.docx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in (held | parts).items():
            archive.writestr(name, data)
    return path


def _by_hand(xml: str, spellings: tuple[str, ...] = UNICODE, make: Callable[[str], str] = _xml) -> Place:
    """`xml` at the start of the document's body, the planted text in place of @@."""

    def build(folder: Path, text: str) -> Path:
        inside = xml.replace("@@", make(text)).encode()
        return repacked(folder, {}, lambda n, data: re.sub(rb"<w:body>", lambda _: b"<w:body>" + inside, data) if n == "word/document.xml" else data)

    return Place(spellings, build)


def _part(name: str, xml: str, spellings: tuple[str, ...] = UNICODE) -> Place:
    return Place(spellings, lambda folder, text: repacked(folder, {name.replace("@@", text): xml.replace("@@", _xml(text)).encode()}))


def _by_library(change: Callable[[Any, str], Any], spellings: tuple[str, ...] = UNICODE) -> Place:
    def build(folder: Path, text: str) -> Path:
        document = docx.Document(io.BytesIO(sheet()))
        change(document, text)
        path = folder / "file.docx"
        document.save(str(path))
        return path

    return Place(spellings, build)


def _run(text: str) -> str:
    return f"<w:r><w:t xml:space='preserve'>{_xml(text)}</w:t></w:r>"


_NOTE = f"<w:@ {NS}><w:footnote><w:p><w:r><w:t>@@</w:t></w:r></w:p></w:footnote></w:@>"
_RELS = "http://schemas.openxmlformats.org/package/2006/relationships"
PLACES[".docx"] = {
    "words": _by_library(lambda d, t: d.add_paragraph(t)),
    "lines": _by_library(lambda d, t: d.add_paragraph(t), LINES),
    "heading": _by_library(lambda d, t: d.add_paragraph(t).insert_paragraph_before(t)),
    "table": _by_library(lambda d, t: setattr(d.add_table(rows=1, cols=1).rows[0].cells[0], "text", t)),
    "over two cells": _by_library(lambda d, t: [setattr(c, "text", w) for c, w in zip(d.add_table(rows=1, cols=3).rows[0].cells, t.split(), strict=False)], LATIN[:3]),
    "header": _by_library(lambda d, t: d.sections[0].header.paragraphs[0].add_run(f" {t}")),
    "footer": _by_library(lambda d, t: d.sections[0].footer.paragraphs[0].add_run(f" {t}")),
    "header of the first page": _by_library(lambda d, t: d.sections[0].first_page_header.paragraphs[0].add_run(f" {t}")),
    "footer of even pages": _by_library(lambda d, t: d.sections[0].even_page_footer.paragraphs[0].add_run(f" {t}")),
    "comment": _by_library(lambda d, t: d.add_comment(d.add_paragraph("x").add_run("y"), text=t, author="E", initials="E")),
    "comment's author": _by_library(lambda d, t: d.add_comment(d.add_paragraph("x").add_run("y"), text="x", author=t, initials="E")),
    "comment's initials": _by_library(lambda d, t: d.add_comment(d.add_paragraph("x").add_run("y"), text="x", author="E", initials=t), WORD),
    **{
        f"property {key}": _by_library(lambda d, t, key=key: setattr(d.core_properties, key, t))
        for key in ("author", "title", "subject", "keywords", "comments", "category", "last_modified_by", "identifier", "version", "content_status")
    },
    "inserted": _by_hand('<w:p><w:ins w:author="x"><w:r><w:t>@@</w:t></w:r></w:ins></w:p>'),
    "deleted": _by_hand("<w:p><w:del><w:r><w:delText>@@</w:delText></w:r></w:del></w:p>"),
    "moved away": _by_hand("<w:p><w:moveFrom><w:r><w:t>@@</w:t></w:r></w:moveFrom></w:p>"),
    "reviser": _by_hand('<w:p><w:ins w:author="@@"><w:r><w:t>x</w:t></w:r></w:ins></w:p>'),
    "hidden": _by_hand("<w:p><w:r><w:rPr><w:vanish/></w:rPr><w:t>@@</w:t></w:r></w:p>"),
    "field code": _by_hand("<w:p><w:r><w:instrText> AUTHOR @@ </w:instrText></w:r></w:p>"),
    "simple field": _by_hand('<w:p><w:fldSimple w:instr="QUOTE @@"/></w:p>'),
    "deleted field code": _by_hand("<w:p><w:r><w:delInstrText> LINK @@ </w:delInstrText></w:r></w:p>"),
    "alternative text": _by_hand('<w:p><wp:docPr xmlns:wp="urn:x" id="1" name="Picture" descr="@@"/></w:p>'),
    "title of a picture": _by_hand('<w:p><wp:docPr xmlns:wp="urn:x" id="1" name="@@"/></w:p>'),
    "bookmark": _by_hand('<w:p><w:bookmarkStart w:id="1" w:name="@@"/></w:p>', WORD),
    "form field": _by_hand('<w:p><w:sdt><w:sdtPr><w:alias w:val="@@"/></w:sdtPr></w:sdt></w:p>'),
    "choice of a form": _by_hand('<w:p><w:sdt><w:sdtPr><w:dropDownList><w:listItem w:displayText="@@"/></w:dropDownList></w:sdtPr></w:sdt></w:p>'),
    "text box": _by_hand('<w:p><w:txbxContent><w:p><w:r><w:t>@@</w:t></w:r></w:p></w:txbxContent></w:p>'),
    "drawn letters": _by_hand('<w:p><v:textpath xmlns:v="urn:schemas-microsoft-com:vml" string="@@"/></w:p>'),
    "formula": _by_hand('<m:oMath xmlns:m="http://schemas.openxmlformats.org/officeDocument/2006/math"><m:r><m:t>@@</m:t></m:r></m:oMath>'),
    "XML comment": _by_hand("<!-- @@ --><w:p/>", tuple(t for t in UNICODE if "--" not in t), str),
    "instruction": _by_hand("<?note @@?><w:p/>", UNICODE, str),
    "element": _by_hand('<w:p><@@ xmlns="urn:own"/></w:p>', ("AgnesCoyle", "Agnes_Coyle", "COYLE", "Крук")),
    "a letter a run": _by_hand("<w:p>@@</w:p>", ("Coyle", "Agnes Coyle"), lambda t: "".join(map(_run, t))),
    "around a deletion": _by_hand("<w:p>@@</w:p>", ("Coyle",), lambda t: f"{_run(t[:2])}<w:del><w:r><w:delText>ast</w:delText></w:r></w:del>{_run(t[2:])}"),
    "over two paragraphs": _by_hand("@@", LATIN[:3], lambda t: spread(t, "<w:p><w:r><w:t>", "</w:t></w:r></w:p>")),
    "line break in a word": _by_hand("<w:p><w:r>@@</w:r></w:p>", ("Coyle",), lambda t: f"<w:t>{t[:2]}</w:t><w:br/><w:t>{t[2:]}</w:t>"),
    "soft hyphen": _by_hand("<w:p><w:r>@@</w:r></w:p>", ("Coyle",), lambda t: f"<w:t>{t[:2]}</w:t><w:softHyphen/><w:t>{t[2:]}</w:t>"),
    "symbols": _by_hand("<w:p><w:r>@@</w:r></w:p>", ("Coyle",), lambda t: "".join(f"<w:sym w:char='{ord(c):04X}'/>" for c in t)),
    "footnote": _part("word/footnotes.xml", _NOTE.replace("w:@ ", "w:footnotes ").replace("w:@>", "w:footnotes>")),
    "glossary": _part("word/glossary/document.xml", f"<w:glossaryDocument {NS}><w:p><w:r><w:t>@@</w:t></w:r></w:p></w:glossaryDocument>"),
    "people": _part("word/people.xml", '<w15:people xmlns:w15="http://schemas.microsoft.com/office/word/2012/wordml"><w15:person w15:author="@@"/></w15:people>'),
    "custom XML": _part("customXml/item1.xml", "<who>@@</who>"),
    "custom properties": _part("docProps/custom.xml", '<p xmlns="urn:p"><v name="Interviewee">@@</v></p>'),
    "name of a custom property": _part("docProps/custom.xml", '<p xmlns="urn:p"><v name="@@">x</v></p>'),
    "company": _part("docProps/app.xml", '<P xmlns="urn:p"><Company>@@</Company></P>'),
    "link": _part("word/_rels/footnotes.xml.rels", f'<Relationships xmlns="{_RELS}"><Relationship Id="r1" Type="http://x" Target="https://tarnwick.invalid/@@" TargetMode="External"/></Relationships>'),
    "template": _part("word/_rels/settings.xml.rels", f'<Relationships xmlns="{_RELS}"><Relationship Id="r1" Type="http://x" Target="file:///home/@@/wall.dotx"/></Relationships>'),
    "chart": _part("word/charts/chart1.xml", '<c:chart xmlns:c="http://schemas.openxmlformats.org/drawingml/2006/chart"><c:v>@@</c:v></c:chart>'),
    "name of a part": _part("word/@@.xml", "<a/>", WORD),
    "picture's text": Place(UNICODE, lambda folder, t: repacked(folder, {"word/media/image1.png": png(chunk(b"tEXt", b"Title\0" + t.encode()))})),
}  # fmt: skip

# ---------------------------------------------------------------- ZIP


def _zip(*members: tuple[str | zipfile.ZipInfo, bytes | str], comment: bytes = b"", packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", packing) as archive:
        for name, data in members:
            archive.writestr(name, data)
        archive.comment = comment
    return made.getvalue()


def _zipped(make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    return Place(spellings, written(".zip", make))


def _info(name: str = "a.txt", **more: Any) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    for key, value in more.items():
        setattr(info, key, value)
    return info


def _local_name(text: str) -> bytes:
    """The member's own head says another name than the list at the end."""
    name = text.encode()
    data = _zip(("x" * len(name) + ".txt", QUIET))
    return data.replace(b"x" * len(name), name, 1)


def _gap(text: str) -> bytes:
    """Bytes between the members and the list, of which the list's place is told right."""
    data = _zip(("a.txt", QUIET))
    start = data.index(b"PK\x01\x02")
    gap = text.encode()
    end = data.rindex(b"PK\x05\x06")
    where = struct.pack("<I", start + len(gap))
    return data[:start] + gap + data[start : end + 16] + where + data[end + 20 :]


def _within(kind: str, place: str) -> Builder:
    """A file of another kind, planted at one of its own places, as a member."""

    def build(folder: Path, text: str) -> Path:
        made = PLACES[kind][place].build(folder, text)
        path = folder / "file.zip"
        path.write_bytes(_zip(("for-the-team/a" + kind, made.read_bytes())))
        return path

    return build


PLACES[".zip"] = {
    "name": _zipped(lambda t: _zip((f"clip-{t}.txt", QUIET)), WORD),
    "name of a folder": _zipped(lambda t: _zip((f"{t}/a.txt", QUIET)), WORD),
    "name of an empty folder": _zipped(lambda t: _zip((f"{t}/", b""), ("a.txt", QUIET)), WORD),
    "over folders": _zipped(lambda t: _zip((t.replace(" ", "/") + "/a.txt", QUIET)), ("Agnes Coyle", "coyle agnes")),
    "own head of a member": _zipped(_local_name, WORD),
    "remark": _zipped(lambda t: _zip(("a.txt", QUIET), comment=t.encode())),
    "remark in UTF-16": _zipped(lambda t: _zip(("a.txt", QUIET), comment=t.encode("utf-16-le"))),
    "remark on a member": _zipped(lambda t: _zip((_info(comment=t.encode()), QUIET))),
    "field of a member": _zipped(lambda t: _zip((_info(extra=struct.pack("<HH", 0x7075, len(t.encode())) + t.encode()), QUIET))),
    "before all": _zipped(lambda t: t.encode() + _zip(("a.txt", QUIET))),
    "behind the members": _zipped(_gap),
    "a member": _zipped(lambda t: _zip(("a.txt", t)), LINES),
    "a member that is not packed": _zipped(lambda t: _zip(("a.txt", t), packing=zipfile.ZIP_STORED), LINES),
    "the last of many": _zipped(lambda t: _zip(*((f"{n}.txt", QUIET) for n in range(100)), ("z.txt", t))),
    "a package within": _zipped(lambda t: _zip(("a.zip", _zip(("a.txt", t))))),
    "name in a package within": _zipped(lambda t: _zip(("a.zip", _zip((f"{t}.txt", QUIET)))), WORD),
    "two packages deep": _zipped(lambda t: _zip(("a.zip", _zip(("a.zip", _zip(("a.txt", t))))))),
    **{f"{kind} within": Place(UNICODE[:1], _within(kind, place)) for kind, place in (
        (".docx", "words"), (".json", "value"), (".vtt", "first cue"), (".srt", "first cue"), (".csv", "last cell"), (".html", "words"),
        (".svg", "words"), (".png", "iTXt"), (".docx", "comment"), (".wav", "RIFF INFO IART"), (".mp3", "TPE1"), (".m4a", "©nam"),
        (".flac", "ARTIST"), (".opus", "ARTIST"), (".pdf", "words"),
    )},
}  # fmt: skip
