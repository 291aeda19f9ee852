"""Correcting: kept at once, undone exactly, two people at one desk, what is closed stays closed; over the real database."""

from __future__ import annotations

import secrets
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from archive.app import Archive, Asked, LineAct
from archive.domain import phrases
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotAllowed, Refused
from tests import cast

OTHER = replace(cast.EDITOR, name="E-02")
CODE = cast.recording_of("N-21")


@pytest.fixture
def archive(cast_archive: Archive) -> Archive:
    return cast_archive


def mark() -> str:
    return secrets.token_hex(8)


def texts(archive: Archive, viewer: Viewer = cast.EDITOR, code: str = CODE) -> list[str]:
    return [" ".join(w[0] for w in line.words) for line in archive.correcting.lines(viewer, code)[0]]


def read(archive: Archive, viewer: Viewer = cast.EDITOR, code: str = CODE) -> list[str]:
    """What the recording's page has: the newest version."""
    return [" ".join(w.text for w in u.words) for u in archive.recordings.page(viewer, code).shown.utterances]


def keys(archive: Archive, code: str = CODE, viewer: Viewer = cast.EDITOR) -> list[int]:
    return [line.key for line in archive.correcting.lines(viewer, code)[0]]


def test_what_is_typed_is_kept_at_once_and_is_read_by_all_when_the_sitting_ends(archive: Archive) -> None:
    before = read(archive)
    (key,) = keys(archive)
    archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "We carried the lamp down Net Row"), mark())
    assert texts(archive) == ["We carried the lamp down Net Row"] and read(archive) == before
    assert archive.correcting.desk(cast.EDITOR, CODE).unsaved == 1
    reopened = Archive.open(archive.folder, {}, cast.clock)  # what a killed server leaves
    assert texts(reopened) == ["We carried the lamp down Net Row"]
    reopened.close()
    assert archive.correcting.finish(cast.EDITOR, CODE) == 2
    assert read(archive) == ["We carried the lamp down Net Row"]
    assert found(archive, "lamp") == [CODE]
    assert found(archive, "lantern") == []
    assert archive.correcting.desk(cast.EDITOR, CODE).unsaved == 0


def found(archive: Archive, said: str) -> list[str]:
    return [hit.recording for hit in archive.finding.ask(cast.EDITOR, Asked(words=said)).hits]


def test_undo_goes_back_over_the_whole_sitting_and_again_goes_forward(archive: Archive) -> None:
    start = archive.correcting.lines(cast.EDITOR, CODE)[0]
    (key,) = keys(archive)
    archive.correcting.change(cast.EDITOR, CODE, LineAct("part", (key,), at=4), mark())
    archive.correcting.change(cast.EDITOR, CODE, LineAct("speaker", (keys(archive)[1],)), mark(), "")
    archive.correcting.change(cast.EDITOR, CODE, LineAct("state", tuple(keys(archive)), state="corrected"), mark())
    done = archive.correcting.lines(cast.EDITOR, CODE)[0]
    assert [n.speaker_code for n in done] == ["N-21", ""] and {n.state for n in done} == {"corrected"}
    for _ in range(3):
        archive.correcting.undo(cast.EDITOR, CODE, mark())
    assert archive.correcting.lines(cast.EDITOR, CODE)[0] == start
    with pytest.raises(Clash, match="nothing to undo"):
        archive.correcting.undo(cast.EDITOR, CODE, mark())
    for _ in range(3):
        archive.correcting.undo(cast.EDITOR, CODE, mark(), again=True)
    assert archive.correcting.lines(cast.EDITOR, CODE)[0] == done


def test_what_comes_twice_counts_once(archive: Archive) -> None:
    (key,) = keys(archive)
    once = mark()
    first = archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "Once only"), once)
    assert archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "Once only"), once) == first
    assert archive.correcting.desk(cast.EDITOR, CODE).unsaved == 1
    with pytest.raises(BadInput):  # another person's page cannot guess it
        archive.correcting.change(OTHER, CODE, LineAct("type", (key,), "x"), once)
    with pytest.raises(BadInput):
        archive.correcting.undo(OTHER, CODE, once)


def test_two_people_at_one_passage_the_second_sees_both_and_chooses(archive: Archive) -> None:
    (key,) = keys(archive)
    archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "Mine first"), mark())
    with pytest.raises(Clash):
        archive.correcting.change(OTHER, CODE, LineAct("type", (key,), "Mine second"), mark())
    (theirs,) = archive.correcting.lines_at(OTHER, CODE, 0, 60_000)
    assert " ".join(w[0] for w in theirs.words) == "Mine first" and theirs.state_by == "E-01"
    archive.correcting.change(OTHER, CODE, LineAct("type", (theirs.key,), "Mine second"), mark())
    assert texts(archive) == ["Mine second"]
    with pytest.raises(Clash):  # and the first cannot undo what the second made of it
        archive.correcting.undo(cast.EDITOR, CODE, mark())
    archive.correcting.finish(OTHER, CODE)
    newest = archive.correcting.versions(OTHER, CODE)[0]
    assert (newest.by, newest.also, newest.number, newest.today) == ("E-02", ("E-01",), 2, True)


def test_a_second_pair_of_ears_is_somebody_else(archive: Archive) -> None:
    (key,) = keys(archive)
    archive.correcting.change(cast.EDITOR, CODE, LineAct("state", (key,), state="corrected"), mark())
    with pytest.raises(Clash, match="yourself"):
        archive.correcting.change(cast.EDITOR, CODE, LineAct("state", (key,), state="checked"), mark())
    assert archive.correcting.change(OTHER, CODE, LineAct("state", (key,), state="checked"), mark()).lines[0].state == "checked"
    assert archive.correcting.desk(OTHER, CODE).progress.state == "checked"


def test_versions_are_compared_word_by_word_and_an_older_one_can_be_taken_up(archive: Archive) -> None:
    before = read(archive)
    (key,) = keys(archive)
    said = before[0].replace("lantern", "lamp").replace(" for us", "")
    archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), said), mark())
    archive.correcting.finish(cast.EDITOR, CODE)
    differences = archive.correcting.compare(cast.EDITOR, CODE, 1, 2)
    assert [(d.before, d.after) for d in differences] == [("lantern", "lamp"), ("for us", "")]
    archive.correcting.back_to(cast.EDITOR, CODE, 1)
    assert read(archive) == before
    assert not archive.correcting.compare(cast.EDITOR, CODE, 1, 3)
    assert [v.kind for v in archive.correcting.versions(cast.EDITOR, CODE)] == ["back", "sitting", "machine"]


def test_speakers_set_on_the_page_meanwhile_lose_nothing_that_was_typed(archive: Archive) -> None:
    (key,) = keys(archive)
    (line,) = archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "Typed before"), mark()).lines
    archive.recordings.assign(OTHER, CODE, {line.key: ""})
    assert read(archive) == ["Typed before"]
    assert [v.kind for v in archive.correcting.versions(cast.EDITOR, CODE)] == ["speakers", "sitting", "machine"]
    (now,) = archive.correcting.lines(cast.EDITOR, CODE)[0]
    assert now.speaker_code == "" and now.state == "in work"


@pytest.mark.parametrize("code", ["N-22", "N-23", "N-24"])
def test_what_is_closed_can_be_neither_read_nor_changed(archive: Archive, code: str) -> None:
    member = next(m for m in cast.CAST if m.code == code)
    recording = cast.recording_of(code)
    lines = archive.correcting.lines(cast.EDITOR, recording)[0]
    closed = [n for n in lines if n.closed]
    assert closed and not any(member.secret in w[0] for n in lines for w in n.words)
    for act in (LineAct("type", (closed[0].key,), "x y"), LineAct("part", (closed[0].key,), at=1), LineAct("state", (closed[0].key,), state="corrected")):
        with pytest.raises(Refused):
            archive.correcting.change(cast.EDITOR, recording, act, mark())
    with pytest.raises(Refused):
        archive.correcting.change(cast.EDITOR, recording, LineAct("add", text="x", start_ms=closed[0].start_ms, end_ms=closed[0].end_ms), mark())


def test_what_was_closed_meanwhile_is_not_undone(archive: Archive) -> None:
    (key,) = keys(archive)
    archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "Changed before"), mark())
    archive.consent.pause(cast.KEEPER, "N-21", "telephoned")
    with pytest.raises(Refused):
        archive.correcting.undo(cast.EDITOR, CODE, mark())
    assert archive.correcting.desk(cast.EDITOR, CODE).unsaved == 1


def test_a_name_that_somebody_types_is_hidden_until_it_is_decided(archive: Archive) -> None:
    (key,) = keys(archive)
    archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "Then Walter Brine and Gideon Marrow came down the Row"), mark())
    archive.correcting.finish(cast.EDITOR, CODE)
    (said,) = read(archive, cast.READER)
    assert "Brine" not in said and "Marrow" not in said and "[name withheld]" in said


def test_readers_do_not_sit_here(archive: Archive) -> None:
    for act in (
        lambda: archive.correcting.lines(cast.READER, CODE),
        lambda: archive.correcting.change(cast.READER, CODE, LineAct("type", (1,), "x"), mark()),
        lambda: archive.correcting.versions(cast.READER, CODE),
        lambda: archive.correcting.back_to(cast.READER, CODE, 1),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_bad_input_changes_nothing(archive: Archive) -> None:
    (key,) = keys(archive)
    before = archive.correcting.lines(cast.EDITOR, CODE)[0]
    for act, speaker in (
        (LineAct("type", (key,), "she is [name withheld] here"), None), (LineAct("type", (key,), "x" * 30_000), None),
        (LineAct("type", (key,), ""), None), (LineAct("fly", (key,)), None), (LineAct("part", (key,), at=99), None),
        (LineAct("state", (key,), state="holy"), None), (LineAct("speaker", (key,)), "N-99"), (LineAct("join", (key,)), None),
        (LineAct("type", ()), None), (LineAct("add", text="a", start_ms=9, end_ms=9), None),
    ):  # fmt: skip
        with pytest.raises(BadInput):
            archive.correcting.change(cast.EDITOR, CODE, act, mark(), speaker)
    for bad in ("", "short", "x" * 41, "ä" * 10):
        with pytest.raises(BadInput):
            archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "x"), bad)
        with pytest.raises(BadInput):
            archive.correcting.undo(cast.EDITOR, CODE, bad)
    with pytest.raises(Clash):
        archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key + 999,), "x"), mark())
    assert archive.correcting.lines(cast.EDITOR, CODE)[0] == before


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_two_people_editing_and_undoing_lose_nothing(archive: Archive, data: st.DataObject) -> None:
    """Every accepted change is there, every refused one changed nothing; the version is what the desk showed."""
    archive.correcting.back_to(cast.EDITOR, CODE, 1)  # the archive is the same for every example
    for n in range(data.draw(st.integers(1, 8))):
        who = data.draw(st.sampled_from([cast.EDITOR, OTHER]))
        before = archive.correcting.lines(who, CODE)[0]
        line = before[data.draw(st.integers(0, 7)) % len(before)]
        act = data.draw(st.sampled_from(["type", "part", "join", "speaker", "undo", "again", "finish"]))
        try:
            if act == "finish":
                archive.correcting.finish(who, CODE)
                assert archive.correcting.lines(who, CODE)[0] == before
            elif act in ("undo", "again"):
                archive.correcting.undo(who, CODE, mark(), act == "again")
            elif act == "join":
                at = before.index(line)
                archive.correcting.change(who, CODE, LineAct("join", tuple(n.key for n in before[at : at + 2])), mark())
            else:
                asked = LineAct(act, (line.key,), f"word{n} and more words", at=1)
                archive.correcting.change(who, CODE, asked, mark(), "")
                assert archive.correcting.lines(who, CODE)[0] != before or act == "speaker"
        except (Clash, BadInput):
            assert archive.correcting.lines(who, CODE)[0] == before
    shown = texts(archive)
    archive.correcting.finish(cast.EDITOR, CODE)
    archive.correcting.finish(OTHER, CODE)
    assert read(archive) == shown == texts(archive)


def test_the_page_of_a_corrected_line_marks_nothing_as_unsure(archive: Archive, tmp_path: Path) -> None:
    (key,) = keys(archive)
    (line,) = archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (key,), "We carried [Tandy?] and [cy: hiraeth], [laughter] then"), mark()).lines
    assert [w[0] for w in line.words] == ["We", "carried", "[Tandy?]", "and", "[cy: hiraeth],", "[laughter]", "then"]
    archive.correcting.change(cast.EDITOR, CODE, LineAct("state", (line.key,), state="corrected"), mark())
    archive.correcting.finish(cast.EDITOR, CODE)
    (said,) = archive.recordings.page(cast.EDITOR, CODE).shown.utterances
    assert not any(w.doubtful for w in said.words)
    assert found(archive, "hiraeth") == [CODE]
    assert found(archive, "laughter") == []


def test_how_far_a_transcript_has_come_is_said_wherever_it_is_read(archive: Archive) -> None:
    def said() -> tuple[list[tuple[str, bool]], tuple[str, bool], str]:
        (hit,) = archive.finding.ask(cast.READER, Asked(words="lantern")).hits
        page = archive.recordings.page(cast.READER, CODE)
        return [(u.state, u.verbatim) for u in page.shown.utterances], (hit.state, hit.verbatim), phrases.far(page.row.far.states)

    assert said() == ([("machine", False)], ("machine", False), "as our own computer heard it")
    archive.correcting.change(cast.EDITOR, CODE, LineAct("part", (keys(archive)[0],), at=2), mark())
    archive.correcting.change(cast.EDITOR, CODE, LineAct("state", tuple(keys(archive)), state="corrected"), mark())
    archive.correcting.change(OTHER, CODE, LineAct("state", (keys(archive)[0],), state="checked"), mark())
    archive.correcting.change(cast.EDITOR, CODE, LineAct("verbatim", (keys(archive)[1],), on=True), mark())
    archive.correcting.finish(cast.EDITOR, CODE)
    assert said() == (
        [("checked", False), ("corrected", True)], ("corrected", False), "of 2 lines 1 checked by a second person, 1 corrected",
    )  # fmt: skip
    (row,) = (r for r in archive.recordings.list(cast.READER) if r.code == CODE)
    assert (row.far.lines, row.far.verbatim, row.far.state) == (2, 1, "corrected")
