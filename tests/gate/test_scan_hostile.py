"""Documents made to harm, or broken: each ends soon, within memory, with a finding in plain words; the PDF child is real here."""

from __future__ import annotations

import io
import json
import struct
import subprocess
import sys
import time
import tracemalloc
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from archive.gate import scan_pdf
from archive.gate.scan import A_NAME, KINDS, MOST_LETTERS, matcher_for, scan_with
from archive.gate.scan_match import Matcher
from archive.gate.scan_zip import MOST_NESTED
from tests.gate.planting import NAMES, PLACES, QUIET
from tests.gate.planting_pdf import pdf, shown, stream
from tests.gate.planting_pictures import chunk, png, repacked
from tests.gate.planting_sound import block, comments, flac, frame, id3, plain, wav

MATCHER = matcher_for(NAMES)
SECONDS = 8.0  # about two on an idle machine [measured]; the rest is room for a busy one
MOST_BYTES = 150_000_000


def _zip(*members: tuple[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return made.getvalue()


def _nested(levels: int) -> bytes:
    data = _zip(("a.txt", QUIET.encode()))
    for _ in range(levels):
        data = _zip(("a.zip", data))
    return data


def _overlapping() -> bytes:
    """Many entries in the list that all point at one member's bytes."""
    data = _zip(("a.txt", bytes(900_000)))
    start, end = data.index(b"PK\x01\x02"), data.rindex(b"PK\x05\x06")
    entry = data[start:end]
    listed = b"".join(entry.replace(b"a.txt", b"%05d" % n) for n in range(400))
    return data[:start] + listed + b"PK\x05\x06\0\0\0\0" + struct.pack("<HHIIH", 400, 400, len(listed), start, 0)


def _tables(deep: int) -> bytes:
    """Tables within tables, as a body."""
    return b"<w:tbl><w:tr><w:tc>" * deep + b"<w:p/>" + b"</w:tc></w:tr></w:tbl>" * deep


def _docx(folder: Path, inside: bytes = b"", **parts: bytes) -> bytes:
    named = {f"word/{name}.xml": data for name, data in parts.items()}
    made = repacked(folder, named, lambda n, d: d.replace(b"<w:body>", b"<w:body>" + inside) if n == "word/document.xml" else d)
    return made.read_bytes()


_LAUGHS = (
    b'<!DOCTYPE a [<!ENTITY x "xxxxxxxxxx">'
    + b"".join(b'<!ENTITY x%d "%s">' % (n, (b"&x%d;" % (n - 1) if n else b"&x;") * 10) for n in range(9))
    + b"]>"
)
_LOOP = {2: b"<< /Type /Pages /Kids [2 0 R 3 0 R] /Count 2 >>"}
_LOOP_IN_TWO = {2: b"<< /Type /Pages /Kids [8 0 R] /Count 1 >>", 8: b"<< /Type /Pages /Parent 2 0 R /Kids [2 0 R] /Count 1 >>"}
_XFORM = b"/Type /XObject /Subtype /Form /BBox [0 0 9 9] /Resources << /XObject << /X1 7 0 R /X2 8 0 R >> >> "

HOSTILE: dict[str, tuple[str, Callable[[Path], bytes]]] = {
    "zip: one member of 100 MB": (".zip", lambda _: _zip(("a.txt", bytes(100_000_000)))),
    "zip: many members of 9 MB": (".zip", lambda _: _zip(*((f"{n}.txt", bytes(9_000_000)) for n in range(50)))),
    "zip: packages in packages": (".zip", lambda _: _nested(MOST_NESTED + 5)),
    "zip: nested bomb": (".zip", lambda _: _zip(*((f"{n}.zip", _zip(("a.txt", bytes(50_000_000)))) for n in range(4)))),
    "zip: members over one another": (".zip", lambda _: _overlapping()),
    "zip: a million names": (".zip", lambda _: _zip(*((f"{n}", b"") for n in range(5000)))),
    "zip: leads out": (".zip", lambda _: _zip(("../../a.txt", b"x"))),
    "zip: leads to the root": (".zip", lambda _: _zip(("/etc/a.txt", b"x"))),
    "zip: leads to a drive": (".zip", lambda _: _zip(("C:\\a.txt", b"x"))),
    "zip: member of no kind": (".zip", lambda _: _zip(("a.exe", b"x"))),
    "zip: broken": (".zip", lambda _: _zip(("a.txt", b"x" * 5000))[:60]),
    "docx: bomb": (".docx", lambda folder: _docx(folder, extra=b"<a>" + b" " * 100_000_000 + b"</a>")),
    "docx: tables 600 deep": (".docx", lambda folder: _docx(folder, _tables(600))),
    "docx: tables 100,000 deep": (".docx", lambda folder: _docx(folder, _tables(100_000))),
    "docx: laughing": (".docx", lambda folder: _docx(folder, extra=_LAUGHS + b"<a>&x8;</a>")),
    "docx: quadratic": (".docx", lambda folder: _docx(folder, extra=b'<!DOCTYPE a [<!ENTITY x "' + b"x" * 99_999 + b'">]><a>' + b"&x;" * 9_999 + b"</a>")),
    "docx: a part in bytes of chance": (".docx", lambda folder: _docx(folder, extra=bytes(range(256)) * 99)),
    "txt: 10 MB in one line": (".txt", lambda _: QUIET.encode() * 200_000),
    "txt: 100 MB of nothing": (".txt", lambda _: bytes(100_000_000)),
    "html: 10 MB of brackets": (".html", lambda _: b"<!" * 5_000_000),
    "csv: 10 MB in one cell": (".csv", lambda _: b'"' + b"x" * 10_000_000 + b'"'),
    "vtt: 10 MB of arrows": (".vtt", lambda _: b"WEBVTT\n\n" + b"-->" * 3_400_000),
    "json: 100,000 deep": (".json", lambda _: b"[" * 100_000 + b"]" * 100_000),
    "json: objects 100,000 deep": (".json", lambda _: b'{"a":' * 100_000 + b"1" + b"}" * 100_000),
    "json: one number of 3 million digits": (".json", lambda _: b"9" * 3_000_000),
    "svg: laughing": (".svg", lambda _: _LAUGHS + b"<svg>&x8;</svg>"),
    "svg: 100,000 deep": (".svg", lambda _: b"<svg>" + b"<g>" * 100_000 + b"</g>" * 100_000 + b"</svg>"),
    "svg: points outside": (".svg", lambda _: b'<!DOCTYPE svg SYSTEM "file:///etc/hostname"><svg/>'),
    "svg: a picture of a kind without a reader": (".svg", lambda _: b"<svg><image href='data:image/webp;base64,AAAA'/></svg>"),
    "png: text of 100 MB": (".png", lambda _: png(chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(100_000_000))))),
    "png: dots of 100 MB": (".png", lambda _: png().replace(chunk(b"IDAT", zlib.compress(b"\0\x80")), chunk(b"IDAT", zlib.compress(bytes(100_000_000))))),
    "png: four thousand million dots": (".png", lambda _: b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 2**31, 2**31, 16, 6, 0, 0, 0))),
    "png: a chunk that lies": (".png", lambda _: png()[:33] + struct.pack(">I", 2**31) + b"tEXt"),
    "png: a hundred thousand chunks": (".png", lambda _: png(*[chunk(b"tEXt", b"a\0b")] * 100_000)),
    "wav: sound longer than the file": (".wav", lambda _: wav()[:40] + b"\xff\xff\xff\x7f" + wav()[44:]),
    "wav: a chunk longer than the file": (".wav", lambda _: wav() + b"LIST" + struct.pack("<I", 2**31) + b"INFO"),
    "wav: a hundred thousand chunks": (".wav", lambda _: wav(*[(b"JUNK", b"")] * 100_000)),
    "wav: a tag that lies": (".wav", lambda _: wav((b"id3 ", b"ID3\4\0\0\x7f\x7f\x7f\x7f"))),
    "mp3: a tag of 200 MB that is not there": (".mp3", lambda _: b"ID3\4\0\0" + bytes([0x5F, 0x2F, 0x20, 0]) + plain(".mp3")),
    "mp3: a tag of 190 MB": (".mp3", lambda _: id3(frame(b"TIT2", b"\0" + b" " * 190_000_000)) + plain(".mp3")),
    "mp3: a packed frame": (".mp3", lambda _: b"ID3\3\0\0" + bytes([0, 0, 0x40, 0]) + b"TIT2\0\0\x10\0\0\x80" + bytes(9000) + plain(".mp3")),
    "mp3: 8 MB of no sound": (".mp3", lambda _: plain(".mp3") + b"\xff\xfb" * 4_000_000),
    "mp3: chapters within chapters": (".mp3", lambda _: id3(_chapters(300)) + plain(".mp3")),
    "mp3: tags without end": (".mp3", lambda _: id3(frame(b"TIT2", b"\0x")) * 50_000),
    "m4a: boxes 100,000 deep": (".m4a", lambda _: _boxes(100_000)),
    "m4a: a table that lies": (".m4a", lambda _: plain(".m4a").replace(b"stsz\0\0\0\0\0\0\0\0\0\0", b"stsz\0\0\0\0\0\0\0\0\x7f\xff")),
    "m4a: a box that lies": (".m4a", lambda _: plain(".m4a").replace(b"mdat", b"mda_")[:300]),
    "m4a: a fixed size of samples by the thousand million": (".m4a", lambda _: plain(".m4a").replace(b"stsz\0\0\0\0\0\0\0\0", b"stsz\0\0\0\0\0\0\0\x01")),
    "flac: a block that lies": (".flac", lambda _: b"fLaC\x04\xff\xff\xff" + bytes(99)),
    "flac: comments by the thousand million": (".flac", lambda _: flac(block(4, struct.pack("<I", 0) + struct.pack("<I", 2**32 - 1)))),
    "flac: words behind the sound": (".flac", lambda _: flac(block(4, comments("TITLE=x")), after=b"words")),
    "flac: a picture that lies": (".flac", lambda _: flac(block(6, struct.pack(">II", 3, 2**31)))),
    "opus: a page that lies": (".opus", lambda _: plain(".opus")[:400]),
    "opus: comments by the thousand million": (".opus", lambda _: plain(".opus").replace(b"OpusTags", b"OpusTags\xff\xff\xff\xff")),
    "pdf: pages in a loop": (".pdf", lambda _: pdf(more=_LOOP)),
    "pdf: pages in a longer loop": (".pdf", lambda _: pdf(more=_LOOP_IN_TWO)),
    "pdf: a stream of 100 MB": (".pdf", lambda _: pdf(more={8: stream(bytes(100_000_000), packed=True)})),
    "pdf: orders of 32 MB": (".pdf", lambda _: pdf(b"q Q " * 8_000_000)),
    "pdf: arrays 100,000 deep": (".pdf", lambda _: pdf(more={8: b"[" * 100_000 + b"]" * 100_000})),
    "pdf: a list of two million parts": (".pdf", lambda _: pdf().replace(b"xref\n0 8\n", b"xref\n0 2000000\n")),
    "pdf: locked": (".pdf", lambda _: pdf(trailer=b"/Encrypt << /Filter /Standard /V 1 /R 2 /O (" + b"o" * 32 + b") /U (" + b"u" * 32 + b") /P -1 >> /ID [(a) (a)]")),
    "pdf: an attachment": (".pdf", lambda _: pdf(catalog=b"/Names << /EmbeddedFiles << /Names [(a) << /Type /Filespec /F (a) /EF << /F 8 0 R >> >>] >> >>", more={8: stream(b"x", b"/Type /EmbeddedFile ")})),
    "pdf: an earlier version inside": (".pdf", lambda _: pdf(shown(b"(x) Tj")) + pdf()),
    "pdf: a part that no list names": (".pdf", lambda _: pdf(unlisted=b"99 0 obj\n(x)\nendobj\n")),
    "pdf: letters drawn as pictures": (".pdf", lambda _: pdf(more={5: b"<< /Type /Font /Subtype /Type3 /FontBBox [0 0 9 9] /FontMatrix [1 0 0 1 0 0] /CharProcs << >> /Encoding << >> /FirstChar 0 /LastChar 0 /Widths [1] >>"})),
    "pdf: letters without their meaning": (".pdf", lambda _: pdf(more={5: b"<< /Type /Font /Subtype /Type0 /BaseFont /X /Encoding /Identity-H /DescendantFonts [<< /Type /Font /Subtype /CIDFontType2 /BaseFont /X >>] >>"})),
    "pdf: a photograph": (".pdf", lambda _: pdf(more={8: stream(b"\xff\xd8\xff\xe1 EXIF", b"/Type /XObject /Subtype /Image /Width 1 /Height 1 /ColorSpace /DeviceRGB /BitsPerComponent 8 /Filter /DCTDecode ")})),
    "pdf: a picture among the words": (".pdf", lambda _: pdf(b"BI /W 1 /H 1 /BPC 8 /CS /G ID x EI")),
    "pdf: cut off": (".pdf", lambda _: pdf()[:300]),
    "pdf: only its first line": (".pdf", lambda _: b"%PDF-1.7\n"),
}  # fmt: skip


def _chapters(deep: int) -> bytes:
    made = frame(b"TIT2", b"\0x")
    for _ in range(deep):
        made = frame(b"CHAP", b"c\0" + bytes(16) + made)
    return made


def _boxes(deep: int) -> bytes:
    head = b"".join(struct.pack(">I", 8 * (deep - n)) + b"moov" for n in range(deep))
    return plain(".m4a")[:28] + head


@pytest.mark.parametrize("case", HOSTILE)
def test_it_ends_soon_and_says_why(tmp_path: Path, case: str) -> None:
    kind, make = HOSTILE[case]
    path = tmp_path / f"file{kind}"
    path.write_bytes(make(tmp_path))
    tracemalloc.start()
    started = time.perf_counter()
    try:
        found = scan_with(MATCHER, path)
        seconds, most = time.perf_counter() - started, tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert found and all(f.what != A_NAME and f.what.endswith(".") and f.where for f in found), found
    assert seconds < SECONDS * 2 and most < max(MOST_BYTES, path.stat().st_size * 2), (seconds, most)  # tracing doubles the time
    assert not any(word in f.sentence() for f in found for word in ("Error", "Traceback", "zlib", "0x", "None"))


def test_drawings_that_draw_one_another_end(tmp_path: Path) -> None:
    """They may pass, being read, but not go round for ever."""
    data = pdf(b"/X1 Do", more={7: stream(b"/X1 Do /X2 Do /X2 Do", _XFORM), 8: stream(b"/X1 Do " * 50, _XFORM)})
    (tmp_path / "a.pdf").write_bytes(data)
    started = time.perf_counter()
    assert all(f.what != A_NAME for f in scan_with(MATCHER, tmp_path / "a.pdf"))
    assert time.perf_counter() - started < SECONDS


def test_nothing_is_unpacked_outside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Members are read under names of ours, in a folder that is gone afterwards."""
    inside = tmp_path / "tmp"
    inside.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(inside))
    path = tmp_path / "a.zip"
    path.write_bytes(_zip(("deep/folder/a.txt", QUIET.encode()), ("b.zip", _zip(("c.txt", b"x")))))
    before = {p for p in tmp_path.rglob("*") if p != inside}
    assert scan_with(MATCHER, path) == []
    assert {p for p in tmp_path.rglob("*") if p != inside} == before


def test_tables_a_hundred_deep_are_read(tmp_path: Path) -> None:
    """Deep, but no deeper than a document may be: read, and a name at the bottom found."""
    for words, found in ((b"x", False), (b"Coyle", True)):
        inside = _tables(120).replace(b"<w:p/>", b"<w:p><w:r><w:t>" + words + b"</w:t></w:r></w:p>")
        path = tmp_path / "a.docx"
        path.write_bytes(_docx(tmp_path, inside))
        assert bool(scan_with(MATCHER, path)) == found


def test_a_name_at_the_end_of_one_huge_line_is_found(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text((QUIET + " ") * 70_000 + "Coyle", encoding="utf-8")
    started = time.perf_counter()
    (finding,) = scan_with(MATCHER, path)
    assert finding.what == A_NAME and time.perf_counter() - started < SECONDS


def test_much_text_in_many_pieces_is_refused(tmp_path: Path) -> None:
    """Each part of a sheet is small, all of them together are not."""
    parts = {f"extra{n}": b"<a>" + (b"%d said so. " % n) * 60_000 + b"</a>" for n in range(40)}
    path = tmp_path / "a.docx"
    path.write_bytes(_docx(tmp_path, **parts))
    (finding,) = scan_with(Matcher(()), path)
    assert "more text" in finding.what or "unpacks" in finding.what
    assert MOST_LETTERS < 30_000_000


def test_the_child_is_asked_for_a_pdf_and_its_death_is_a_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.pdf"
    path.write_bytes(PLACES[".pdf"]["note"].build(tmp_path, "Agnes Coyle").read_bytes())
    (finding,) = scan_with(MATCHER, path)
    assert finding.what == A_NAME
    monkeypatch.setattr(scan_pdf, "SECONDS", 0.01)
    (finding,) = scan_with(MATCHER, path)
    assert "more time or memory" in finding.what
    monkeypatch.setattr(scan_pdf, "SECONDS", 20.0)
    monkeypatch.setattr(sys, "executable", "/bin/false")
    (finding,) = scan_with(MATCHER, path)
    assert "more time or memory" in finding.what


def test_the_child_keeps_its_limits() -> None:
    """Memory and time are the system's, not the library's promise."""
    said = subprocess.run(
        [sys.executable, "-c", "import resource, json, archive.gate.scan_pdf_child as c; c.cap(c.MEMORY_BYTES, c.CPU_SECONDS); "
         "print(json.dumps([resource.getrlimit(resource.RLIMIT_AS)[0], resource.getrlimit(resource.RLIMIT_CPU)[0]]))"],
        capture_output=True, check=True, encoding="utf-8", cwd=Path(__file__).resolve().parents[2],
    )  # fmt: skip
    assert json.loads(said.stdout) == [1 << 30, 4]


@pytest.mark.parametrize("kind", KINDS)
def test_empty_and_cut_files_are_no_clean_files_of_their_kind(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"a{kind}"
    path.write_bytes(b"")
    found = scan_with(MATCHER, path)
    assert found or kind in (".txt", ".csv", ".html", ".srt"), "an empty file of words is a file of words"
