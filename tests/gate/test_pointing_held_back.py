"""Who is pointed to without being named, what was said off the record, and what a machine may learn: held back until decided."""

from __future__ import annotations

from pathlib import Path

import pytest

from archive.app import Archive, Asked
from archive.db import consent_rows, mentions, people, recordings, runs
from archive.domain.values import Decision, Naming, Stretch
from archive.errors import NotFaithful
from archive.gate import custody
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.gate.conftest import AddInterview, read_by
from tests.gate.test_what_may_not_pass import OPENED, name_at

ASKS, TELLS = "N-21", "N-26"


def talk(add_interview: AddInterview, archive: Archive, number: int, *lines: tuple[str, str]) -> str:
    """An interview of these lines: N-21 asks, N-26 tells."""
    at, spoken = 500, []
    for who, text in lines:
        spoken.append((who, cast.words_of(text, at)))
        at = spoken[-1][1][-1].end_ms + 900
    return add_interview(archive, number, [f"{ASKS}:interviewer", f"{TELLS}:narrator"], spoken)


def noted(archive: Archive, code: str) -> list[tuple[str, Naming, Decision]]:
    """(words, kind, decision) of every mention of a recording."""
    page = archive.recordings.page(OPENED, code)
    words = [w for u in page.shown.utterances for w in u.words]
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        found = mentions.current(connection, row.id)
    return [
        (" ".join(w.text for w in words if w.start_ms < m.stretch.end_ms and m.stretch.start_ms < w.end_ms), m.kind, m.decision) for m in found
    ]


POINTING = (
    ("my cousin Ted Grimshaw", Naming.KIN), ("old Mrs Teller", Naming.NAME), ("62 Net Row", Naming.ADDRESS), ("the only woman on the crew", Naming.APART),
    ("01632 960 123", Naming.NUMBER), ("who kept the shop on Ropewalk", Naming.WORK), ("the constable's brother", Naming.KIN),
)  # fmt: skip


@pytest.mark.parametrize(("words", "kind"), POINTING)
def test_whoever_is_pointed_to_is_hidden_until_somebody_decides(cast_archive: Archive, add_interview: AddInterview, words: str, kind: Naming) -> None:
    archive = cast_archive
    code = add_interview(archive, 90, ["N-21:narrator"], [("N-21", cast.words_of(f"then we saw {words}, and it rained"))])
    assert [(w.rstrip(","), k, d) for w, k, d in noted(archive, code)] == [(words, kind, Decision.UNDECIDED)]
    assert words not in read_by(archive, READER, code) and "[name withheld]" in read_by(archive, READER, code)
    quote = archive.excerpts.choose(EDITOR, code, f"then we saw {words}, and it rained", "exhibition")
    files = archive.exports.make(EDITOR, [quote], "exhibition").files
    (path,) = [Path(f) for f in files if f.endswith("quotes.json")]
    assert words not in path.read_text(encoding="utf-8")
    assert archive.finding.ask(READER, Asked(f'"{words}"')).total == 0
    archive.naming.decide(EDITOR, code, *name_at(archive, code, f"{words},"), "", "keep")
    assert words in read_by(archive, READER, code)


def test_described_again_nothing_is_noted_twice_and_nothing_decided_anew(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    code = add_interview(archive, 91, ["N-21:narrator"], [("N-21", cast.words_of("then my cousin Ted and Edith Quill and old Mrs Teller came"))])
    archive.naming.decide(EDITOR, code, *name_at(archive, code, "my cousin Ted"), "", "keep")
    before = noted(archive, code)
    archive.describing.describe(EDITOR, code)
    archive.describing.describe(EDITOR, code)
    assert noted(archive, code) == before and len(before) == 3
    assert "my cousin Ted" in read_by(archive, READER, code)


def test_a_name_that_grew_by_a_correction_is_noted_where_it_grew(cast_archive: Archive, add_interview: AddInterview) -> None:
    """What was kept stays kept; the family name that came to light is hidden."""
    archive = cast_archive
    code = add_interview(archive, 92, ["N-21:narrator"], [("N-21", cast.words_of("then my cousin Ted came"))])
    archive.naming.decide(EDITOR, code, *name_at(archive, code, "my cousin Ted"), "", "keep")
    cast.give_words(archive, code, [("N-21", cast.words_of("then my cousin Ted Grimshaw came"))])
    assert [(w, d) for w, _, d in noted(archive, code)] == [("my cousin Ted", Decision.KEEP), ("Grimshaw", Decision.UNDECIDED)]
    assert "my cousin Ted [name withheld] came" in read_by(archive, READER, code)


# -- off the record --------------------------------------------------------------------------------------------------------
LINES = (
    (ASKS, "This is the first question. What was the harbour like?"), (TELLS, "It was full of herring."), (ASKS, "And who ran it?"),
    (TELLS, "Walter Brine was sweet on somebody with a lantern."), (TELLS, "No, don't put that in."), (ASKS, "When did it close?"),
    (TELLS, "In the autumn it closed for good."),
)  # fmt: skip


def test_what_was_said_off_the_record_is_closed_to_all_but_the_keeper(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    code = talk(add_interview, archive, 93, *LINES)
    for viewer in (KEEPER, EDITOR, READER):
        told = read_by(archive, viewer, code)
        assert "sweet" not in told and "put that" not in told and "herring" in told and "autumn" in told
    assert "sweet on somebody" in read_by(archive, OPENED, code)
    assert archive.finding.ask(EDITOR, Asked("sweet")).total == 0 and archive.finding.ask(EDITOR, Asked("herring")).total > 0
    with pytest.raises(NotFaithful):
        archive.excerpts.choose(EDITOR, code, "was sweet on somebody", "exhibition")
    assert archive.naming.waiting(EDITOR, code) == () and len(archive.naming.waiting(OPENED, code)) == 1
    page = archive.recordings.page(EDITOR, code)
    assert archive.recordings.page(KEEPER, code).sealed_here and not any("sweet" in t.evidence for t in page.tags)
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        ((closed, lifted),) = consent_rows.closed_by_rule(connection, row.id)
        assert not lifted
        assert custody.machine_may(connection, row.id, closed.start_ms, closed.end_ms, archive.rooms.context()).allowed, "our own computer may"
    start_ms = name_at(archive, code, "Walter Brine")[0]
    assert closed.start_ms == start_ms and closed.end_ms == name_at(archive, code, "put that in.")[1], "whole words"


def test_a_sheet_says_until_when_exactly_where_the_machine_closed_before(cast_archive: Archive, add_interview: AddInterview, tmp_path: Path) -> None:
    archive = cast_archive
    code = talk(add_interview, archive, 94, (ASKS, "And then?"), (TELLS, "The next part has to be closed."), (TELLS, "He took the money."), (ASKS, "And then?"))
    (held,) = [r for r in archive.consent.closed(KEEPER) if r.recording == code]
    sheet = tmp_path / "closed.csv"
    row = f"IV-94.wav,{held.start_ms / 1000},{held.end_ms / 1000},sealed,2039-12-31,asked for"
    sheet.write_text(f"file,start_s,end_s,kind,until_on,reason\n{row}\n", encoding="utf-8")
    assert (archive.consent.read_closed(KEEPER, sheet), archive.consent.read_closed(KEEPER, sheet)) == (1, 0)
    assert len([r for r in archive.consent.closed(KEEPER) if r.recording == code]) == 2


def test_a_person_who_opens_it_is_not_contradicted(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    code = talk(add_interview, archive, 94, *LINES)
    assert archive.describing.describe(EDITOR, code).off_record == 0, "closed once"
    with archive.rooms.db.read() as connection:
        (hold,) = [r for s in consent_rows.load_standings(connection, list(people.ids_by_code(connection).values())[:1]).values() for r in s.restraints
                   if r.recording_id == recordings.by_code(connection, code).id]  # type: ignore[union-attr]  # fmt: skip
    archive.consent.lift(KEEPER, hold.id, "She laughed; it may stand.")
    assert "sweet" in read_by(archive, EDITOR, code)
    assert archive.describing.describe(EDITOR, code).off_record == 0
    assert "sweet" in read_by(archive, EDITOR, code)


def test_an_answer_that_turns_out_longer_is_closed_whole(cast_archive: Archive, add_interview: AddInterview) -> None:
    """With nobody assigned a question of the narrator's own looks like the next one; with speakers it does not."""
    archive = cast_archive
    lines = ((ASKS, "Who ran it?"), (TELLS, "Somebody with a lantern did."), (TELLS, "Do you know what I mean?"), (TELLS, "No, don't put that in."), (ASKS, "And then?"))
    at, unassigned, assigned = 500, [], []
    for who, text in lines:
        words = cast.words_of(text, at)
        unassigned.append((None, words)), assigned.append((who, words))
        at = words[-1].end_ms + 900
    code = add_interview(archive, 88, [f"{ASKS}:interviewer", f"{TELLS}:narrator"], unassigned)  # type: ignore[arg-type]
    assert "lantern" in read_by(archive, EDITOR, code) and "put that" not in read_by(archive, EDITOR, code)
    cast.give_words(archive, code, assigned)  # type: ignore[arg-type]
    assert "lantern" not in read_by(archive, EDITOR, code)
    assert archive.describing.describe(EDITOR, code).off_record == 0


# -- what a machine may learn ------------------------------------------------------------------------------------------------
def vocabulary(archive: Archive, code: str, places: list[str]) -> list[str]:
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        return custody.vocabulary(connection, row.id, places, 40, archive.rooms.context())


def test_the_engine_is_primed_with_nobody_who_went(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    lines = [("N-21", cast.words_of("so it was")), ("N-27", cast.words_of("and so it went", 4000))]
    code = add_interview(archive, 95, ["N-21:narrator", "N-27:narrator"], lines)
    places = ["Net Row", "Quill's hut", "Holm Quay"]
    assert vocabulary(archive, code, places) == [*places, "Edith Quill", "Greta Holm"]
    archive.consent.withdraw(KEEPER, "N-27", how="letter")
    assert vocabulary(archive, code, places) == ["Net Row", "Quill's hut", "Edith Quill"]


def test_the_engine_is_not_primed_with_whom_somebody_hid(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    code = add_interview(archive, 96, ["N-21:narrator"], [("N-21", cast.words_of("they called me Edith Quill in Net Row then"))])
    assert vocabulary(archive, code, ["Net Row"]) == ["Net Row", "Edith Quill"]
    archive.naming.decide(EDITOR, code, *name_at(archive, code, "Edith Quill"), "N-21", "hide")
    assert vocabulary(archive, code, ["Net Row"]) == ["Net Row"]


def test_a_place_that_is_hidden_like_a_name_primes_nobody(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    code = add_interview(archive, 97, ["N-21:narrator"], [("N-21", cast.words_of("we hid by Gull Steps all night"))])
    other = add_interview(archive, 98, ["N-21:narrator"], [("N-21", cast.words_of("it rained"))])
    start_ms, end_ms = name_at(archive, code, "Gull Steps")
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        mentions.decide(connection, Stretch(row.id, start_ms, end_ms), None, Decision.HIDE, "asked", "E-01", archive.rooms.now(), Naming.PLACE)
    for asked in (code, other):
        assert vocabulary(archive, asked, ["Net Row", "Gull Steps"]) == ["Net Row", "Edith Quill"]


def test_closed_words_are_no_vocabulary_and_no_suggestion(cast_archive: Archive, add_interview: AddInterview) -> None:
    """A name that is said in closed speech alone primes nothing, and Find spells nothing out of it."""
    archive = cast_archive
    code = talk(add_interview, archive, 99, (ASKS, "Who was it?"), (TELLS, "It was Osbertina Grimshaw. Don't put that in."), (ASKS, "And then?"), (TELLS, "Nothing."))
    assert not any("Grimshaw" in v for v in vocabulary(archive, code, ["Net Row"]))
    for viewer in (KEEPER, EDITOR, READER):
        answer = archive.finding.ask(viewer, Asked("Osbertine"))
        assert answer.total == 0 and "Osbertina" not in repr(answer) and "osbertina" not in repr(answer)


@pytest.mark.parametrize(("primed", "said", "doubtful"), [
    ("Rope Walk", "up Ropewalk we went", ["Ropewalk"]), ("Ropewalk", "up Rope Walk we went", ["Rope", "Walk"]), ("Net Row", "up Net-Row we went", ["Net-Row"]),
    ("Edith Quill", "up Quill's we went", ["Quill's"]), ("Net Row", "up the net we went", []),
])  # fmt: skip
def test_an_echo_written_otherwise_is_doubtful_too(
    cast_archive: Archive, add_interview: AddInterview, primed: str, said: str, doubtful: list[str]
) -> None:
    archive = cast_archive
    code = add_interview(archive, 89, ["N-21:narrator"], [])
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        run = runs.add_run(
            connection, job_id=None, recording_id=row.id, engine="given", model="given", model_sha256="0" * 64, language="en",
            vocabulary=[primed], options={}, by="machine", at=archive.rooms.now(),
        )  # fmt: skip
        custody.keep_machine_text(connection, row.id, run, [(None, cast.words_of(said))], "machine", archive.rooms.now())
    assert [w.text for u in archive.recordings.page(EDITOR, code).shown.utterances for w in u.words if w.doubtful] == doubtful


def test_an_age_tells_no_birth_year_of_who_is_not_named(cast_archive: Archive, add_interview: AddInterview) -> None:
    """ "When I was ten", made 1950, says when somebody was born: beside a withheld or shortened name it is for the team alone."""
    shortened = talk(add_interview, cast_archive, 92, (TELLS, "When I was ten we drifted past the quay and nobody came"))
    named = add_interview(cast_archive, 93, ["N-21:narrator"], [("N-21", cast.words_of("When I was ten we drifted past the quay"))])
    for code, seen_by_readers in ((shortened, False), (named, True)):
        for viewer in (EDITOR, READER):
            page = cast_archive.recordings.page(viewer, code)
            dates = [t for t in page.tags if t.kind == "date"]
            assert bool(dates) is (viewer == EDITOR or seen_by_readers), (code, viewer.role)
            assert all("born" not in t.detail for t in dates) or viewer == EDITOR
