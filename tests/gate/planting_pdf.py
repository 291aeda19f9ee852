"""Places in PDF files in which text can stand, object by object (ISO 32000-1:2008), and by fpdf2 (see planting.py)."""

from __future__ import annotations

import zlib
from collections.abc import Callable
from importlib import resources

from fpdf import FPDF

from tests.gate.planting import LATIN, PLACES, QUIET, UNICODE, Place, written

BASE = {
    1: b"<< /Type /Catalog /Pages 2 0 R @catalog >>",
    2: b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
    3: b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 300 300] /Resources << /Font << /F1 5 0 R >> /XObject << /X1 7 0 R >> >> /Contents 4 0 R @page >>",
    5: b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>",
    6: b"<< /Producer (x) @info >>",
    7: b"<< /Type /XObject /Subtype /Form /BBox [0 0 1 1] /Length 0 >>\nstream\n\nendstream",
}


def stream(data: bytes, head: bytes = b"", packed: bool = False) -> bytes:
    data, kind = (zlib.compress(data), b"/Filter /FlateDecode ") if packed else (data, b"")
    return b"<< %s%s/Length %d >>\nstream\n%s\nendstream" % (kind, head, len(data), data)


def shown(orders: bytes) -> bytes:
    return b"BT /F1 12 Tf 20 200 Td " + orders + b" ET"


def pdf(
    orders: bytes = b"", *, catalog: bytes = b"", page: bytes = b"", info: bytes = b"", more: dict[int, bytes] | None = None, packed: bool = True,
    between: bytes = b"", behind: bytes = b"", trailer: bytes = b"", unlisted: bytes = b"", before: bytes = b"",
) -> bytes:  # fmt: skip
    """One page with a line of quiet words and these drawing orders, and further objects from number 8 on."""
    first = shown(b"(" + QUIET.encode() + b") Tj\n" + b"0 -20 Td")
    objects = BASE | {4: stream(first + b"\n" + orders, packed=packed)} | (more or {})
    out, at = bytearray(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n" + before), {}
    for number in sorted(objects):
        body = objects[number].replace(b"@catalog", catalog).replace(b"@page", page).replace(b"@info", info)
        at[number] = len(out)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body) + (between if number == 3 else b"")
    out += unlisted
    start, size = len(out), max(objects) + 1
    out += b"xref\n0 %d\n" % size
    for number in range(size):
        out += b"%010d 00000 n \n" % at[number] if number in at else b"0000000000 65535 f \n"
    out += b"trailer\n<< /Size %d /Root 1 0 R /Info 6 0 R %s >>\nstartxref\n%d\n%%%%EOF\n" % (size, trailer, start)
    return bytes(out) + behind


def string(text: str) -> bytes:
    """A text string in UTF-16 (§7.9.2.2), as hexadecimal."""
    return b"<FEFF" + text.encode("utf-16-be").hex().encode() + b">"


def latin(text: str) -> bytes:
    return b"(" + text.encode("latin-1").replace(b"\\", b"\\\\").replace(b"(", b"\\(").replace(b")", b"\\)") + b")"


def _pdf(make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    return Place(spellings, written(".pdf", make))


def _fields(field: bytes) -> Callable[[str], bytes]:
    return lambda t: pdf(catalog=b"/AcroForm << /Fields [8 0 R] >>", page=b"/Annots [8 0 R]", more={8: b"<< /Type /Annot /Subtype /Widget /FT /Tx /Rect [0 0 9 9] %s >>" % field.replace(b"@@", string(t))})


def _note(rest: bytes) -> Callable[[str], bytes]:
    return lambda t: pdf(page=b"/Annots [8 0 R]", more={8: b"<< /Type /Annot /Rect [0 0 9 9] %s >>" % rest.replace(b"@@", string(t))})


def _from_catalog(rest: bytes) -> Callable[[str], bytes]:
    return lambda t: pdf(catalog=rest.replace(b"@@", string(t)))


def _by_fpdf(draw: Callable[[FPDF, str], object]) -> Callable[[str], bytes]:
    """By the library that writes ours, in the sheet's own open font."""

    def make(text: str) -> bytes:
        made = FPDF()
        font = resources.files("archive.render") / "fonts" / "literata-regular.ttf"
        made.add_font("Literata", "", str(font))
        made.add_page()
        made.set_font("Literata", size=12)
        made.cell(text=QUIET, new_x="LMARGIN", new_y="NEXT")
        draw(made, text)
        return bytes(made.output())

    return make


def _letters(made: FPDF, text: str) -> None:
    for letter in text:
        made.cell(w=made.get_string_width(letter) + 0.05, text=letter)


def _two_pages(made: FPDF, text: str) -> None:
    first, last = text.split(maxsplit=1)
    made.multi_cell(0, text=f"told by {first}")
    made.add_page()
    made.multi_cell(0, text=f"{last} they said")


# Letters that the sheet's font has.
DRAWN = (*LATIN[:6], "Żofia Łęcka")
_XMP = "<x:xmpmeta xmlns:x='adobe:ns:meta/'><r:RDF xmlns:r='http://www.w3.org/1999/02/22-rdf-syntax-ns#'><r:Description><dc:@ xmlns:dc='http://purl.org/dc/elements/1.1/'>{}</dc:@></r:Description></r:RDF></x:xmpmeta>"


def _metadata(field: str) -> Callable[[str], bytes]:
    return lambda t: pdf(catalog=b"/Metadata 8 0 R", more={8: stream(_XMP.replace("@", field).format(t).encode(), b"/Type /Metadata /Subtype /XML ", packed=field == "title")})


PLACES[".pdf"] = {
    "words": _pdf(lambda t: pdf(shown(latin(t) + b" Tj")), LATIN),
    "words that are not packed": _pdf(lambda t: pdf(shown(latin(t) + b" Tj"), packed=False), LATIN),
    "words in hexadecimal": _pdf(lambda t: pdf(shown(b"<" + t.encode("latin-1").hex().encode() + b"> Tj")), LATIN),
    "letters moved together": _pdf(lambda t: pdf(shown(b"[" + b" -20 ".join(map(latin, t)) + b"] TJ")), ("Coyle", "Agnes Coyle")),
    "odd runs": _pdf(lambda t: pdf(shown(b" ".join(latin(t[n : n + 2]) + b" Tj" for n in range(0, len(t), 2)))), ("Coyle", "Agnes Coyle")),
    "a run a block": _pdf(lambda t: pdf(b" ".join(shown(b"%d 0 Td " % (n * 7) + latin(t[n : n + 2]) + b" Tj") for n in range(0, len(t), 2))), ("Coyle",)),
    "out of order": _pdf(lambda t: pdf(shown(b"14.7 -60 Td " + latin(t[2:]) + b" Tj") + b" " + shown(b"0 -60 Td " + latin(t[:2]) + b" Tj")), ("Coyle",)),
    "two lines": _pdf(lambda t: pdf(shown(b" ".join(latin(w) + b" Tj 0 -14 Td" for w in t.split()))), LATIN[:3]),
    "a word over two lines": _pdf(lambda t: pdf(shown(latin("told by " + t[:3] + "-") + b" Tj 0 -14 Td " + latin(t[3:]) + b" Tj")), ("Coyle",)),
    "words that are not painted": _pdf(lambda t: pdf(shown(b"3 Tr " + latin(t) + b" Tj")), LATIN),
    "white words": _pdf(lambda t: pdf(shown(b"1 g " + latin(t) + b" Tj")), LATIN),
    "words off the page": _pdf(lambda t: pdf(shown(b"900 900 Td " + latin(t) + b" Tj")), LATIN),
    "turned words": _pdf(lambda t: pdf(shown(b"0 1 -1 0 100 100 Tm " + latin(t) + b" Tj")), LATIN),
    "drawing on the page": _pdf(lambda t: pdf(b"/X1 Do", more={7: stream(shown(latin(t) + b" Tj"), b"/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /Font << /F1 5 0 R >> >> ")}), LATIN),
    "drawing on no page": _pdf(lambda t: pdf(more={8: stream(shown(latin(t) + b" Tj"), b"/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /Font << /F1 5 0 R >> >> ")}), LATIN),
    "words said instead": _pdf(lambda t: pdf(b"/Span << /ActualText " + string(t) + b" >> BDC " + shown(b"(x) Tj") + b" EMC")),
    "comment among orders": _pdf(lambda t: pdf(b"\n% " + t.encode() + b"\n")),
    **{f"property {key}": _pdf(lambda t, key=key: pdf(info=b"/%s %s" % (key.encode(), string(t)))) for key in ("Title", "Author", "Subject", "Keywords", "Creator", "Interviewee")},
    "property in Latin-1": _pdf(lambda t: pdf(info=b"/Title " + latin(t)), LATIN),
    "name of a property": _pdf(lambda t: pdf(info=b"/" + "".join(f"#{b:02x}" for b in t.encode()).encode() + b" (x)"), LATIN),
    "metadata title": _pdf(_metadata("title")),
    "metadata creator": _pdf(_metadata("creator")),
    "outline": _pdf(lambda t: pdf(catalog=b"/Outlines 8 0 R", more={8: b"<< /Type /Outlines /First 9 0 R /Last 9 0 R >>", 9: b"<< /Title %s /Parent 8 0 R >>" % string(t)})),
    "note": _pdf(_note(b"/Subtype /Text /Contents @@")),
    "note's author": _pdf(_note(b"/Subtype /Text /T @@")),
    "note's subject": _pdf(_note(b"/Subtype /Text /Subj @@")),
    "rich note": _pdf(_note(b"/Subtype /Text /RC @@")),
    "link": _pdf(_note(b"/Subtype /Link /A << /S /URI /URI @@ >>")),
    "link to a file": _pdf(_note(b"/Subtype /Link /A << /S /GoToR /F @@ >>")),
    "stamp's drawing": _pdf(lambda t: pdf(page=b"/Annots [8 0 R]", more={8: b"<< /Type /Annot /Subtype /Stamp /Rect [0 0 9 9] /AP << /N 9 0 R >> >>", 9: stream(shown(latin(t) + b" Tj"), b"/Subtype /Form /BBox [0 0 9 9] /Resources << /Font << /F1 5 0 R >> >> ")}), LATIN),
    "field": _pdf(_fields(b"/T @@")),
    "field's hint": _pdf(_fields(b"/T (x) /TU @@")),
    "field's value": _pdf(_fields(b"/T (x) /V @@")),
    "field's first value": _pdf(_fields(b"/T (x) /DV @@")),
    "field's choices": _pdf(_fields(b"/T (x) /Opt [[@@ (x)]]")),
    "named place": _pdf(_from_catalog(b"/Names << /Dests << /Names [@@ [3 0 R /Fit]] >> >>")),
    "label of pages": _pdf(_from_catalog(b"/PageLabels << /Nums [0 << /S /D /P @@ >>] >>")),
    "layer": _pdf(_from_catalog(b"/OCProperties << /OCGs [<< /Type /OCG /Name @@ >>] /D << >> >>")),
    "program": _pdf(_from_catalog(b"/OpenAction << /S /JavaScript /JS @@ >>")),
    "program in a stream": _pdf(lambda t: pdf(catalog=b"/OpenAction << /S /JavaScript /JS 8 0 R >>", more={8: stream(b"var by = '" + t.encode() + b"';", packed=True)})),
    "structure's words": _pdf(_from_catalog(b"/StructTreeRoot << /K << /S /P /Alt @@ >> >>")),
    "structure's long form": _pdf(_from_catalog(b"/StructTreeRoot << /K [<< /S /P /E @@ >>] >>")),
    "language": _pdf(_from_catalog(b"/Lang @@")),
    "private data": _pdf(_from_catalog(b"/PieceInfo << /X << /Private << /By @@ >> >> >>")),
    "object on its own": _pdf(lambda t: pdf(more={8: string(t)})),
    "stream on its own": _pdf(lambda t: pdf(more={8: stream(t.encode(), packed=True)})),
    "in the trailer": _pdf(lambda t: pdf(trailer=b"/By " + string(t))),
    "in the identity": _pdf(lambda t: pdf(trailer=b"/ID [" + latin(t) + b" (x)]"), LATIN),
    "comment between objects": _pdf(lambda t: pdf(between=b"% " + t.encode() + b"\n")),
    "between objects": _pdf(lambda t: pdf(between=t.encode() + b"\n")),
    "before all objects": _pdf(lambda t: pdf(before=b"%" + t.encode() + b"\n")),
    "behind the end": _pdf(lambda t: pdf(behind=t.encode())),
    "by fpdf2": _pdf(_by_fpdf(lambda made, t: made.multi_cell(0, text=t)), DRAWN),
    "by fpdf2, letter by letter": _pdf(_by_fpdf(_letters), ("Coyle", "ŁĘCKA ŻOFIA")),
    "by fpdf2, over two pages": _pdf(_by_fpdf(_two_pages), ("Agnes Coyle", "Lena Marsh", "Żofia Łęcka")),
    "by fpdf2, table": _pdf(_by_fpdf(lambda made, t: [made.cell(w=30, text=w) for w in t.split()]), DRAWN),
    "by fpdf2, title": _pdf(_by_fpdf(lambda made, t: made.set_title(t))),
    "by fpdf2, outline": _pdf(_by_fpdf(lambda made, t: made.start_section(t)), DRAWN),
    "by fpdf2, link": _pdf(_by_fpdf(lambda made, t: made.cell(text="x", link="https://tarnwick.invalid/" + t)), LATIN[:3]),
    "by fpdf2, note": _pdf(_by_fpdf(lambda made, t: made.text_annotation(9, 9, t))),
}  # fmt: skip
