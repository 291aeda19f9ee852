"""Field notes: read whole or not at all, found again by their code, for keepers and editors alone, printed without a name."""

from __future__ import annotations

import io
import re
from datetime import date
from pathlib import Path

import numpy as np
import pypdf
import pytest
import zxingcpp
from pypdf.generic import ContentStream
from sqlalchemy import text

from archive.app import Archive, Asked
from archive.errors import BadInput, NotAllowed, NotFound, SheetError
from archive.render.fieldsheet import FIELDS, field_sheets
from archive.services.notes import NOT_SAID, SOMEBODY
from tests import cast

HEADER = "code,about,who,where,when,with_what,in_the_room,remarks"


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return tmp_path / "notes.csv"


def write(sheet: Path, *rows: str) -> Path:
    sheet.write_text("\n".join([HEADER, *rows]) + "\n", encoding="utf-8")
    return sheet


def test_a_sheet_is_read_and_what_has_none_is_told(cast_archive: Archive, sheet: Path) -> None:
    notes = cast_archive.notes
    assert len(notes.page(cast.EDITOR).without) == len(cast.CAST)
    (blank,), _ = notes.print_sheets(cast.EDITOR, 1)
    write(sheet, f"{blank.lower()},IV-21,N-21; I-01,her kitchen,2025-02-01,two clip-on microphones,nobody,the clock was loud", ",IV-22.1,,the quay,,,a neighbour came in,")
    assert notes.read(cast.EDITOR, sheet) == 2
    page = notes.page(cast.EDITOR)
    assert set(page.without) == {f"IV-{m.code[2:]}" for m in cast.CAST} - {"IV-21", "IV-22"}, "notes about a recording are about its interview"
    found = notes.one(cast.KEEPER, f"  {blank[3:].lower()} ")
    assert (found.about, found.where, found.in_the_room, found.cautions) == ("IV-21", "her kitchen", "nobody", ())
    assert notes.one(cast.KEEPER, "IV-22.1").cautions == (SOMEBODY,)
    assert notes.read(cast.EDITOR, write(sheet, ",IV-21,,,,,,it rained")) == 1
    again = notes.one(cast.KEEPER, blank)
    assert (again.remarks, again.where) == ("it rained", "her kitchen"), "an empty cell leaves what is there; no second sheet is made"
    assert len(notes.page(cast.EDITOR).rows) == 2


def test_who_else_was_there_must_be_said(cast_archive: Archive) -> None:
    code = cast_archive.notes.write(cast.EDITOR, {"about": "IV-26", "who": "N-26"})
    assert cast_archive.notes.one(cast.EDITOR, code).cautions == (NOT_SAID,)
    cast_archive.notes.write(cast.EDITOR, {"code": code, "about": "IV-26", "in_the_room": "No one."})
    assert cast_archive.notes.one(cast.EDITOR, code).cautions == ()
    cast_archive.notes.write(cast.EDITOR, {"code": code, "about": "IV-26", "remarks": "short"}, whole=True)
    assert cast_archive.notes.one(cast.EDITOR, code).who == "", "the form keeps every field as it stands"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",IV-99,N-21,,,,,", "neither an interview nor a recording"),
        (",,N-21,,,,,", "“about” is empty"),
        ("FN-22223,IV-22,x,,,,,", "one sign in it is wrong"),
        ("FN-22222,IV-22,x,,,,,", "No sheet has this code"),
        (",IV-22,,,,,,", "Nothing is written in it"),
        (",IV-21,,,,,,again", "stands in this sheet already"),
    ],
)
def test_a_fault_keeps_everything_out(cast_archive: Archive, sheet: Path, row: str, words: str) -> None:
    cast_archive.notes.write(cast.EDITOR, {"about": "IV-21", "where": "before"})
    with pytest.raises(SheetError) as told:
        cast_archive.notes.read(cast.EDITOR, write(sheet, ",IV-21,,after,,,,", row))
    assert any("row 3" in f and words in f for f in told.value.findings), told.value.findings
    assert [n.where for n in cast_archive.notes.page(cast.EDITOR).rows] == ["before"]


def test_a_sheet_that_is_of_another_interview_is_not_overwritten(cast_archive: Archive) -> None:
    code = cast_archive.notes.write(cast.EDITOR, {"about": "IV-21", "where": "kitchen"})
    with pytest.raises(SheetError, match="fault"):
        cast_archive.notes.write(cast.EDITOR, {"code": code, "about": "IV-22", "where": "quay"})
    with pytest.raises(NotFound):
        cast_archive.notes.one(cast.EDITOR, "IV-22")
    with pytest.raises(BadInput):
        cast_archive.notes.one(cast.EDITOR, "kitchen")


def test_notes_are_for_keepers_and_editors_and_in_no_index(cast_archive: Archive, sheet: Path) -> None:
    cast_archive.notes.write(cast.EDITOR, {"about": "IV-21", "remarks": "Zephyrine Oddly said it"})
    for ask in (
        lambda: cast_archive.notes.page(cast.READER), lambda: cast_archive.notes.one(cast.READER, "IV-21"),
        lambda: cast_archive.notes.write(cast.READER, {"about": "IV-21", "remarks": "x"}), lambda: cast_archive.notes.read(cast.READER, sheet),
        lambda: cast_archive.notes.print_sheets(cast.READER, 1),
    ):  # fmt: skip
        with pytest.raises(NotAllowed):
            ask()
    for viewer in cast.VIEWERS:
        assert cast_archive.finding.ask(viewer, Asked("Zephyrine")).total == 0
    with cast_archive.rooms.db.read() as connection:
        kept = connection.execute(text("SELECT group_concat(detail) FROM audit_detail")).scalar()
    assert "Zephyrine" not in kept


# -- paper --------------------------------------------------------------------------------------------------------------------
def test_a_sheet_has_its_code_its_fields_and_nobody_s_name(cast_archive: Archive) -> None:
    """Read by pypdf, which did not write it."""
    codes, pdf = cast_archive.notes.print_sheets(cast.KEEPER, 3)
    assert len(set(codes)) == 3
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert len(reader.pages) == 3 and reader.pages[0].mediabox.width == pytest.approx(595.28, abs=0.1)  # ISO 216: A4 is 210 mm wide
    told = [page.extract_text() for page in reader.pages]
    whole = " ".join([*told, str(reader.metadata)])
    for code, page in zip(codes, told, strict=True):
        assert code in page and all(label in page for label, *_ in FIELDS)
    everybody = [m.name for m in cast.CAST] + [cast.THIRD[1], cast_archive.settings.name, cast_archive.settings.exhibition]
    assert not [part for name in everybody for part in name.split() if len(part) > 4 and part in whole]
    assert not [m.code for m in cast.CAST if re.search(rf"\b{m.code}\b", whole)], "a sheet's own code may begin FN-25"


def test_its_symbol_gives_the_code_back() -> None:
    """The squares of the finished page, drawn again from its own instructions, read by zxing (ISO/IEC 18004)."""
    code = "FN-7K3QW"
    page = pypdf.PdfReader(io.BytesIO(field_sheets([code], date(2026, 6, 1)))).pages[0]
    squares = [[float(v) for v in operands] for operands, operator in ContentStream(page["/Contents"].get_object(), page.pdf).operations if operator == b"re"]
    assert len(squares) > 100
    left, top = min(x for x, *_ in squares), max(max(y, y + h) for _, y, _, h in squares)
    picture = np.full((420, 420), 255, np.uint8)
    for x, y, w, h in squares:
        x0, y0 = 40 + (x - left) * 4, 40 + (top - max(y, y + h)) * 4
        picture[round(y0) : round(y0 + abs(h) * 4), round(x0) : round(x0 + w * 4)] = 0
    (found,) = zxingcpp.read_barcodes(picture)
    assert found.text == code and found.format == zxingcpp.BarcodeFormat.QRCode


def test_the_same_sheets_are_the_same_bytes() -> None:
    assert field_sheets(["FN-7K3QW"], date(2026, 6, 1)) == field_sheets(["FN-7K3QW"], date(2026, 6, 1))
