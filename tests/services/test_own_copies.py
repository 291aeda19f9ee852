"""A speaker's own copy: theirs, all of it, and nothing of anybody else; read back by pypdf, soundfile and zxing, which did not write it.

That narrators have their own recording and transcript, and correct them: Oral History Association best practices (CHECKS §8).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from archive.app import Archive
from archive.cli.main import cli
from archive.db import people, recordings
from archive.errors import BadInput, Clash, NotAllowed, NotFound, Refused
from tests import cast
from tests.cast import CAST, EDITOR, KEEPER, READER
from tests.conftest import Once, copy_of
from tests.services.test_papers import read, symbol

EDITH = next(m for m in CAST if m.code == "N-21")
SILAS = next(m for m in CAST if m.code == "N-24")  # withdrew
LENA = next(m for m in CAST if m.code == "N-25")  # unnamed
TALK = "IV-22.1"


@pytest.fixture(scope="module")
def made_talk(made_cast: Path, once: Once) -> Path:
    """The cast; in one recording Hugh Tarrow, Greta Holm and nobody knows who speak one after another, and two at once."""

    def make(folder: Path) -> None:
        archive = Archive.open(copy_of(made_cast, folder), {}, cast.clock)
        with archive.rooms.db.write() as connection:
            held = recordings.find_interview(connection, "IV-22")
            assert held is not None
            people.take_part(connection, held.id, people.ids_by_code(connection)["N-27"], "narrator")
        lines = [("N-22", "We hauled the capstan"), ("N-27", "The herring came"), ("N-22", "and Walter Brine shouted"), (None, "somebody coughed")]
        start, said = 500, []
        for who, text in lines:
            said.append((who, cast.words_of(text, start)))
            start += cast.WORD_MS * len(text.split()) + 100
        cast.give_words(archive, TALK, said)
        archive.close()

    return once("own-copies", make)


@pytest.fixture
def talk(made_talk: Path, tmp_path: Path) -> Iterator[Archive]:
    archive = Archive.open(copy_of(made_talk, tmp_path / "archive"), {}, cast.clock)
    yield archive
    archive.close()


def test_of_a_talk_of_several_it_has_what_they_said_alone(talk: Archive, tmp_path: Path) -> None:
    """Under an embargo of their own, too: it is theirs. What another said, and what nobody knows who said, is left out, in words and in sound."""
    made = talk.own_copies.make(EDITOR, "N-22", TALK, tmp_path / "copy")
    told = read((tmp_path / "copy" / "transcript.pdf").read_bytes())
    assert "We hauled the capstan" in told and "shouted" in told and "[name withheld]" in told and "Hugh Tarrow" in told
    assert "herring" not in told and "coughed" not in told and "Brine" not in told and "Greta" not in told and made.left_out
    assert symbol((tmp_path / "copy" / "transcript.pdf").read_bytes()) == made.code and made.files == ("sound-01.wav", "transcript.pdf")
    for word in ("strike", "close", "correct", "add"):
        assert word in told
    sound, rate = soundfile.read(tmp_path / "copy" / "sound-01.wav")
    # two of four lines of 4 and 4 words, 400 ms a word, less the margin of 120 ms at both ends of each
    assert abs(len(sound) / rate - (2 * (4 * 0.4 - 0.08) - 4 * 0.12)) < 0.05
    assert np.abs(sound).max() > 0.01


def test_it_is_on_the_register_and_handed_to_nobody_else(talk: Archive, tmp_path: Path) -> None:
    made = talk.own_copies.make(EDITOR, "N-22", TALK, tmp_path / "copy")
    (row,) = talk.exports.register(EDITOR)
    assert (row.export, row.use, row.state, row.people, row.excerpts) == (made.code, "own_copy", "given", ("N-22",), ())
    assert any(made.code in line for line in talk.people.page(KEEPER, "N-22").left)
    with pytest.raises(Refused, match="own copy"):
        talk.exports.file(EDITOR, made.code, "transcript.pdf")
    assert talk.records.check(KEEPER) is not None
    assert not list((talk.folder / ".staging").glob("*"))


def test_what_somebody_objected_to_stays_held_and_the_own_withdrawal_does_not(talk: Archive, tmp_path: Path) -> None:
    assert "rudder" in read(_pdf(talk, SILAS.code, cast.recording_of(SILAS.code), tmp_path / "withdrawn"))
    assert "lantern" in read(_pdf(talk, EDITH.code, "IV-21.1", tmp_path / "before"))
    talk.consent.object(KEEPER, cast.THIRD[0], "by telephone", "IV-21.1@0-2000")
    told = read(_pdf(talk, EDITH.code, "IV-21.1", tmp_path / "after"))
    assert "lantern" not in told and "rope for us" in told


def test_an_unnamed_narrator_is_named_on_their_own_paper_alone(talk: Archive, tmp_path: Path) -> None:
    """Their name stands over it, in no name of a file; in normal print, on Letter, in the language that they read."""
    talk.letters.say(KEEPER, LENA.code, {"called": "Pani Fosse", "language": "pl"}, ["not_at_home"], False)
    made = talk.own_copies.make(EDITOR, LENA.code, cast.recording_of(LENA.code), tmp_path / "copy", "letter", False)
    told = read((tmp_path / "copy" / "transcript.pdf").read_bytes())
    assert "Pani Fosse" in told and "kettle" in told and "skreślić" in told
    assert "Fosse" not in " ".join(made.files) and any("post nothing" in note for note in made.notes)


def test_what_cannot_be(talk: Archive, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.mkdir()
    (taken / "x").write_text("mine")
    for ask, error in (
        (lambda: talk.own_copies.make(EDITOR, "N-99", TALK), NotFound), (lambda: talk.own_copies.make(EDITOR, "N-22", "IV-99.1"), NotFound),
        (lambda: talk.own_copies.make(EDITOR, "N-21", TALK), Refused), (lambda: talk.own_copies.make(READER, "N-22", TALK), NotAllowed),
        (lambda: talk.own_copies.make(EDITOR, "N-22", TALK, taken), Clash), (lambda: talk.own_copies.make(EDITOR, "N-22", TALK, tmp_path / "for Walter Brine"), BadInput),
        (lambda: talk.own_copies.make(EDITOR, "N-22", TALK, None, "a5"), BadInput),
    ):  # fmt: skip
        with pytest.raises(error):
            ask()
    assert (taken / "x").read_text() == "mine" and not talk.exports.register(EDITOR)
    done = CliRunner().invoke(cli, ["--archive", str(talk.folder), "review", "copy", "N-22", TALK, "--to", str(tmp_path / "by-command")])
    assert done.exit_code == 0 and "OUT-0001" in done.output and (tmp_path / "by-command" / "sound-01.wav").is_file()


def _pdf(archive: Archive, person: str, recording: str, to: Path) -> bytes:
    archive.own_copies.make(EDITOR, person, recording, to)
    return (to / "transcript.pdf").read_bytes()
