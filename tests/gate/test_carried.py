"""Decisions about names when a recording is transcribed anew: on a real database, through every door that shows or gives."""

from __future__ import annotations

from pathlib import Path

import pytest

from archive.app import Archive, Asked
from archive.db import audit, mentions, recordings
from archive.db.mentions import Mention
from archive.domain.values import Decision, Word
from archive.gate.carried import LOST, OTHERWISE
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.gate.conftest import AddInterview, read_by
from tests.gate.test_what_may_not_pass import name_at

TALE = "we carried it down and bertie cole held the rope for us that night"  # in small letters: no rule takes it for a name


def said_again(archive: Archive, code: str, words: list[Word]) -> None:
    cast.give_words(archive, code, [("N-21", words)])


def hide(archive: Archive, code: str, words: str, decision: str = "hide", instead: str = "") -> None:
    archive.naming.decide(EDITOR, code, *name_at(archive, code, words), "", "hide", "", instead)
    if decision != "hide":
        archive.naming.decide(EDITOR, code, *name_at(archive, code, words), "", decision)


def on_record(archive: Archive, code: str) -> list[Mention]:
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        return mentions.current(connection, row.id)


@pytest.fixture
def told(cast_archive: Archive, add_interview: AddInterview) -> tuple[Archive, str]:
    """An interview in which a third party, who is on nobody's record, is said to be hidden."""
    code = add_interview(cast_archive, 80, ["N-21:narrator"], [("N-21", cast.words_of(TALE))])
    hide(cast_archive, code, "bertie cole", instead="[a neighbour]")
    return cast_archive, code


@pytest.mark.parametrize("shift_ms", [-240, -90, 35, 180, 500])
def test_a_hidden_name_is_hidden_where_it_is_said_now_and_its_neighbours_are_read(told: tuple[Archive, str], shift_ms: int) -> None:
    archive, code = told
    said_again(archive, code, cast.words_of(TALE, 500 + shift_ms))
    assert read_by(archive, READER, code) == "we carried it down and [a neighbour] held the rope for us that night"
    assert archive.finding.ask(READER, Asked("bertie")).total == 0
    with archive.rooms.db.read() as connection:
        assert [e.detail["stretches"] for e in audit.of_action(connection, "names carried")] == [1]


def test_where_by_chance_another_word_stands_between_the_same_edges_both_are_hidden(told: tuple[Archive, str]) -> None:
    archive, code = told
    said_again(archive, code, cast.words_of(TALE, 500 + cast.WORD_MS))
    assert read_by(archive, READER, code) == "we carried it down [a neighbour] held the rope for us that night"


def test_a_name_that_is_not_found_again_stays_hidden_around_and_somebody_is_told(told: tuple[Archive, str]) -> None:
    archive, code = told
    said_again(archive, code, cast.words_of(TALE.replace("bertie cole ", "")))
    assert "and held" not in read_by(archive, READER, code) and "[name withheld]" in read_by(archive, READER, code)
    assert [m.rule for m in on_record(archive, code) if m.decision == Decision.UNDECIDED] == [LOST]
    assert len(archive.naming.waiting(EDITOR, code)) == 1
    said_again(archive, code, cast.words_of(TALE, 620))  # heard once more: it is there again
    assert "bertie" not in read_by(archive, READER, code) and "cole" not in read_by(archive, READER, code)


def test_heard_as_other_words_it_is_hidden_with_them(told: tuple[Archive, str]) -> None:
    archive, code = told
    said_again(archive, code, cast.words_of(TALE.replace("bertie cole", "Bertie coal er"), 560))
    assert read_by(archive, READER, code) == "we carried it down and [a neighbour] held the rope for us that night"


def test_the_excerpt_that_pins_the_old_words_is_as_it_was_and_follows_todays_decisions(told: tuple[Archive, str]) -> None:
    archive, code = told
    quote = archive.excerpts.choose(EDITOR, code, "carried it down and [a neighbour] held the rope", "exhibition")
    archive.excerpts.tick_heard(EDITOR, quote)
    (before,) = archive.excerpts.list(EDITOR)
    said_again(archive, code, cast.words_of(TALE, 590))
    (after,) = archive.excerpts.list(EDITOR)
    assert after.shown_sha256 == before.shown_sha256 and after.heard, "another transcript voids no tick"
    hide(archive, code, "the rope")
    (again,) = archive.excerpts.list(EDITOR)
    assert again.leaving is not None and again.leaving.words == "carried it down and [a neighbour] held [name withheld]"
    assert "rope" not in told_by(archive, quote)


def told_by(archive: Archive, quote: str) -> str:
    files = archive.exports.make(EDITOR, [quote], "exhibition").files
    return " ".join(Path(f).read_text(encoding="utf-8") for f in files if f.endswith((".json", ".vtt", ".srt")))


def test_what_was_kept_is_kept_where_the_same_words_stand_and_undecided_otherwise(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    code = add_interview(archive, 81, ["N-21:narrator"], [("N-21", cast.words_of("then my cousin Ted Grimshaw came down to see us"))])
    archive.naming.decide(EDITOR, code, *name_at(archive, code, "my cousin Ted Grimshaw"), "", "keep")
    said_again(archive, code, cast.words_of("then my cousin Ted Grimshaw came down to see us", 730))
    assert read_by(archive, READER, code) == "then my cousin Ted Grimshaw came down to see us"
    said_again(archive, code, cast.words_of("then my cousin Ted Brimsley came down to see us", 690))
    assert "Ted" not in read_by(archive, READER, code) and "Brimsley" not in read_by(archive, READER, code)
    assert OTHERWISE in {m.rule for m in on_record(archive, code) if m.decision == Decision.UNDECIDED}


def test_what_was_kept_lets_no_other_name_stand_in_its_place(cast_archive: Archive, add_interview: AddInterview) -> None:
    """A word put in before: exactly between the edges of what was kept another name is said."""
    archive = cast_archive
    code = add_interview(archive, 82, ["N-21:narrator"], [("N-21", cast.words_of("and old Teller came with Mrs Grimshaw then"))])
    archive.naming.decide(EDITOR, code, *name_at(archive, code, "Mrs Grimshaw"), "", "keep")
    said_again(archive, code, cast.words_of("and down came old Teller Mrs Osbertson then"))
    shown = read_by(archive, READER, code)
    assert "Teller" not in shown and "Osbertson" not in shown
    quote = archive.excerpts.choose(EDITOR, code, "and down came old Teller Mrs Osbertson then", "exhibition")
    assert "Osbertson" not in told_by(archive, quote)


def test_whoever_is_on_record_is_carried_with_who_decided_and_when(cast_archive: Archive) -> None:
    archive = cast_archive
    text = cast.QUOTES["N-21"]
    archive.naming.decide(KEEPER, "IV-21.1", *name_at(archive, "IV-21.1", "Walter Brine"), "P-41", "keep", "his son agreed")
    cast.give_words(archive, "IV-21.1", [("N-21", cast.words_of(text, 640))])
    assert "Walter Brine" in read_by(archive, READER, "IV-21.1")
    kept = [m for m in on_record(archive, "IV-21.1") if m.decision == Decision.KEEP]
    assert len(kept) == 2 and {(m.by, m.how) for m in kept} == {("K-01", "his son agreed")}
    quote = archive.excerpts.choose(EDITOR, "IV-21.1", text, "exhibition")
    assert "Walter Brine" in told_by(archive, quote)
    archive.naming.decide(KEEPER, "IV-21.1", *name_at(archive, "IV-21.1", "Walter Brine"), "P-41", "hide")
    assert "Brine" not in told_by(archive, quote)


def test_the_same_transcript_again_adds_nothing(told: tuple[Archive, str]) -> None:
    archive, code = told
    before = on_record(archive, code)
    said_again(archive, code, cast.words_of(TALE))
    assert on_record(archive, code) == before


def test_speakers_assigned_carry_nothing(told: tuple[Archive, str]) -> None:
    archive, code = told
    before = on_record(archive, code)
    (utterance,) = archive.recordings.page(EDITOR, code).shown.utterances
    archive.recordings.assign(EDITOR, code, {utterance.utterance_id: ""})
    assert on_record(archive, code) == before
