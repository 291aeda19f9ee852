"""Making an archive: whole or not at all, whenever it is killed; and the secret of the web pages."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from archive.app import FILE_NAME, WEB_KEY, Archive
from archive.db import facts
from archive.errors import BadInput, Broken, Clash
from tests import cast
from webui.app import create_app

ROOT = Path(__file__).resolve().parents[1]


def make(folder: Path) -> Archive:
    return Archive.create(folder, cast.KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock)


def killed(folder: Path, what: str, nth: int) -> None:
    """`what` (module:name) kills the process −9 at its n-th call."""
    module, _, name = what.partition(":")
    program = (
        "import importlib, os, signal, sys\n"
        "from pathlib import Path\n"
        "from archive.app import Archive\n"
        "from tests import cast\n"
        f"owner = importlib.import_module({module!r})\n"
        f"real, calls = owner.{name}, []\n"
        "def dying(*given, **named):\n"
        "    calls.append(1)\n"
        f"    if len(calls) == {nth}:\n"
        "        os.kill(os.getpid(), signal.SIGKILL)\n"
        "    return real(*given, **named)\n"
        f"owner.{name} = dying\n"
        "Archive.create(Path(sys.argv[1]), cast.KEEPER, 'Tarnwick Voices', 'Marigold', True, {}, cast.clock)\n"
    )
    done = subprocess.run([sys.executable, "-c", program, str(folder)], cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False)
    assert done.returncode == -signal.SIGKILL, f"it never came to call {nth} of {what}"


def is_whole(archive: Archive) -> None:
    with archive.rooms.db.read() as connection:
        assert facts.participation_covers_machine(connection)
    entries = archive.records.list(cast.KEEPER)
    assert [e.action for e in entries] == ["archive made"] and archive.records.check(cast.KEEPER) == ()
    assert len(archive.web_key()) == 48 and archive.uses()


@pytest.mark.parametrize("exists", [False, True])
@pytest.mark.parametrize(
    ("what", "nth"),
    [("archive.settings:write", 1), ("archive.db.schema:upgrade", 1), ("archive.db.audit:record", 1), ("os:fsync", 1),
     *(("os:replace", n) for n in range(1, 6)), ("shutil:rmtree", 1)],
)  # fmt: skip
def test_a_kill_leaves_a_whole_archive_or_none(tmp_path: Path, what: str, nth: int, exists: bool) -> None:
    folder = tmp_path / "new" / "archive"
    if exists:
        folder.mkdir(parents=True)
    killed(folder, what, nth)
    if (folder / FILE_NAME).exists():
        archive = Archive.open(folder, {}, cast.clock)
    else:
        archive = make(folder)
        assert not [p for p in folder.iterdir() if p.name.startswith(".making")], "what was left of it is gone"
    is_whole(archive)
    archive.close()


def test_a_folder_of_somebody_else_is_left_alone(tmp_path: Path) -> None:
    for name in ("README.txt", "archive.toml", "letter.txt"):
        folder = tmp_path / name
        folder.mkdir()
        (folder / name).write_text("mine", encoding="utf-8")
        with pytest.raises(Clash, match="not empty"):
            make(folder)
        assert [p.name for p in folder.iterdir()] == [name] and (folder / name).read_text(encoding="utf-8") == "mine"


def test_what_cannot_be_made_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(BadInput):
        Archive.create(tmp_path / "archive", cast.KEEPER, "", "Marigold", True, {}, cast.clock)
    assert list(tmp_path.iterdir()) == []


def test_an_archive_is_for_its_owner_alone_and_is_not_made_twice(tmp_path: Path) -> None:
    archive = make(tmp_path / "archive")
    is_whole(archive)
    archive.close()
    assert sorted(p.name for p in (tmp_path / "archive").iterdir()) == [WEB_KEY, "README.txt", FILE_NAME, "archive.toml"]
    assert (tmp_path / "archive").stat().st_mode & 0o777 == 0o700
    assert (tmp_path / "archive" / WEB_KEY).stat().st_mode & 0o777 == 0o600
    with pytest.raises(Clash, match="an archive in this folder already"):
        make(tmp_path / "archive")


def test_an_archive_that_was_never_finished_does_not_open(tmp_path: Path) -> None:
    """Of a version that wrote its database in place: empty, without policy and without a first entry on record."""
    (tmp_path / FILE_NAME).write_bytes(b"")
    with pytest.raises(Broken, match="never finished"):
        Archive.open(tmp_path, {}, cast.clock)


@pytest.mark.parametrize("left", [b"", b"short"])
def test_a_half_written_key_is_written_anew(cast_archive: Archive, left: bytes) -> None:
    """A kill at its first writing used to leave an empty one, and an error on every page for ever."""
    path = cast_archive.folder / WEB_KEY
    path.write_bytes(left)
    answer = create_app(cast_archive).test_client().get("/")
    assert answer.status_code < 500
    key = cast_archive.web_key()
    assert len(key) == 48 and key == cast_archive.web_key() == path.read_bytes()
    assert path.stat().st_mode & 0o777 == 0o600
