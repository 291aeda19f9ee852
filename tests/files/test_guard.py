"""Which files may be taken."""

from __future__ import annotations

import os
import sys
import unicodedata
from pathlib import Path

import pytest

from archive.errors import BadInput
from archive.files.guard import inside, shown_name, walk_sources

posix_only = pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of POSIX")


def test_a_path_inside_is_given_back_resolved(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    assert inside(tmp_path, tmp_path / "a" / ".." / "a" / "x.wav") == (tmp_path / "a" / "x.wav").resolve()
    assert inside(tmp_path, Path("a/x.wav")) == (tmp_path / "a" / "x.wav").resolve()


@pytest.mark.parametrize("path", ["../x.wav", "/etc/hostname", "a/../../x"])
def test_a_path_that_leads_out_is_refused(tmp_path: Path, path: str) -> None:
    with pytest.raises(BadInput):
        inside(tmp_path, Path(path))


@posix_only
def test_a_link_that_leads_out_is_refused(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "x.wav").write_bytes(b"x")
    card = tmp_path / "card"
    card.mkdir()
    (card / "link.wav").symlink_to(outside / "x.wav")
    (card / "folder").symlink_to(outside)
    (card / "own.wav").write_bytes(b"y")
    (card / "again.wav").symlink_to(card / "own.wav")
    with pytest.raises(BadInput):
        inside(card, card / "link.wav")
    found = {s.name: s for s in walk_sources([card])}
    assert set(found) == {"link.wav", "folder", "own.wav", "again.wav"}
    for name in ("link.wav", "folder"):
        refusal = found[name].refusal
        assert refusal is not None and "leads out" in refusal and found[name].remedy
    assert found["own.wav"].refusal is None and found["again.wav"].refusal is None


@posix_only
def test_a_link_that_a_person_names_is_followed(tmp_path: Path) -> None:
    (tmp_path / "x.wav").write_bytes(b"x")
    (tmp_path / "link.wav").symlink_to(tmp_path / "x.wav")
    assert [s.refusal for s in walk_sources([tmp_path / "link.wav"])] == [None]


def test_names_with_spaces_dashes_and_diacritics_come_in_nfc(tmp_path: Path) -> None:
    for name in ("-rf.wav", "two words.wav", unicodedata.normalize("NFD", "Kühlhaus.wav"), "日本.flac"):
        (tmp_path / name).write_bytes(b"x")
    found = list(walk_sources([tmp_path]))
    assert {s.name for s in found} == {"-rf.wav", "two words.wav", "Kühlhaus.wav", "日本.flac"}
    assert all(s.path.is_absolute() and s.refusal is None for s in found)


@posix_only
def test_a_name_that_is_no_utf8_can_be_shown(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/a\xff\x01.wav"))
    path.write_bytes(b"x")
    (only,) = walk_sources([tmp_path])
    assert only.name == "a\ufffd.wav" == shown_name(path)
    only.name.encode("utf-8")


def test_hidden_files_sheets_and_pictures_are_passed_over(tmp_path: Path) -> None:
    for name in (".DS_Store", "._x.wav", "people.csv", "notes.TXT", "Thumbs.db", "photo.jpg", "a.wav"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / ".hidden").mkdir()
    (tmp_path / ".hidden" / "b.wav").write_bytes(b"x")
    assert [s.name for s in walk_sources([tmp_path])] == ["a.wav"]


def test_a_named_file_is_always_tried(tmp_path: Path) -> None:
    (tmp_path / "people.csv").write_bytes(b"x")
    assert [(s.name, s.refusal) for s in walk_sources([tmp_path / "people.csv"])] == [("people.csv", None)]


def test_an_empty_folder_and_a_missing_file_have_words(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    empty, missing = walk_sources([tmp_path / "empty", tmp_path / "no.wav"])
    assert empty.refusal == "Nothing in this folder looks like a recording." and empty.remedy
    assert missing.refusal == "There is no such file." and missing.remedy


@posix_only
def test_a_pipe_is_refused_and_not_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    (only,) = walk_sources([tmp_path])
    assert only.refusal == "It is not a file."


def test_subfolders_come_in_order(tmp_path: Path) -> None:
    for name in ("b/2.wav", "a/1.wav", "0.wav"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    assert [s.path.relative_to(tmp_path).as_posix() for s in walk_sources([tmp_path])] == [
        "0.wav",
        "a/1.wav",
        "b/2.wav",
    ]
