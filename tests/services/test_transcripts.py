"""Transcripts from elsewhere become versions, and are written out: on the cast, through the gate."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from archive.app import TRANSCRIPT_FORMS, Archive
from archive.db import consent_rows, recordings
from archive.domain.values import RestraintKind, Stretch
from archive.errors import BadInput, Clash, NotAllowed, NotFound, Refused
from archive.gate import custody
from tests import cast
from tests.cast import EDITOR, KEEPER, READER

SPOKEN = cast.QUOTES["N-21"]


def words_of(archive: Archive, code: str) -> list[tuple[str, int, int, str]]:
    page = archive.recordings.page(KEEPER, code)
    return [(w.text, w.start_ms, w.end_ms, u.speaker_code) for u in page.shown.utterances for w in u.words]


def test_a_script_becomes_the_newest_version_and_nobody_has_heard_it(cast_archive: Archive) -> None:
    archive = cast_archive
    excerpt = archive.excerpts.choose(EDITOR, "IV-21.1", "the lantern down Net Row", "exhibition")
    archive.excerpts.tick_heard(EDITOR, excerpt)
    before = words_of(archive, "IV-21.1")
    done = archive.transcripts.read(EDITOR, "IV-21.1", f"Edith Quill: {SPOKEN}.".encode())
    assert (done.words, done.utterances, done.unassigned, done.unknown) == (len(SPOKEN.split()), 1, 0, ())
    after = words_of(archive, "IV-21.1")
    assert [(t.strip("."), s, e) for t, s, e, _ in after] == [(t, s, e) for t, s, e, _ in before], "put to the sound"
    assert {who for *_, who in after} == {"N-21"}
    fresh = archive.excerpts.choose(EDITOR, "IV-21.1", "the lantern down Net Row", "web")
    assert next(r for r in archive.excerpts.list(KEEPER) if r.code == fresh).heard == "", "a tick is by a person who listened"
    assert "brought from elsewhere by E-01" in archive.recordings.page(READER, "IV-21.1").notes[0]


def test_names_in_it_are_hidden_from_the_first_day(cast_archive: Archive) -> None:
    archive = cast_archive
    text = "WEBVTT\n\n00:00.500 --> 00:03.000\n<v N-25>Then Walter Brine came and Lena Fosse laughed\n"
    archive.transcripts.read(EDITOR, "IV-25.1", text.encode())
    seen = " ".join(w.text for u in archive.recordings.page(READER, "IV-25.1").shown.utterances for w in u.words)
    assert "Brine" not in seen and "Fosse" not in seen and "[name withheld]" in seen
    assert len(archive.naming.waiting(EDITOR, "IV-25.1")) >= 2


def test_labels_are_matched_or_told_and_then_count_as_everybody(cast_archive: Archive) -> None:
    text = b"start,end,speaker,words\n0.5,1.5,Narrator,We carried\n1.5,2.5,Mrs Bell,the lantern\n2.5,3.5,EDITH,down\n3.5,4.5,N-22,Net Row\n"
    done = cast_archive.transcripts.read(EDITOR, "IV-21.1", text)
    assert done.unknown == ("Mrs Bell", "N-22") and done.unassigned == 2, "N-22 did not take part here"
    assert [w for *_, w in words_of(cast_archive, "IV-21.1")] == ["N-21", "N-21", "", "", "N-21", "", ""]
    done = cast_archive.transcripts.read(EDITOR, "IV-21.1", text, {"Mrs Bell": "N-21", "N-22": "N-21"})
    assert done.unknown == () and done.unassigned == 0
    with pytest.raises(BadInput, match="did not take part"):
        cast_archive.transcripts.read(EDITOR, "IV-21.1", text, {"Mrs Bell": "N-22"})


def test_who_may_not_and_what_is_not_taken_changes_nothing(cast_archive: Archive, tmp_path: Path) -> None:
    archive = cast_archive
    before = words_of(archive, "IV-21.1")
    with pytest.raises(NotAllowed):
        archive.transcripts.read(READER, "IV-21.1", b"x: y")
    with pytest.raises(NotFound):
        archive.transcripts.read(EDITOR, "IV-99.1", b"x: y")
    for bad in (b"", b"%PDF-1", b"PK\x03\x04rest", f"Edith: {cast.QUOTES['N-26']}".encode(), b"x" * 10_000_001):
        with pytest.raises(BadInput):
            archive.transcripts.read(EDITOR, "IV-21.1", bad)
    with pytest.raises(BadInput, match="cannot be opened"):
        archive.transcripts.read_file(EDITOR, "IV-21.1", tmp_path / "nothing.txt")
    archive.consent.pause(EDITOR, "N-21")
    with pytest.raises(Refused, match="may not listen"):
        archive.transcripts.read(EDITOR, "IV-21.1", b"start,end,words\n1,2,We carried\n")
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, "IV-21.1")
        assert row is not None
        kept = custody.take(connection, row.id, custody.Errand.NAMES, archive.rooms.context())
    assert [(w.text, w.start_ms, w.end_ms) for u in kept.utterances for w in u.words] == [w[:3] for w in before]


def test_not_while_it_is_being_transcribed(cast_archive: Archive, tmp_path: Path) -> None:
    archive = cast_archive
    cast.sound(tmp_path / "new.wav", 4.0, 77)
    archive.ingest.take(EDITOR, [tmp_path / "new.wav"], "IV-21")
    code = next(r.code for r in archive.recordings.list(KEEPER) if not r.words)
    timed = b"start,end,words\n1,2,We carried\n"
    with pytest.raises(BadInput, match="not heard the recording yet"):
        archive.transcripts.read(EDITOR, code, b"We carried the lantern.")
    archive.transcribing.queue(EDITOR, code)
    with pytest.raises(Clash, match="being transcribed"):
        archive.transcripts.read(EDITOR, code, timed)
    archive.jobs.cancel(EDITOR, next(j.id for j in archive.jobs.list(EDITOR) if (j.kind, j.subject) == ("transcribe", code)))
    assert archive.transcripts.read(EDITOR, code, timed).words == 2


def test_what_was_heard_in_closed_speech_is_not_told_to_who_may_not_read_it(cast_archive: Archive) -> None:
    """The stretch is sealed; our own computer heard words there that the editor did not type."""
    archive = cast_archive
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, "IV-21.1")
        assert row is not None
        consent_rows.add_restraint(
            connection, kind=RestraintKind.SEALED, stretch=Stretch(row.id, 4000, 6000), from_on=cast.SIGNED, by="K-01", at=archive.rooms.now()
        )
    typed = " ".join(w for n, w in enumerate(SPOKEN.split()) if n not in (8, 9))  # 1968 and
    done = archive.transcripts.read(EDITOR, "IV-21.1", typed.encode())
    (misfit,) = done.misfits
    assert not misfit.typed and misfit.words == "[closed]" and (misfit.start_ms, misfit.end_ms) == (3700, 4420)


# --- out ----------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("form", sorted(TRANSCRIPT_FORMS))
def test_every_form_is_on_record_and_named_by_the_code_alone(cast_archive: Archive, form: str) -> None:
    name, made = cast_archive.transcripts.write(EDITOR, "IV-25.1", form)
    assert name == f"IV-25.1.{form}" and len(made) > 100
    assert "transcript written out" in [row.action for row in cast_archive.records.list(KEEPER)]


def test_readers_get_masks_and_nothing_where_nothing_is_open(cast_archive: Archive) -> None:
    text = cast_archive.transcripts.write(READER, "IV-25.1", "txt")[1].decode()
    assert "[name withheld]" in text and "Fosse" not in text and "N-25" not in text
    assert "Fosse" in cast_archive.transcripts.write(KEEPER, "IV-25.1", "txt")[1].decode()
    for viewer in (READER, EDITOR, KEEPER):
        with pytest.raises(Refused, match="Nothing of this transcript"):
            cast_archive.transcripts.write(viewer, "IV-23.1", "json")


def test_what_a_reader_wrote_out_does_not_overwrite_what_it_lacks(cast_archive: Archive) -> None:
    with pytest.raises(BadInput, match="may not read all of it"):
        cast_archive.transcripts.read(EDITOR, "IV-25.1", cast_archive.transcripts.write(READER, "IV-25.1", "vtt")[1])


def test_out_and_in_again_is_the_same_transcript(cast_archive: Archive) -> None:
    before = words_of(cast_archive, "IV-21.1")
    data = cast_archive.transcripts.write(EDITOR, "IV-21.1", "json")[1]
    assert json.loads(data)["utterances"][0]["speaker"] == "N-21"
    cast_archive.transcripts.read(EDITOR, "IV-21.1", data)
    assert words_of(cast_archive, "IV-21.1") == before
