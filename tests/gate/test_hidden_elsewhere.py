"""Somebody on nobody's record is hidden: in titles, on panels, in folders and in every file of an export, and innocent words pass."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import text

from archive.app import Archive
from archive.errors import BadInput
from archive.gate.clear import clear
from archive.gate.scan import matcher_for
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.gate.conftest import AddInterview, read_by
from tests.gate.test_what_may_not_pass import name_at

TALE = "then Osbert Grimshaw held the rope and my mother put the kettle on for Ted"
WHO = "Osbert Grimshaw"


@pytest.fixture
def told(cast_archive: Archive, add_interview: AddInterview) -> Archive:
    """IV-83.1 names a third party who was hidden, and a Ted who waits for a decision."""
    code = add_interview(cast_archive, 83, ["N-21:narrator"], [("N-21", cast.words_of(TALE))])
    cast_archive.naming.decide(EDITOR, code, *name_at(cast_archive, code, WHO), "", "hide")
    assert read_by(cast_archive, READER, code) == "then [name withheld] held the rope and my mother put the kettle on for [name withheld]"
    return cast_archive


def titled(archive: Archive, code: str, title: str) -> str:
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE recording SET title = :title WHERE code = :code"), {"title": title, "code": code})
    for viewer in (EDITOR, KEEPER):
        assert archive.recordings.page(viewer, code).shown.title == title, "the team reads it whole"
    assert archive.recordings.page(READER, code).row.title == archive.recordings.page(READER, code).shown.title
    return archive.recordings.page(READER, code).shown.title


def test_who_withdrew_is_named_in_no_title_of_what_others_say(cast_archive: Archive, add_interview: AddInterview) -> None:
    code = add_interview(cast_archive, 84, ["N-21:narrator", "N-28:narrator"], [("N-21", cast.words_of("She sang all the day long"))])
    assert titled(cast_archive, code, "Ottilie Crane sings") == "Ottilie Crane sings"
    cast_archive.consent.withdraw(KEEPER, "N-28", how="letter")
    assert "Ottilie" not in cast_archive.recordings.page(READER, code).shown.title


TITLES = (
    ("Osbert Grimshaw’s rope", "[name withheld]’s rope"), ("The Grimshaws", "The [name withheld]"), ("Grimshaw, Osbert", "[name withheld]"),
    ("GRIMSHAW and the kettle", "[name withheld] and the kettle"), ("Rope for Ted", "Rope for [name withheld]"),
)  # fmt: skip
INNOCENT = ("My mother’s kettle", "The rope", "Then and now", "Tedding hay", "Edith Quill")


@pytest.mark.parametrize(("title", "shown"), TITLES)
def test_a_title_hides_whom_its_recording_hides(told: Archive, title: str, shown: str) -> None:
    assert titled(told, "IV-83.1", title) == shown


@pytest.mark.parametrize("title", INNOCENT)
def test_innocent_titles_stand(told: Archive, title: str) -> None:
    assert titled(told, "IV-83.1", title) == title


def test_a_title_elsewhere_hides_who_was_decided_and_no_namesake(told: Archive) -> None:
    assert titled(told, "IV-26.1", "Grimshaw and Ted") == "[name withheld] and Ted"


PANELS = (("Grimshaw’s rope", True), ("Ted", True), ("My mother’s kettle", False), ("The rope", False), ("The crew", False))


@pytest.mark.parametrize(("panel", "refused"), PANELS)
def test_a_panel_beside_the_quote(told: Archive, panel: str, refused: bool) -> None:
    quote = told.excerpts.choose(EDITOR, "IV-83.1", "held the rope and my mother put the kettle on", "exhibition", panel=panel)
    report = told.exports.make(EDITOR, [quote], "exhibition")
    assert bool(report.refused) is refused and bool(report.files) is not refused


def test_the_last_scan_looks_for_it_in_every_file(told: Archive, add_interview: AddInterview, tmp_path: Path) -> None:
    """Said elsewhere at the beginning of a sentence, by a rule that did not see it: the files are refused, the words never told."""
    code = add_interview(told, 84, ["N-21:narrator"], [("N-21", cast.words_of("it rained. and the mother of it all was the rope"))])
    rain = told.excerpts.choose(EDITOR, code, "the mother of it all was the rope", "exhibition", panel="The kettle")
    assert told.exports.make(EDITOR, [rain], "exhibition").files, "descriptions and common words pass"
    with pytest.raises(BadInput):
        told.exports.make(EDITOR, [rain], "exhibition", tmp_path / "Grimshaw")
    with told.rooms.db.read() as connection:
        cleared = clear(connection, [rain], "exhibition", told.rooms.context(), "Tarnwick Voices", 120, "X-1").export
    matcher = matcher_for(cleared.forbidden, cleared.allowed)
    for planted in ("Osbert Grimshaw", "GRIMSHAW", "Grimshaw’s", "Grim\u00adshaw", "Osb\u0435rt Grimshaw"):
        assert matcher.first_hit(f"so {planted} went") is not None, planted
    for innocent in ("my mother put the kettle on", "Ted went", "a grim shaw of trees", "the rope", "osbert the cat"):
        assert matcher.first_hit(innocent) is None, innocent


def test_what_was_kept_there_stands_there(told: Archive, add_interview: AddInterview) -> None:
    code = add_interview(told, 85, ["N-21:narrator"], [("N-21", cast.words_of("so we asked Osbert Grimshaw about it"))])
    told.naming.decide(EDITOR, code, *name_at(told, code, WHO), "", "keep")
    quote = told.excerpts.choose(EDITOR, code, "so we asked Osbert Grimshaw about it", "exhibition")
    files = told.exports.make(EDITOR, [quote], "exhibition").files
    assert any(WHO in Path(f).read_text(encoding="utf-8") for f in files if f.endswith("quotes.json"))


def test_a_new_interview_hides_who_was_hidden_before(told: Archive, add_interview: AddInterview) -> None:
    """Where no rule takes it for a name: what the last scan would refuse is hidden on the page as well."""
    code = add_interview(told, 86, ["N-21:narrator"], [("N-21", cast.words_of("Grimshaw's rope it was"))])
    assert read_by(told, READER, code) == "[name withheld]’s rope it was"
