"""Forms, letters and signed papers: read back by pypdf and zxing, which did not write them; what must be refused; what must stay unsaid."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pypdf
import pytest
import zxingcpp
from fpdf import FPDF
from PIL import Image
from pypdf.generic import ContentStream
from sqlalchemy import text

from archive.app import Archive
from archive.db import people, recordings
from archive.db.session import Connection
from archive.domain.printed import BEFORE, FormKind
from archive.domain.sheetcode import SIGNS, Coded, code_of
from archive.domain.values import USES, Way
from archive.errors import BadInput, Clash, NotAllowed, NotFound, Refused, SheetError
from archive.gate import paper
from archive.render.wordings import wording
from archive.services.letters import letter_to
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import Once, copy_of

ANSWERS = [{"use": "exhibition", "way": "words", "answer": "yes"}]
PERSON = {"attribution": "full", "voice": "as_recorded", "review": "not_wanted"}


@pytest.fixture(scope="module")
def made_town(made_cast: Path, once: Once) -> Path:
    """The cast, with an interviewer, a companion and a minor, and how two of them may be reached."""

    def make(folder: Path) -> None:
        archive = Archive.open(copy_of(made_cast, folder), {}, cast.clock)
        archive.people.add(KEEPER, {"code": "I-21", "full": "Rhoda Vane", "born": "1980", **PERSON})
        archive.people.add(KEEPER, {"code": "C-21", "full": "Tom Aske", "born": "1970", **PERSON})
        archive.people.add(KEEPER, {"code": "N-30", "full": "Ida Brook", "born": "2012-05-04", **PERSON})
        archive.people.add(KEEPER, {"code": "P-50", "full": "Vera Brook", "born": "1980", **PERSON})
        with archive.rooms.db.write() as connection:
            ids = people.ids_by_code(connection)
            for interview, code, part in (("IV-21", "I-21", "interviewer"), ("IV-21", "C-21", "companion"), ("IV-22", "N-30", "narrator")):
                people.take_part(connection, _interview(connection, interview), ids[code], part)
        archive.letters.say(KEEPER, "N-21", {"called": "Mrs Quill", "address": "4 Gull Steps\nTarnwick", "language": "pl"}, [], True)
        archive.letters.say(KEEPER, "N-28", {"address": "9 Ropewalk\nTarnwick"}, ["not_at_home"], False)
        archive.close()

    return once("papers", make)


def _interview(connection: Connection, code: str) -> int:
    row = recordings.find_interview(connection, code)
    assert row is not None
    return int(row.id)


@pytest.fixture
def town(made_town: Path, tmp_path: Path) -> Iterator[Archive]:
    archive = Archive.open(copy_of(made_town, tmp_path / "archive"), {}, cast.clock)
    yield archive
    archive.close()


def read(pdf: bytes) -> str:
    """The words of a PDF, with every run of white space as one space, and what it says of itself."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return " ".join(" ".join([*(page.extract_text() for page in reader.pages), str(reader.metadata)]).split())


def symbol(pdf: bytes) -> str:
    """The QR symbol of a form's first page, drawn again from its own instructions and read by zxing (ISO/IEC 18004)."""
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    rects = [(operands, filled) for (operands, operator), (_, filled) in _pairs(ContentStream(page["/Contents"].get_object(), page.pdf).operations) if operator == b"re"]  # type: ignore[union-attr]
    squares = [[float(v) for v in operands] for operands, filled in rects if filled == b"f"]
    left, top = min(x for x, *_ in squares), max(max(y, y + h) for _, y, _, h in squares)
    picture = np.full((420, 420), 255, np.uint8)
    for x, y, w, h in squares:
        x0, y0 = 40 + (x - left) * 4, 40 + (top - max(y, y + h)) * 4
        picture[round(y0) : round(y0 + abs(h) * 4), round(x0) : round(x0 + w * 4)] = 0
    (found,) = zxingcpp.read_barcodes(picture)
    return found.text


def _pairs(operations: list[tuple[list[object], bytes]]) -> Iterator[tuple[tuple[list[object], bytes], tuple[list[object], bytes]]]:
    return zip(operations, [*operations[1:], ([], b"")], strict=True)


# -- forms ------------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("kind", "language", "large"), [(k, lang, large) for k in FormKind for lang, large in (("en", False), ("pl", True))])
def test_a_form_asks_exactly_what_the_list_of_uses_has(town: Archive, kind: FormKind, language: str, large: bool) -> None:
    """Each use once with its boxes, everything CHECKS §8 names, and a code that finds the form again."""
    made = town.papers.form(EDITOR, "N-21", kind, language=language, size="letter" if large else "a4", large=large)
    told, words = read(made.data), wording(language, Path("nowhere"))
    asked = [] if not kind.asks else [u for u in USES if kind != FormKind.PARTICIPATION or u.code in BEFORE]
    for use in USES:
        assert (words.use(use.code, "")[1] in told) is (use in asked), use
    assert town.papers.found(EDITOR, made.reference.lower()).kind == kind
    assert symbol(made.data) == made.reference == made.name[5:13] and made.reference in told
    page = pypdf.PdfReader(io.BytesIO(made.data)).pages[0].mediabox
    # ISO 216 A4: 210 × 297 mm; US Letter: 8.5 × 11 in
    assert (float(page.width), float(page.height)) == pytest.approx((612, 792) if large else (595.28, 841.89), abs=0.1)
    must = [("form", "not_law"), ("sign", "narrator")]
    if kind == FormKind.RECORDING:
        must += [("naming", "walls"), ("naming", "credits"), ("naming", "caution"), ("review", "ask"), ("review", "other"), ("review", "embargo")]
        must += [("copyright", "hint"), ("sign", "witness"), ("sign", "read_aloud"), ("sign", "for_whom")]
        assert all(point in told for part in ("change", "think") for point in words.some(part, "points"))
    assert all(words(*key) in told for key in must)
    if not kind.asks:
        assert all(point in told for point in words.some(kind, "points"))


def test_large_print_is_at_least_sixteen_point(town: Archive) -> None:
    """RNIB: Clear Print 12 point at least, large print 16 (from memory). What is smaller are the labels under lines and the foot."""
    for large, least in ((False, 12), (True, 16)):
        stream = pypdf.PdfReader(io.BytesIO(town.papers.form(EDITOR, "N-21", "interpreter", large=large).data)).pages[0].get_contents()
        assert stream is not None
        sizes = [float(size) for size in re.findall(rb"/F\d+ ([\d.]+) Tf", stream.get_data())]
        assert sorted(sizes)[len(sizes) // 2] >= least


def test_what_is_next_is_printed_as_they_read(town: Archive) -> None:
    made = town.papers.form(EDITOR, "N-21")
    told = read(made.data)
    assert town.papers.found(EDITOR, made.reference).kind == "recording" and "IV-21" in told and "Edith Quill" in told and "Po wywiadzie" in told
    assert "18 lat" not in told.replace("wieku 18 lat", ""), "born 1940: nothing is asked of a guardian"
    for code, kind in (("I-21", "standing"), ("C-21", "standing"), ("P-41", "participation"), ("E-01", "helper")):
        assert town.papers.found(EDITOR, town.papers.form(EDITOR, code).reference).kind == kind
    assert "Only if you are under 18" in read(town.papers.form(EDITOR, "N-30", "recording").data)


def test_a_form_is_in_the_archive_s_own_words_and_any_language_with_a_file(town: Archive) -> None:
    town.papers.form(EDITOR, "N-22")
    folder = town.folder / "wording"
    own = (folder / "en.toml").read_text(encoding="utf-8")
    (folder / "en.toml").write_text(own.replace("Keep one copy of this form", "Put one copy of this form into a drawer"), encoding="utf-8")
    assert "into a drawer" in read(town.papers.form(EDITOR, "N-22").data)
    (folder / "cy.toml").write_text(own.replace("After the interview: what may be done with it", "Ar ôl y cyfweliad"), encoding="utf-8")
    assert "Ar ôl y cyfweliad" in read(town.papers.form(EDITOR, "N-22", language="Welsh").data)
    (folder / "cy.toml").write_text('[recording]\ntitle = "Ar ôl"\n', encoding="utf-8")
    with pytest.raises(BadInput, match=r"cy\.toml has no “"):
        town.papers.form(EDITOR, "N-22", language="cy")
    (folder / "en.toml").write_text("[form\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"en\.toml cannot be read"):
        town.papers.form(EDITOR, "N-22")
    with pytest.raises(BadInput, match="no words of forms"):
        town.papers.form(EDITOR, "N-22", language="de")


def test_a_use_of_the_archive_s_own_is_asked_for_and_nobody_allows_it(town: Archive) -> None:
    town.papers.add_use(KEEPER, "audio_guide", "audio guide")
    assert "Audio guide" in read(town.papers.form(EDITOR, "N-22").data)
    line = next(use for use in town.people.page(KEEPER, "N-21").allowed[0].lines if use.use == "audio_guide")
    assert line.words.startswith("no:")
    for code, label in (("Audio", "another one"), ("x", "another one"), ("audio_tour", "x" * 200)):
        with pytest.raises(BadInput):
            town.papers.add_use(KEEPER, code, label)
    with pytest.raises(Clash):
        town.papers.add_use(KEEPER, "guide", "Audio Guide")
    rows = {r.person: r for r in town.papers.ask_again(EDITOR, "audio_guide").rows}
    assert rows["N-21"].what == "ask" and rows["N-24"].to == rows["N-30"].to == ""
    assert "withdrew" in rows["N-24"].why and "no guardian" in rows["N-30"].why
    town.spokespeople.put(KEEPER, "N-30", "P-50", "guardian", date(2025, 1, 1))
    assert next(r for r in town.papers.ask_again(EDITOR, "audio_guide").rows if r.person == "N-30").to == "P-50"


# -- signed papers --------------------------------------------------------------------------------------------------------
def scan(path: Path, pages: int = 1, password: str = "") -> Path:
    pdf = FPDF()
    for _ in range(pages):
        pdf.add_page()
        pdf.rect(10, 10, 50, 50)
    if password:
        pdf.set_encryption(owner_password=password, user_password=password)
    path.write_bytes(bytes(pdf.output()))
    return path


def test_a_scan_is_kept_under_its_checksum_and_found_by_its_code(town: Archive, tmp_path: Path) -> None:
    form = town.papers.form(EDITOR, "N-21").reference
    assert "allows nothing" in town.papers.attach(KEEPER, scan(tmp_path / "Edith Quill signed.pdf", 3), form.lower())
    town.consent.add(KEEPER, {"code": "A-1", "person": "N-21", "kind": "recording", "form": "signed", "signed_on": "2026-05-01", "paper": form, "supersedes": "A-N-21"}, ANSWERS)
    page = town.papers.agreement(EDITOR, "A-1")
    (kept,) = page.papers
    assert (page.number, page.before, kept.pages, kept.form) == (2, "A-N-21", 3, form)
    assert "exhibition, in words: was yes, is yes" not in page.differences and "web, in words: was yes, is not answered" in page.differences
    name, data = town.papers.scan(EDITOR, kept.sha256)
    assert name == f"paper-{form}.pdf" and data == (tmp_path / "Edith Quill signed.pdf").read_bytes()
    assert not [p for p in town.folder.rglob("*") if "Quill" in p.name], "the name of the file that came is not kept"
    assert town.papers.faults(fixity=True) == ()
    there = next((town.folder / "papers").rglob("*.pdf"))
    there.chmod(0o600)
    there.write_bytes(data[:-1])
    assert any("was changed" in fault for fault in town.records.check(KEEPER, fixity=True))
    there.unlink()
    assert any("is missing" in fault for fault in town.records.check(KEEPER))


@pytest.mark.parametrize(("kind", "extension"), [("JPEG", "jpg"), ("PNG", "png")])
def test_pictures_of_papers_are_scans(town: Archive, tmp_path: Path, kind: str, extension: str) -> None:
    Image.new("L", (800, 1100), 240).save(tmp_path / "paper.bin", kind)
    town.papers.attach(KEEPER, tmp_path / "paper.bin", "A-N-21")
    assert [p.extension for p in town.papers.agreement(KEEPER, "A-N-21").papers] == [extension], "by what is in it, not by its name"
    assert "changed" in town.papers.attach(KEEPER, tmp_path / "paper.bin", "A-N-21")
    assert len(town.papers.agreement(KEEPER, "A-N-21").papers) == 1


def bad_scans(folder: Path) -> Iterator[tuple[Path, str]]:
    yield scan(folder / "locked.pdf", password="tide"), "locked with a password"
    (folder / "letter.docx").write_bytes(b"PK\x03\x04 a document")
    yield folder / "letter.docx", "none of them"
    whole = io.BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(0, 255, (400, 400), np.uint8)).save(whole, "JPEG")
    (folder / "half.jpg").write_bytes(whole.getvalue()[:20_000])
    yield folder / "half.jpg", "damaged"
    (folder / "broken.pdf").write_bytes(b"%PDF-1.7\nnothing follows")
    yield folder / "broken.pdf", "damaged|no page"
    (folder / "empty.pdf").write_bytes(b"")
    yield folder / "empty.pdf", "none of them"
    with (folder / "huge.pdf").open("wb") as stream:
        stream.write(b"%PDF-1.7\n")
        stream.truncate(300_000_000)
    yield folder / "huge.pdf", "300 MB; 50 are the most"
    small = io.BytesIO()
    Image.new("1", (8, 8)).save(small, "PNG")
    head = b"IHDR" + struct.pack(">II", 40_000, 40_000) + small.getvalue()[24:29]  # PNG (W3C) §11.2.2: it claims 1.6 thousand million dots
    (folder / "bomb.png").write_bytes(small.getvalue()[:12] + head + struct.pack(">I", zlib.crc32(head)) + small.getvalue()[33:])
    yield folder / "bomb.png", "more pages or dots"
    yield folder / "nowhere.pdf", "cannot be opened"


def test_what_is_no_scan_is_refused_and_nothing_is_lost(town: Archive, tmp_path: Path) -> None:
    town.papers.attach(KEEPER, scan(tmp_path / "good.pdf"), "A-N-21")
    before = town.papers.agreement(KEEPER, "A-N-21")
    for path, words in bad_scans(tmp_path):
        with pytest.raises(BadInput, match=words) as told:
            town.papers.attach(KEEPER, path, "A-N-21")
        assert "Nothing was kept" in told.value.remedy
    assert town.papers.agreement(KEEPER, "A-N-21") == before
    assert len(list((town.folder / "papers").rglob("*.pdf"))) == 1


def test_a_code_that_is_not_ours_or_somebody_else_s(town: Archive, tmp_path: Path) -> None:
    path, form = scan(tmp_path / "a.pdf"), town.papers.form(EDITOR, "N-22").reference
    foreign = next(code for n in range(4) if (code := code_of((n, 5, 6, 7), Coded.FORM)) != form)
    with pytest.raises(NotFound, match="No form of this archive"):
        town.papers.attach(KEEPER, path, foreign)
    wrong = form[:-1] + next(sign for sign in SIGNS if sign != form[-1])
    with pytest.raises(BadInput, match="one sign in it is wrong"):
        town.papers.found(EDITOR, wrong)
    with pytest.raises(Clash, match="somebody else"):
        town.papers.attach(KEEPER, path, "A-N-21", form)
    with pytest.raises(Clash, match="another kind of paper"):
        town.papers.attach(KEEPER, path, "A-N-21", town.papers.form(EDITOR, "N-21", "helper").reference)
    with pytest.raises(NotFound):
        town.papers.attach(KEEPER, path, "Edith Quill")
    agreement = {"code": "A-1", "person": "N-21", "kind": "recording", "form": "signed", "signed_on": "2026-05-01"}
    for paper_code, words in ((foreign, "no form with that code"), (form, "no form with that code"), ("FM", "is no code")):
        with pytest.raises(SheetError) as told:
            town.consent.add(KEEPER, {**agreement, "paper": paper_code}, ANSWERS)
        assert words in str(told.value.findings)


def test_a_child_that_dies_over_a_scan_is_a_refusal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("archive.gate.scan_pdf.SECONDS", 0.001)
    with pytest.raises(BadInput, match="more pages or dots"):
        paper.scan_of(scan(tmp_path / "slow.pdf"))


def test_where_an_agreement_is_spoken_it_can_be_played(town: Archive) -> None:
    spoken = {"code": "A-1", "person": "N-21", "kind": "recording", "form": "spoken", "signed_on": "2026-05-01", "interview": "IV-21"}
    town.consent.add(KEEPER, spoken, ANSWERS)
    town.papers.spoken(KEEPER, "A-1", "IV-21.1@0:01-0:02")
    (row,) = town.papers.agreement(EDITOR, "A-1").papers
    assert (row.recording, row.start_ms, row.end_ms) == ("IV-21.1", 1000, 2000)
    with pytest.raises(NotFound, match="ends before"):
        town.papers.spoken(KEEPER, "A-1", "IV-21.1@0:01-9:00")
    with pytest.raises(Clash, match="take part"):
        town.papers.spoken(KEEPER, "A-1", "IV-28.1@0:01-0:02")
    with pytest.raises(Clash, match="signed on paper"):
        town.papers.spoken(KEEPER, "A-N-21", "IV-21.1@0:01-0:02")
    with pytest.raises(SheetError) as told:
        town.consent.add(KEEPER, {**spoken, "code": "A-2", "copyright": "assigned"}, ANSWERS)
    assert "only by a signed paper" in str(told.value.findings)


def test_an_agreement_for_part_of_a_recording_covers_that_and_no_more(town: Archive) -> None:
    part = {"code": "A-1", "person": "N-21", "kind": "recording", "form": "signed", "signed_on": "2026-05-01", "covers": "IV-21.1@0:00.500-0:02", "supersedes": "A-N-21"}
    town.consent.add(KEEPER, part, ANSWERS)
    assert town.papers.agreement(EDITOR, "A-1").covers == "IV-21.1@0:00.5-0:02"
    assert town.deciding.may(EDITOR, "IV-21.1@0:00.5-0:02", "exhibition", Way.WORDS).allowed
    assert not town.deciding.may(EDITOR, "IV-21.1@0:00.5-0:03", "exhibition", Way.WORDS).allowed
    for covers, words in (("IV-21.1@0:01-9:00", "ends before"), ("IV-99.1@0:01-0:02", "covers"), ("all", "no stretch")):
        with pytest.raises(SheetError) as told:
            town.consent.add(KEEPER, {**part, "code": "A-2", "covers": covers}, ANSWERS)
        assert words in str(told.value.findings)


def test_an_agreement_rests_on_a_form_of_its_own_kind(town: Archive, tmp_path: Path) -> None:
    """An undertaking of confidentiality, or the form before an interview, is no permission to use a recording."""
    for kind in (FormKind.INTERPRETER, FormKind.PARTICIPATION):
        code = town.papers.form(EDITOR, "N-21", kind.value).reference
        town.papers.attach(KEEPER, scan(tmp_path / f"{kind}.pdf"), code)
        cells = {"code": f"A-{kind}", "person": "N-21", "kind": "recording", "form": "signed", "signed_on": "2025-03-01", "copyright": "assigned", "paper": code}
        with pytest.raises(SheetError) as told:
            town.consent.add(KEEPER, cells, ANSWERS)
        assert "another kind of paper" in str(told.value.findings)


@pytest.mark.parametrize(("day", "words"), [("2026-06-02", "still to come"), ("1939-12-31", "before N-21 was born")])
def test_an_agreement_on_a_day_that_cannot_be(town: Archive, day: str, words: str) -> None:
    with pytest.raises(SheetError) as told:
        town.consent.add(KEEPER, {"code": "A-1", "person": "N-21", "kind": "recording", "form": "signed", "signed_on": day}, ANSWERS)
    assert words in str(told.value.findings)
    with pytest.raises(NotFound):
        town.papers.agreement(KEEPER, "A-1")


def test_a_refusal_says_whose_paper_is_missing_and_offers_the_form(town: Archive) -> None:
    answer = town.deciding.may(EDITOR, "I-21", "exhibition", Way.WORDS)
    assert not answer.allowed and "No agreement of I-21 is on record. A form to be signed is printed on their page." in answer.sentences


# -- letters ---------------------------------------------------------------------------------------------------------------
def test_our_own_words_are_nobody_s_name(town: Archive) -> None:
    town.people.add(KEEPER, {"code": "P-51", "full": "May Voice", **PERSON})
    assert town.papers.letters_again(EDITOR, "exhibition", date(2027, 12, 31)).data
    with town.rooms.db.write() as connection, pytest.raises(Refused, match="names somebody"):
        letter_to(connection, town.rooms, "K-01", people.ids_by_code(connection)["N-21"], "May we ask you again?", ["It was May who said so."], fixed=["May we ask you again?"])


def test_everybody_who_must_be_asked_again_gets_a_letter_and_a_form(town: Archive) -> None:
    made = town.papers.letters_again(EDITOR, "exhibition", date(2027, 12, 31))
    with zipfile.ZipFile(io.BytesIO(made.data)) as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    listed = files.pop("list.txt").decode()
    asked = {r.person: r for r in town.papers.ask_again(EDITOR, "exhibition", date(2027, 12, 31)).rows if r.to}
    assert set(asked) == {"I-21", "C-21", "N-27"} and len(files) == 2 * len(asked), "N-27 was never asked for words"
    everybody = [m.name for m in cast.CAST] + ["Rhoda Vane", "Tom Aske"]
    for name in [*files, made.name]:
        assert not [part for person in everybody for part in person.split() if part in name]
    for code, name in (("I-21", "Rhoda Vane"), ("N-27", "Greta Holm")):
        mine = [read(files[f]) for f in re.findall(r"(?:letter|form)-\S+?\.pdf", next(line for line in listed.splitlines() if line.startswith(code)))]
        assert len(mine) == 2 and all(name in words for words in mine)
        assert not [other for other in everybody if other != name and any(other in words for words in mine)]
    assert "delete this list" in listed


def test_a_letter_obeys_the_rules_of_whom_it_goes_to(town: Archive) -> None:
    with town.rooms.db.write() as connection:
        ids = people.ids_by_code(connection)
        mine, hers, unknown = (letter_to(connection, town.rooms, "K-01", ids[c], "About your quotes", ["All is well.", ("One.", "Two.")]) for c in ("N-21", "N-28", "N-22"))
    told = read(mine.data)
    assert "Mrs Quill 4 Gull Steps Tarnwick" in told and told.count("Tarnwick Voices") == 3 and "Dear Mrs Quill," in told and any("Polish" in n for n in mine.notes)
    told = read(hers.data)
    assert "By hand Ottilie Crane" in told and "9 Ropewalk" not in told and told.count("Tarnwick Voices") == 2 and any("post nothing" in n for n in hers.notes)
    assert "By hand" in read(unknown.data) and any("voicemail" in n for n in unknown.notes)
    for letter, name in ((mine, "Quill"), (hers, "Crane"), (unknown, "Tarrow")):
        assert re.fullmatch(r"letter-LT-\w{5}\.pdf", letter.name)
        assert name not in str(pypdf.PdfReader(io.BytesIO(letter.data)).metadata)
    assert "Mrs Quill" in read(town.letters.envelope(EDITOR, "N-21").data)
    for code in ("N-28", "N-22"):
        with pytest.raises(Refused, match="hand it over"):
            town.letters.envelope(EDITOR, code)
    town.letters.say(KEEPER, "N-21", {"address": "4 Gull Steps"}, ["plain_envelope"], False)
    assert "Voices" not in read(town.letters.envelope(EDITOR, "N-21").data)
    with town.rooms.db.read() as connection:
        kept = connection.execute(text("SELECT group_concat(detail) FROM audit_detail")).scalar()
    assert "Quill" not in kept and "Gull Steps" not in kept


@pytest.mark.parametrize("words", ["Lena Fosse said the same.", "It hangs beside Walter Brine."])
def test_a_letter_names_nobody_but_whom_it_is_written_to(town: Archive, words: str) -> None:
    with town.rooms.db.write() as connection, pytest.raises(Refused, match="names somebody"):
        letter_to(connection, town.rooms, "K-01", people.ids_by_code(connection)["N-21"], "About your quotes", ["Edith Quill,", words])


def test_a_letter_in_letters_we_do_not_have_is_told(town: Archive) -> None:
    town.letters.say(KEEPER, "N-21", {"called": "Εδίθ"}, [], False)
    with town.rooms.db.write() as connection, pytest.raises(BadInput, match="Our fonts do not have"):
        letter_to(connection, town.rooms, "K-01", people.ids_by_code(connection)["N-21"], "About", ["Well."])


def test_an_address_that_is_none_changes_nothing(town: Archive) -> None:
    before = town.letters.contact(EDITOR, "N-21")
    for cells, rules in (({"address": "\n".join("abcdefghij")}, []), ({"called": "x" * 200}, []), ({}, ["shout"]), ({"language": "Elbonian"}, []), ({"language": "cy"}, [])):
        with pytest.raises(BadInput):
            town.letters.say(KEEPER, "N-21", cells, rules, False)
    assert town.letters.contact(EDITOR, "N-21") == before


def test_papers_are_for_keepers_and_editors(town: Archive, tmp_path: Path) -> None:
    path = scan(tmp_path / "a.pdf")
    for ask in (
        lambda: town.papers.form(READER, "N-21"), lambda: town.papers.found(READER, "FM-22222"), lambda: town.papers.forms(READER, "N-21"),
        lambda: town.papers.agreement(READER, "A-N-21"), lambda: town.papers.scan(READER, "0" * 64), lambda: town.papers.ask_again(READER, "web"),
        lambda: town.papers.letters_again(READER, "web"), lambda: town.letters.contact(READER, "N-21"), lambda: town.letters.envelope(READER, "N-21"),
        lambda: town.papers.attach(EDITOR, path, "A-N-21"), lambda: town.papers.spoken(EDITOR, "A-N-21", "IV-21.1@0:01-0:02"),
        lambda: town.letters.say(EDITOR, "N-21", {}, [], False), lambda: town.papers.add_use(EDITOR, "audio_guide", "audio guide"),
    ):  # fmt: skip
        with pytest.raises(NotAllowed):
            ask()
