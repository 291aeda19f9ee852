"""A recording heard again: what people corrected is carried over, the machine's own text stays, conflicts are decided one by one.

Issue 5: "a re-run is a new machine version; corrections are carried over by aligning the words, conflicts listed".
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from archive.app import Archive, LineAct
from archive.db import conflicts, consent_rows, jobs, recordings
from archive.domain.cleared import ShownConflict
from archive.domain.values import Decision, LineState, RestraintKind, Stretch, Word
from archive.errors import Clash, NotAllowed, NotFound, Refused
from archive.gate.reading import Readings
from tests import cast
from tests.services.test_correcting import mark, read, texts

CODE = cast.recording_of("N-21")  # "We carried the lantern down Net Row in 1968 and Walter Brine held the rope for us"
OTHER = replace(cast.EDITOR, name="E-02")


@pytest.fixture
def archive(cast_archive: Archive) -> Archive:
    return cast_archive


def typed(archive: Archive, text: str) -> None:
    (line,) = archive.correcting.lines(cast.EDITOR, CODE)[0]
    archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (line.key,), text), mark())


def heard(archive: Archive, text: str, shift_ms: int = 30) -> None:
    """Another hearing, every word a little later."""
    said = [Word(w.text, w.start_ms + shift_ms, w.end_ms + shift_ms, 0.9) for w in cast.words_of(text)]
    cast.give_words(archive, CODE, [("N-21", said)])


def waiting(archive: Archive, viewer: cast.Viewer = cast.EDITOR) -> tuple[ShownConflict, ...]:
    return archive.correcting.conflicts(viewer, CODE)


def kinds(archive: Archive) -> list[str]:
    return [v.kind for v in reversed(archive.correcting.versions(cast.EDITOR, CODE))]


def test_without_corrections_the_new_hearing_is_today_s(archive: Archive) -> None:
    heard(archive, "We carried a lantern down Net Row")
    assert read(archive) == ["We carried a lantern down Net Row"]
    assert kinds(archive) == ["machine", "machine"] and waiting(archive) == ()


def test_corrections_are_carried_over_and_conflicts_are_listed(archive: Archive) -> None:
    """Typed and not finished: the sitting is settled first. The machine's text stays as it was heard, both times."""
    typed(archive, "We carried the lamp down Net Row in 1968 and Walter Brine held the rope for us")
    heard(archive, "We carry the lanthorn down Net Row in 1968 and Walter Brine held the robe for us")
    assert kinds(archive) == ["machine", "sitting", "machine", "merged"]
    assert read(archive) == ["We carry the lamp down Net Row in 1968 and Walter Brine held the robe for us"]
    (one,) = waiting(archive)
    assert (one.ours, one.theirs, one.closed) == ("lamp", "lanthorn", False)
    assert archive.correcting.desk(cast.EDITOR, CODE).conflicts == 1
    (line,) = archive.correcting.lines(cast.EDITOR, CODE)[0]
    assert line.state == "in work" and line.words[0][1] == cast.words_of("We")[0].start_ms + 30, "its times are those of the new hearing"
    differences = archive.correcting.compare(cast.EDITOR, CODE, 1, 3)
    assert [(d.before, d.after) for d in differences] == [("carried", "carry"), ("lantern", "lanthorn"), ("rope", "robe")]
    with pytest.raises(NotAllowed):
        archive.correcting.conflicts(cast.READER, CODE)


def test_what_stands_stays_or_the_newer_wording_is_taken_and_can_be_undone(archive: Archive) -> None:
    typed(archive, "We carried the lamp down Net Road in 1968 and Walter Brine held the rope for us")
    heard(archive, "We carried the lanthorn down Net Roe in 1968 and Walter Brine held the rope for us")
    first, second = waiting(archive)
    kept = archive.correcting.decide(cast.EDITOR, CODE, first.id, False, mark())
    assert kept == archive.correcting.decide(cast.EDITOR, CODE, first.id, False, mark()) and kept.lines == ()
    once = mark()
    done = archive.correcting.decide(cast.EDITOR, CODE, second.id, True, once)
    assert archive.correcting.decide(cast.EDITOR, CODE, second.id, True, once) == done, "what comes twice counts once"
    after = "We carried the lamp down Net Roe in 1968 and Walter Brine held the rope for us"
    assert texts(archive) == [after] and waiting(archive) == () and done.desk.conflicts == 0
    with pytest.raises(Clash, match="meanwhile"):
        archive.correcting.decide(OTHER, CODE, second.id, False, mark())
    with pytest.raises(NotFound):
        archive.correcting.decide(cast.EDITOR, cast.recording_of("N-25"), second.id, False, mark())
    archive.correcting.undo(cast.EDITOR, CODE, mark())
    assert texts(archive) == [after.replace("Roe", "Road")]
    archive.correcting.undo(cast.EDITOR, CODE, mark(), again=True)
    archive.correcting.finish(cast.EDITOR, CODE)
    assert read(archive) == [after]
    with archive.rooms.db.read() as connection:
        rows = [(r.decided, r.decided_by) for r in (conflicts.by_id(connection, c.id) for c in (first, second)) if r]
    assert rows == [("ours", "E-01"), ("theirs", "E-01")]


def test_a_line_that_somebody_declared_corrected_stays_whole(archive: Archive) -> None:
    """Each of its words is theirs then; what was heard otherwise is told, and the line is still corrected."""
    (line,) = archive.correcting.lines(cast.EDITOR, CODE)[0]
    archive.correcting.change(cast.EDITOR, CODE, LineAct("state", (line.key,), state="corrected"), mark())
    before = texts(archive)
    heard(archive, "We carried a lantern down Net Row in 1968 and Walter Brine held the robe for us")
    assert texts(archive) == before
    assert archive.correcting.lines(cast.EDITOR, CODE)[0][0].state == LineState.CORRECTED
    assert [(c.ours, c.theirs) for c in waiting(archive)] == [("the", "a"), ("rope", "robe")]


def test_a_third_hearing_grows_from_the_second(archive: Archive) -> None:
    typed(archive, "We carried the lamp down Net Row in 1968 and Walter Brine held the rope for us")
    heard(archive, "We carried the lanthorn down Net Row in 1968 and Walter Brine held the rope for us")
    heard(archive, "We carried the lanthorn up Net Row in 1968 and Walter Brine held the rope for us")
    assert read(archive) == ["We carried the lamp up Net Row in 1968 and Walter Brine held the rope for us"]
    (still,) = waiting(archive)
    assert still.theirs == "lanthorn", "what the third did not hear otherwise waits as it did"
    heard(archive, "We carried the lintel up Net Row in 1968 and Walter Brine held the rope for us")
    (newer,) = waiting(archive)
    assert (newer.ours, newer.theirs) == ("lamp", "lintel"), "the newest takes the place of the older at the same words"


def test_an_older_version_that_was_taken_up_again_is_merged_as_what_it_is(archive: Archive) -> None:
    typed(archive, "We carried the lamp down Net Row in 1968 and Walter Brine held the rope for us")
    archive.correcting.finish(cast.EDITOR, CODE)
    archive.correcting.back_to(cast.EDITOR, CODE, 1)
    heard(archive, "We carried a lanthorn down Net Row in 1968 and Walter Brine held the rope for us")
    assert read(archive) == ["We carried a lanthorn down Net Row in 1968 and Walter Brine held the rope for us"]
    assert waiting(archive) == (), "back to what was heard: nothing of it is a person's"


def test_what_somebody_brought_stays_as_they_typed_it(archive: Archive) -> None:
    script = b"N-21: We carried the lamp down Net Row in 1968 and Walter Brine held the rope"
    archive.transcripts.read(cast.EDITOR, CODE, script, {}, "", False)
    before = read(archive)
    heard(archive, "We carried a lanthorn down Net Row in 1968 and Walter Brine held the rope for us")
    assert read(archive) == before and waiting(archive) == () and kinds(archive)[-2:] == ["machine", "merged"]


def test_names_stay_hidden_where_their_words_are_now(archive: Archive) -> None:
    """Decisions are carried from what people corrected to the merged text, over a hearing that has the name otherwise."""
    typed(archive, "We carried the lamp down Net Row in 1968 and Waldo Brynne held the rope for us")
    archive.correcting.finish(cast.EDITOR, CODE)
    words_now = archive.correcting.lines(cast.EDITOR, CODE)[0][0].words
    start_ms, end_ms = words_now[10][1], words_now[11][2]
    archive.naming.decide(cast.EDITOR, CODE, start_ms, end_ms, "", "hide", "asked", waiting=False)
    heard(archive, "We carried the lantern down Net Row in 1968 and water brine held the rope for us", shift_ms=60)
    shown = " ".join(read(archive, cast.READER))
    assert "Waldo" not in shown and "Brynne" not in shown and "[name withheld]" in shown
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, CODE)
        hidden = [m for m in Readings(connection, archive.rooms.context()).of(row.id).mentions if m.decision == Decision.HIDE and m.person_id is None]
    assert [(m.stretch.start_ms, m.stretch.end_ms) for m in hidden] == [(start_ms, end_ms)], "what was typed stands where it stood"
    heard(archive, "We carried the lantern down Net Row in 1968 and Waldo Brynne held the rope for us", shift_ms=90)
    assert "Waldo" not in " ".join(read(archive, cast.READER)), "and where the engine hears it now"


def test_what_is_closed_is_neither_listed_nor_taken(archive: Archive) -> None:
    typed(archive, "We carried the lamp down Net Row in 1968 and Walter Brine held the rope for us")
    heard(archive, "We carried the lanthorn down Net Row in 1968 and Walter Brine held the rope for us")
    (one,) = waiting(archive)
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, CODE)
        consent_rows.add_restraint(
            connection, kind=RestraintKind.SEALED, stretch=Stretch(row.id, one.start_ms, one.end_ms), until_on=date(2040, 1, 1), from_on=cast.SIGNED, by="K-01", at=archive.rooms.now()
        )
    (closed,) = waiting(archive)
    assert (closed.closed, closed.ours, closed.theirs, closed.keys) == (True, "", "", ())
    for take in (True, False):
        with pytest.raises(Refused):
            archive.correcting.decide(cast.EDITOR, CODE, one.id, take, mark())
    assert archive.correcting.desk(cast.EDITOR, CODE).conflicts == 1


def test_a_hearing_is_asked_for_by_name_with_a_model_that_is_here(archive: Archive, tmp_path: Path) -> None:
    """The job keeps which model; one that waits in another way is not mixed with it. No weights are needed to ask."""
    archive.rooms = replace(archive.rooms, models_dir=tmp_path)
    archive.transcribing._rooms = archive.rooms
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("archive.services.transcribing.models.find", lambda name, folder: name)
        assert archive.transcribing.queue(cast.EDITOR, CODE) == (0, ())
        assert archive.transcribing.queue(cast.EDITOR, CODE, again=True, model="tiny.en")[0] == 1
        with pytest.raises(Clash, match="another way"):
            archive.transcribing.queue(cast.EDITOR, CODE, again=True, model="base")
        with archive.rooms.db.read() as connection:
            job = jobs.newest_of(connection, "transcribe", CODE)
        assert job is not None and job.args["model"] == "tiny.en"
        archive.jobs.cancel(cast.EDITOR, job.id)
        assert archive.transcribing.queue(cast.EDITOR, CODE, again=True, model="base")[0] == 1
        with archive.rooms.db.read() as connection:
            newer = jobs.newest_of(connection, "transcribe", CODE)
        assert newer is not None and newer.id != job.id and newer.args["model"] == "base"
