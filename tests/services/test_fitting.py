"""Typed words put to the sound: a job, then a change that can be undone; words stay, times move, consent is asked. The engine is given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from archive.app import Archive, LineAct
from archive.db import consent_rows, jobs, recordings
from archive.domain.values import RestraintKind, Stretch, Word
from archive.errors import BadInput, Clash, ModelMissing, NotAllowed, Refused
from archive.services.fitting import pieces
from archive.services.rows import JobRow
from archive.speech.engine import Samples
from tests import cast
from tests.services.test_correcting import mark

CODE = cast.recording_of("N-21")  # "We carried the lantern down Net Row in 1968 and Walter Brine held the rope for us"
TYPED = "We carried the old lamp and its oil down Net Row in 1968 and Walter Brine held the rope for us"


class Placing:
    """Hears every word 7 ms after the one before, 12 ms a letter; “its” nowhere."""

    def place(self, pcm: Samples, language: str, texts: Sequence[str]) -> list[tuple[int, int] | None]:
        found: list[tuple[int, int] | None] = []
        at = 1500  # where “old” is typed, less the margin
        for text in texts:
            new = text in ("old", "lamp", "and", "oil")
            found.append((at, at + 12 * len(text)) if new else None if text == "its" else (0, 20))
            at += 12 * len(text) + 7 if new else 0
        return found


@pytest.fixture
def archive(cast_archive: Archive, monkeypatch: pytest.MonkeyPatch) -> Archive:
    monkeypatch.setattr("archive.services.fitting.models.find", lambda name, folder: name)
    cast_archive.fitting._hire = lambda model: Placing()  # type: ignore[assignment, return-value]
    return cast_archive


def type_it(archive: Archive, text: str = TYPED) -> int:
    (line,) = archive.correcting.lines(cast.EDITOR, CODE)[0]
    return archive.correcting.change(cast.EDITOR, CODE, LineAct("type", (line.key,), text), mark()).lines[0].key


def work(archive: Archive) -> JobRow:
    with archive.rooms.db.write() as connection:
        row = next(j for j in jobs.open_ones(connection) if j.kind == "fit")
        jobs.put_before(connection, row.id, None)
        claimed = jobs.claim(connection, "mine", archive.rooms.seconds(), 60, archive.rooms.now())
    assert claimed is not None and claimed.id == row.id
    archive.work.run(row.id, "mine")
    return next(j for j in archive.jobs.list(cast.EDITOR) if j.id == row.id)


def test_words_get_their_times_from_the_sound_and_it_can_be_undone(archive: Archive) -> None:
    key = type_it(archive)
    before = archive.correcting.lines(cast.EDITOR, CODE)[0][0]
    assert archive.fitting.queue(cast.EDITOR, CODE, ()).open == 1, "none named: what was changed in this sitting"
    job = work(archive)
    assert job.state == "done" and job.words == "4 words have their times from the sound now. 1 word could not be placed and kept the time between its neighbours."
    after = archive.correcting.lines(cast.EDITOR, CODE)[0][0]
    assert [w[0] for w in after.words] == [w[0] for w in before.words] and after.key != key
    assert (after.state, after.state_by, after.speaker_code) == (before.state, before.state_by, before.speaker_code)
    moved = [w[0] for w, old in zip(after.words, before.words, strict=True) if w != old]
    assert set(moved) <= {"old", "lamp", "and", "its", "oil"} and moved, "what was heard before keeps its time"
    assert all(a[2] <= b[1] for a, b in zip(after.words, after.words[1:], strict=False))
    archive.correcting.undo(cast.EDITOR, CODE, mark())
    assert archive.correcting.lines(cast.EDITOR, CODE)[0][0] == before
    archive.correcting.undo(cast.EDITOR, CODE, mark(), again=True)
    assert archive.correcting.lines(cast.EDITOR, CODE)[0][0] == after


def test_a_line_that_is_typed_in_meanwhile_is_left_as_it_is(archive: Archive) -> None:
    key = type_it(archive)
    archive.fitting.queue(cast.EDITOR, CODE, (key,))
    type_it(archive, TYPED + " all")
    before = archive.correcting.lines(cast.EDITOR, CODE)
    assert "changed meanwhile" in work(archive).words
    assert archive.correcting.lines(cast.EDITOR, CODE) == before


def test_whose_account_was_closed_changes_nothing_any_more(archive: Archive) -> None:
    key = type_it(archive)
    archive.fitting.queue(cast.EDITOR, CODE, ())
    archive.accounts.close(cast.KEEPER, cast.EDITOR.name)
    job = work(archive)
    assert job.state == "stopped" and "may not any more" in job.words
    assert archive.correcting.lines(cast.KEEPER, CODE)[0][0].key == key


def test_what_cannot_be_asked_for_is_said_in_words(archive: Archive, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (line,) = archive.correcting.lines(cast.EDITOR, CODE)[0]
    with pytest.raises(BadInput, match="time from the sound"):
        archive.fitting.queue(cast.EDITOR, CODE, (line.key,))
    key = type_it(archive)
    with pytest.raises(Clash):
        archive.fitting.queue(cast.EDITOR, CODE, (line.key,))
    with pytest.raises(NotAllowed):
        archive.fitting.queue(cast.READER, CODE, (key,))
    archive.fitting.queue(cast.EDITOR, CODE, (key,))
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, CODE)
        assert row is not None
        consent_rows.add_restraint(
            connection, kind=RestraintKind.OBJECTED, stretch=Stretch(row.id, 0, 3000), until_on=date(2040, 1, 1), from_on=cast.SIGNED, by="K-01", at=archive.rooms.now()
        )
    with pytest.raises(Refused):
        archive.fitting.queue(cast.EDITOR, CODE, (key,))
    assert work(archive).state == "stopped", "and what waits is asked about again before anything is heard"
    monkeypatch.undo()
    archive.fitting._rooms = replace(archive.rooms, models_dir=tmp_path, options=replace(archive.rooms.options, model="small"))  # type: ignore[type-var]
    with pytest.raises(ModelMissing, match="not here"):
        archive.fitting.queue(cast.EDITOR, CODE, (key,))


def test_a_long_line_is_heard_in_pieces_that_the_engine_can_take() -> None:
    said = [Word("on", n * 700, n * 700 + 600) for n in range(90)]
    found = list(pieces(said))
    assert [a for a, _ in found] == [0, *[b for _, b in found][:-1]] and found[-1][1] == len(said)
    assert all(said[b - 1].end_ms - said[a].start_ms <= 20_000 for a, b in found)
