"""Sheets as people make them: what is wrong is told with file, row and what to do; nothing of a faulty one is taken."""

from __future__ import annotations

import sqlite3
import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.app import Archive
from archive.db.session import FILE_NAME
from archive.db.tables import metadata
from archive.errors import SheetError
from archive.services.sheets import Sheet
from tests import cast

PEOPLE = "code,full,first,family,attribution,voice,review,born,scan,nick,note\n"
GOOD = "N-31,Ada Marl,Ada,Marl,full,as_recorded,not_wanted,1941,always,,\n"


def sheet(folder: Path, text: str | bytes, name: str = "people.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def contents(archive: Archive) -> dict[str, list[tuple[object, ...]]]:
    """Every row of the archive but accounts and jobs."""
    raw = sqlite3.connect(archive.folder / FILE_NAME)
    try:
        return {t.name: list(raw.execute(f'SELECT * FROM "{t.name}" ORDER BY rowid')) for t in metadata.sorted_tables}
    finally:
        raw.close()


def refused(archive: Archive, read: Callable[[], object]) -> SheetError:
    """The fault of a sheet, after which nothing at all may have changed."""
    before = contents(archive)
    with pytest.raises(SheetError) as told:
        read()
    assert contents(archive) == before, "something of a faulty sheet was taken"
    assert told.value.exit_code == 2
    return told.value


def all_words(error: SheetError) -> str:
    return " ".join([error.message, *error.findings, error.remedy])


# --- how spreadsheets save them -------------------------------------------------------------------------------------


@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"], ids=["plain", "BOM"])
@pytest.mark.parametrize("mark", [",", ";"], ids=["commas", "semicolons"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"], ids=["LF", "CRLF", "CR"])
def test_every_way_a_spreadsheet_saves(tmp_path: Path, bom: bytes, mark: str, ends: str) -> None:
    rows = [["code", "words"], ["N-1", f"one{',' if mark == ';' else ';'} two"], ["", ""], ["N-2", "zwölf"]]
    text = ends.join(mark.join(r) for r in rows) + ends
    made = Sheet(sheet(tmp_path, bom + text.encode("utf-8")), ("code", "words"), key=("code",))
    found = [(r.number, r["code"], r["words"]) for r in made]
    made.done()
    assert found == [(2, "N-1", rows[1][1]), (4, "N-2", "zwölf")]


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), max_size=12)


@given(table=st.lists(st.tuples(CELLS, CELLS), min_size=1, max_size=6), mark=st.sampled_from(",;"))
def test_whatever_stands_in_a_cell_is_read_back(tmp_path_factory: pytest.TempPathFactory, table: list[tuple[str, str]], mark: str) -> None:
    """Quoted as RFC 4180 says, 2.5-2.7; cells come back stripped and in NFC."""
    text = mark.join(["one", "two"]) + "\n"
    text += "".join(mark.join('"' + c.replace('"', '""') + '"' for c in row) + "\n" for row in table)
    made = Sheet(sheet(tmp_path_factory.getbasetemp(), text, "any.csv"), ("one", "two"))
    wanted = [tuple(unicodedata.normalize("NFC", c).strip() for c in row) for row in table]
    assert [(r["one"], r["two"]) for r in made] == [row for row in wanted if any(row)]


def test_names_of_files_are_compared_in_one_form(tmp_path: Path) -> None:
    """A Mac writes ü in two parts (NFD)."""
    made = Sheet(sheet(tmp_path, "file\n" + unicodedata.normalize("NFD", "Grüße.wav") + "\n"), ("file",))
    assert [r["file"] for r in made] == ["Grüße.wav"]


# --- faults ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "row", "said"),
    [
        (PEOPLE.replace("attribution,", "") + GOOD, "row 1", "“attribution” is missing"),
        (PEOPLE + GOOD + GOOD.replace("Ada Marl", "Ida Marl"), "row 3", "stands in row 2 already"),
        (PEOPLE + GOOD.replace("1941", "the year of the flood"), "row 2", "“born”"),
        (PEOPLE + GOOD.replace("full,as_recorded", "fully,as_recorded"), "row 2", "“fully” in “attribution” is not known"),
        (PEOPLE + GOOD.replace(",,\n", ",,said, twice\n"), "row 2", "more cells"),
        (PEOPLE + GOOD.replace("N-31", ""), "row 2", "“code” is empty"),
        (PEOPLE + GOOD.replace(",,\n", ',,"never closed\n'), "row 2", "quotation mark"),
        (PEOPLE.replace("note", "full") + GOOD, "row 1", "twice"),
    ],
    ids=["missing column", "one code twice", "no date", "no choice", "too many cells", "no code", "open quote", "column twice"],
)
def test_a_fault_is_told_with_file_row_and_what_to_do(cast_archive: Archive, tmp_path: Path, text: str, row: str, said: str) -> None:
    error = refused(cast_archive, lambda: cast_archive.people.read(cast.KEEPER, sheet(tmp_path, text)))
    words = all_words(error)
    assert "people.csv" in words and row in words and said in words, words
    assert error.remedy and "othing" in words  # nothing was taken, and what to do


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "“code”"),
        (b"\n\n", "“code”"),
        ((PEOPLE + GOOD.replace("Marl", "Märl")).encode("latin-1"), "UTF-8"),
        ((PEOPLE + GOOD).encode("utf-16"), "UTF-8"),
        (b"code,full,attribution,voice,review\nN-1,A\x00B,full,,\n", "not a sheet"),
        (b"PK\x03\x04" + bytes(range(256)), "UTF-8"),
        (PEOPLE.encode() + b"x" * 200_000 + b"\n", "far too long"),
    ],
    ids=["empty", "only line ends", "Latin-1", "UTF-16", "NUL", "a spreadsheet's own file", "one endless cell"],
)
def test_what_is_no_sheet_is_told(cast_archive: Archive, tmp_path: Path, data: bytes, said: str) -> None:
    error = refused(cast_archive, lambda: cast_archive.people.read(cast.KEEPER, sheet(tmp_path, data)))
    assert "people.csv" in error.message and said in all_words(error)


def test_a_sheet_that_is_not_there_is_told(cast_archive: Archive, tmp_path: Path) -> None:
    for path in (tmp_path / "people.csv", tmp_path):
        assert "cannot be opened" in refused(cast_archive, lambda path=path: cast_archive.people.read(cast.KEEPER, path)).message


def test_every_fault_is_told_at_once(cast_archive: Archive, tmp_path: Path) -> None:
    text = PEOPLE + GOOD.replace("1941", "x") + GOOD.replace("N-31", "N-32").replace("always", "sometimes")
    error = refused(cast_archive, lambda: cast_archive.people.read(cast.KEEPER, sheet(tmp_path, text)))
    assert sorted(f.split(":")[0] for f in error.findings) == ["people.csv, row 2", "people.csv, row 3"]
    assert "2 faults" in error.message


AGREEMENTS = "code,person,interview,kind,form,signed_on\nA-1,N-21,IV-21,recording,signed,2025-03-01\n"
PERMISSIONS = "agreement,use,way,answer,exhibition,from_on,until_on,conditions\nA-1,web,words,yes,,,2027-01-31,\n"


@pytest.mark.parametrize(
    ("agreements", "permissions", "said"),
    [
        (AGREEMENTS.replace("2025-03-01", "01.03.2025"), PERMISSIONS, "“01.03.2025” in “signed_on” is no date"),
        (AGREEMENTS.replace("2025-03-01", ""), PERMISSIONS, "“signed_on” is empty"),
        (AGREEMENTS.replace("2025-03-01", "2026-06-02"), PERMISSIONS, "“signed_on” is 2 June 2026, which is still to come"),
        (AGREEMENTS.replace("2025-03-01", "1939-12-31"), PERMISSIONS, "before N-21 was born"),
        (AGREEMENTS.replace("\n", ",supersedes\n", 1).replace("2025-03-01", "2025-01-09,A-N-21"), PERMISSIONS, "dated before A-N-21, whose place it is to take"),
        (AGREEMENTS.replace("N-21", "N-99"), PERMISSIONS, "“N-99” in “person” is not on record"),
        (AGREEMENTS.replace("recording,signed", "recording,sung"), PERMISSIONS, "“sung” in “form”"),
        (AGREEMENTS, PERMISSIONS.replace("A-1", "A-9"), "“A-9” in “agreement” is not on record"),
        (AGREEMENTS, PERMISSIONS.replace("web", "webb"), "“webb” in “use” is not on record"),
        (AGREEMENTS, PERMISSIONS.replace("yes", "maybe"), "“maybe” in “answer”"),
        (AGREEMENTS, PERMISSIONS.replace("yes", ""), "“answer” is empty"),
        (AGREEMENTS, PERMISSIONS.replace(",,,2027-01-31", ",,2027-02-01,2027-01-31"), "end before it begins"),
        (AGREEMENTS, PERMISSIONS.replace("2027-01-31", "2027-02-30"), "is no date"),
    ],
)  # fmt: skip
def test_a_fault_in_either_sheet_keeps_both_out(
    cast_archive: Archive, tmp_path: Path, agreements: str, permissions: str, said: str
) -> None:
    first, second = sheet(tmp_path, agreements, "agreements.csv"), sheet(tmp_path, permissions, "permissions.csv")
    error = refused(cast_archive, lambda: cast_archive.consent.read(cast.KEEPER, first, second))
    assert said in all_words(error) and "row 2" in all_words(error)


def test_closed_stretches_speakers_names_and_quotes(cast_archive: Archive, tmp_path: Path) -> None:
    """The other sheets that name a file and a time or words: each fault with its row, nothing taken."""
    closed = "file,start_s,end_s,kind,until_on,reason\n"
    for row, said in (
        ("IV-99.wav,1,2,sealed,,\n", "No recording came from"),
        ("IV-21.wav,2,1,sealed,,\n", "must end after it starts"),
        ("IV-21.wav,-2,1,sealed,,\n", "no time in seconds"),
        ("IV-21.wav,inf,1,sealed,,\n", "no time in seconds"),
        ("IV-21.wav,1:30,2,sealed,,\n", "no time in seconds"),
        ("IV-21.wav,1,2,shut,,\n", "“shut” in “kind”"),
        ("IV-21.wav,1,2,sealed,soon,\n", "“soon” in “until_on” is no date"),
    ):
        error = refused(cast_archive, lambda row=row: cast_archive.consent.read_closed(cast.KEEPER, sheet(tmp_path, closed + row, "closed.csv")))
        assert "closed.csv, row 2" in all_words(error) and said in all_words(error)
    speakers = "file,start_s,end_s,person\nIV-21.wav,0,5,N-77\n"
    error = refused(cast_archive, lambda: cast_archive.recordings.read_speakers(cast.EDITOR, sheet(tmp_path, speakers, "speakers.csv")))
    assert "“N-77” in “person” is not on record" in all_words(error)
    mentions = "file,words,decision,person,note,by\nIV-21.wav,Walter Brine,keep,,,\nIV-21.wav,Walter Brine,perhaps,,,\n"
    error = refused(cast_archive, lambda: cast_archive.naming.read(cast.EDITOR, sheet(tmp_path, mentions, "mentions.csv")))
    assert "mentions.csv, row 3" in all_words(error)
    heard = "file,quote,use,panel,note,heard_by\nIV-21.wav,We carried the lantern,exhibition,,,\nIV-21.wav,down Net Row,exhibitoin,,,\n"
    error = refused(cast_archive, lambda: cast_archive.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, heard, "heard.csv")))
    assert "heard.csv, row 3" in all_words(error) and "“exhibitoin” in “use”" in all_words(error)


def test_a_quote_that_differs_is_told_and_the_others_are_chosen(cast_archive: Archive, tmp_path: Path) -> None:
    heard = "file,quote,use,panel,note,heard_by\nIV-21.wav,We dropped the lantern,exhibition,,,\nIV-21.wav,We carried the lantern,exhibition,,,E-01\n"
    path = sheet(tmp_path, heard, "heard.csv")
    for _ in range(2):
        wrong, right = cast_archive.excerpts.read_heard(cast.EDITOR, path)
        assert (wrong.row, wrong.excerpt) == (2, "") and "dropped" in wrong.words
        assert (right.row, right.heard) == (3, True) and right.excerpt == "EX-1"


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("places.csv", "name,kind,within,also,heard_as,from,until,same_as,x_m,y_m\nNew Wharf,quay,Tarnwyck,,,,,,,\n", "“Tarnwyck” is no place on record"),
        ("places.csv", "name,kind,within,also,heard_as,from,until,same_as,x_m,y_m\nNew Wharf,quay,Tarnwick,,,long ago,,,,\n", "“from”"),
        ("places.csv", "name,kind,within,also,heard_as,from,until,same_as,x_m,y_m\nNew Wharf,quay,Tarnwick,,,,,,one,\n", "no whole number"),
        ("places.csv", f"name,kind,within,x_m,y_m\nNew Wharf,quay,Tarnwick,{10**30},1\n", "no whole number"),
        ("events.csv", "name,edtf,also\nthe regatta,last summer,\n", "“edtf”"),
        ("themes.csv", "theme,broader,scope_note,words\nrope,crafts,,rope\n", "“crafts” is no theme on record"),
    ],
)  # fmt: skip
def test_sheets_that_describe(cast_archive: Archive, tmp_path: Path, name: str, text: str, said: str) -> None:
    path = sheet(tmp_path, text, name)
    read = {"places.csv": cast_archive.places.read, "events.csv": cast_archive.describing.read_events, "themes.csv": cast_archive.themes.read}
    error = refused(cast_archive, lambda: read[name](cast.EDITOR, path))
    assert f"{name}, row 2" in all_words(error) and said in all_words(error)


# --- read again -------------------------------------------------------------------------------------------------------


def test_reading_the_samples_sheets_again_is_harmless(tmp_path: Path) -> None:
    """Every sheet of sample_media twice: the second time adds nothing but its line on record."""
    media = Path(__file__).resolve().parents[2] / "sample_media"
    archive = Archive.create(tmp_path / "archive", cast.KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock)

    def read() -> tuple[object, ...]:
        people = archive.people.read(cast.KEEPER, media / "people.csv")
        papers = archive.consent.read(cast.KEEPER, media / "agreements.csv", media / "permissions.csv")
        archive.places.read(cast.EDITOR, media / "places.csv")
        archive.describing.read_events(cast.EDITOR, media / "events.csv")
        archive.themes.read(cast.EDITOR, media / "themes.csv")
        return people, papers

    (new, known), (papers, answers) = read()
    assert new and papers and answers and not known
    before = contents(archive)
    assert read() == ((0, new), (0, 0))
    after = contents(archive)
    for name in sorted(set(before) - {"audit", "audit_detail", "person_name", "place_name"}):
        assert after[name] == before[name], name
    for name in ("person_name", "place_name"):
        assert sorted(r[1:] for r in after[name]) == sorted(r[1:] for r in before[name])
    archive.close()


def test_the_last_day_on_paper_still_counts(cast_archive: Archive, tmp_path: Path) -> None:
    """Paper says the last day; the row holds the first day on which it no longer holds (DESIGN §6)."""
    cast_archive.consent.read(cast.KEEPER, sheet(tmp_path, AGREEMENTS, "agreements.csv"), sheet(tmp_path, PERMISSIONS, "permissions.csv"))
    assert contents(cast_archive)["permission"][-1][6:8] == (None, "2027-02-01")
