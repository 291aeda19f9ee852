"""The glossary: typed and read from a sheet, shown where its words are said, without anybody's name."""

from __future__ import annotations

from pathlib import Path

import pytest

from archive.app import Archive
from archive.errors import NotAllowed, NotFound, SheetError
from tests import cast
from tests.cast import EDITOR, READER, VIEWERS

HEAD = "word,language,meanings,sensitive,source,note\n"
OPEN = cast.recording_of("N-28")


def read(archive: Archive, folder: Path, *rows: str) -> int:
    path = folder / "glossary.csv"
    path.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return archive.glossary.read(EDITOR, path)


def test_a_sheet_is_read_and_corrected_by_the_same_word(cast_archive: Archive, tmp_path: Path) -> None:
    assert read(cast_archive, tmp_path, "windlass,en,a winch; a hoist,no,a ship's cook,", "hiraeth,Welsh,longing for home,yes,,") == 2
    assert cast_archive.glossary.write(EDITOR, {"word": "windlass", "language": "English", "meanings": "a winch"}) == 1
    rows = cast_archive.glossary.list(READER)
    assert [(r.word, r.language, r.language_name, r.meanings, r.sensitive) for r in rows] == [
        ("hiraeth", "cy", "Welsh", ("longing for home",), True), ("windlass", "en", "English", ("a winch",), False),
    ]  # fmt: skip
    cast_archive.glossary.write(EDITOR, {"word": "hiraeth", "language": "cy", "meanings": "longing for home", "source": "told by N-28."})
    assert [cast_archive.glossary.called(v, "hiraeth").row.source for v in (EDITOR, READER)] == ["told by N-28.", ""], "codes are the team's"
    for told in ("N-28’s mother", "N-21/N-28", "“N-28”", "[N-28]"):
        cast_archive.glossary.write(EDITOR, {"word": "hiraeth", "language": "cy", "meanings": "longing for home", "source": told})
        assert cast_archive.glossary.called(READER, "hiraeth").row.source == ""
    with pytest.raises(NotAllowed):
        cast_archive.glossary.write(READER, {"word": "rope", "language": "en", "meanings": "a line"})
    cast_archive.glossary.drop(EDITOR, 1)
    with pytest.raises(NotFound):
        cast_archive.glossary.called(READER, "windlass")


@pytest.mark.parametrize(
    ("row", "why"),
    [("rope,Elbonian,a line,,,", "language"), ("rope,en,,,,", "meanings"), (",en,a line,,,", "word"), ("rope,en,a line,perhaps,,", "sensitive"),
     ("brine,en,what Walter Brine was called,,,", "name stands in it"), ("rope,en,a line,,Lena Fosse,", "name stands in it"), ("r" * 121 + ",en,a line,,,", "120 letters")],
)  # fmt: skip
def test_a_fault_is_named_with_its_row_and_nothing_is_taken(cast_archive: Archive, tmp_path: Path, row: str, why: str) -> None:
    with pytest.raises(SheetError) as told:
        read(cast_archive, tmp_path, "windlass,en,a winch,,,", row)
    assert why in " ".join(told.value.findings) and "row 3" in told.value.findings[0]
    assert not any(n in " ".join(told.value.findings) for n in ("Walter", "Fosse"))
    assert cast_archive.glossary.list(EDITOR) == ()


@pytest.mark.parametrize("viewer", VIEWERS, ids=lambda v: v.role.value)
def test_it_shows_where_a_word_is_said_and_marks_it_there(cast_archive: Archive, tmp_path: Path, viewer: cast.Viewer) -> None:
    read(cast_archive, tmp_path, "windlass,en,a winch,,,", "capstan,en,a winch that stands,,,", "greasing twice,en,a job,,,")
    page = cast_archive.glossary.called(viewer, "Windlass")
    assert [h.recording for h in page.found.hits] == [OPEN]
    assert cast_archive.glossary.called(viewer, "capstan").found.total == 0, "said in closed speech alone"
    shown = cast_archive.recordings.page(viewer, OPEN).shown
    ((places, entries),) = cast_archive.glossary.marked(viewer, shown.utterances).values()
    assert [shown.utterances[0].words[n].text for n in places] == ["windlass"] and [e.word for e in entries] == ["windlass"]


def test_an_entry_whose_word_came_to_be_a_hidden_name_is_gone_for_readers(cast_archive: Archive, tmp_path: Path) -> None:
    read(cast_archive, tmp_path, "Ropewalk,en,where rope was made,,,", "windlass,en,a winch,,Bertie Cole told us,")
    assert len(cast_archive.glossary.list(READER)) == 2
    cast_archive.people.add(cast.KEEPER, {"code": "P-77", "full": "Bertie Cole", "attribution": "unnamed"})
    assert [r.word for r in cast_archive.glossary.list(READER)] == ["Ropewalk"] and len(cast_archive.glossary.list(EDITOR)) == 2
