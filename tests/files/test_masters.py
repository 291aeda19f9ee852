"""Masters: whole or not there, read-only, under their SHA-256."""

from __future__ import annotations

import errno
import hashlib
import os
import signal
import stat
import subprocess
import sys
import time
from collections import namedtuple
from pathlib import Path

import pytest

from archive.errors import BadInput, BadMedia, NoSpace
from archive.files import masters as room
from archive.files.masters import Masters, clean_extension

MOST = 10**9
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def source(tmp_path: Path) -> Path:
    path = tmp_path / "card" / "-long name ü.wav"
    path.parent.mkdir()
    path.write_bytes(bytes(range(256)) * 12345)
    return path


def leftovers(masters: Masters) -> list[Path]:
    return list(masters.incoming.iterdir()) if masters.incoming.is_dir() else []


def test_a_file_is_copied_summed_and_closed(tmp_path: Path, source: Path) -> None:
    masters = Masters(tmp_path / "masters")
    before = source.stat()
    taken = masters.take(source, ".WAV", MOST)
    expected = hashlib.sha256(source.read_bytes()).hexdigest()
    assert (taken.sha256, taken.bytes, taken.already) == (expected, source.stat().st_size, False)
    assert taken.path == tmp_path / "masters" / expected[:2] / f"{expected}.wav"
    assert taken.path.read_bytes() == source.read_bytes()
    assert stat.S_IMODE(taken.path.stat().st_mode) == 0o444
    assert (source.stat().st_mtime_ns, source.stat().st_mode) == (before.st_mtime_ns, before.st_mode)
    assert leftovers(masters) == []


def test_the_same_bytes_are_already_here_whatever_they_are_called(tmp_path: Path, source: Path) -> None:
    masters = Masters(tmp_path / "masters")
    first = masters.take(source, "wav", MOST)
    other = tmp_path / "other.mp3"
    other.write_bytes(source.read_bytes())
    again = masters.take(other, "mp3", MOST)
    assert again.already and again.path == first.path and again.sha256 == first.sha256
    assert leftovers(masters) == []


def test_a_master_that_lost_bytes_is_made_whole_by_the_same_file(tmp_path: Path, source: Path) -> None:
    masters = Masters(tmp_path / "masters")
    first = masters.take(source, "wav", MOST)
    os.chmod(first.path, 0o644)
    first.path.write_bytes(source.read_bytes()[:100])
    assert not masters.verify(first.sha256, "wav").whole
    assert not masters.take(source, "wav", MOST).already
    assert masters.verify(first.sha256, "wav").whole


def test_verify_says_what_it_found(tmp_path: Path, source: Path) -> None:
    masters = Masters(tmp_path / "masters")
    taken = masters.take(source, "wav", MOST)
    good = masters.verify(taken.sha256, "wav")
    assert good.whole and good.found == taken.sha256
    os.chmod(taken.path, 0o644)
    with open(taken.path, "r+b") as stream:
        stream.write(b"x")
    bad = masters.verify(taken.sha256, "wav")
    assert not bad.whole and "changed" in bad.words and bad.found != bad.expected
    taken.path.unlink()
    assert "missing" in masters.verify(taken.sha256, "wav").words


def test_empty_and_too_big_files_are_refused_with_words(tmp_path: Path, source: Path) -> None:
    masters = Masters(tmp_path / "masters")
    empty = tmp_path / "empty.wav"
    empty.touch()
    with pytest.raises(BadMedia) as caught:
        masters.take(empty, "wav", MOST)
    assert caught.value.code == "empty" and caught.value.remedy
    with pytest.raises(BadMedia) as caught:
        masters.take(source, "wav", 1000)
    assert caught.value.code == "too_big" and "GB" in caught.value.message
    assert leftovers(masters) == []


def test_a_file_that_grows_while_it_is_copied_is_refused(
    tmp_path: Path, source: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    masters = Masters(tmp_path / "masters")
    copy = room._copy_and_sum

    def growing(*arguments: object) -> tuple[str, int]:
        done = copy(*arguments)  # type: ignore[arg-type]
        with open(source, "ab") as stream:
            stream.write(b"more")
        return done

    monkeypatch.setattr(room, "_copy_and_sum", growing)
    with pytest.raises(BadMedia) as caught:
        masters.take(source, "wav", MOST)
    assert caught.value.code == "changing"
    assert leftovers(masters) == [] and masters.find(hashlib.sha256(source.read_bytes()).hexdigest()) is None


def test_too_little_room_is_said_before_copying(tmp_path: Path, source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(room.shutil, "disk_usage", lambda path: usage(10**9, 10**9 - 1000, 1000))
    with pytest.raises(NoSpace) as caught:
        Masters(tmp_path / "masters").take(source, "wav", MOST)
    assert caught.value.remedy and caught.value.exit_code == 9


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no /dev/full on this system")
def test_a_disk_that_fills_up_leaves_no_half_file(
    tmp_path: Path, source: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    masters = Masters(tmp_path / "masters")

    def into_a_full_disk(*_: object) -> tuple[str, int]:
        with open("/dev/full", "wb", buffering=0) as full:
            full.write(b"x")
        return "", 0

    monkeypatch.setattr(room, "_copy_and_sum", into_a_full_disk)
    with pytest.raises(NoSpace) as caught:
        masters.take(source, "wav", MOST)
    assert isinstance(caught.value.__cause__, OSError) and caught.value.__cause__.errno == errno.ENOSPC
    assert leftovers(masters) == []


def test_a_card_that_cannot_be_read_is_a_finding(tmp_path: Path, source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def unreadable(*_: object) -> tuple[str, int]:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(room, "_copy_and_sum", unreadable)
    with pytest.raises(BadMedia) as caught:
        Masters(tmp_path / "masters").take(source, "wav", MOST)
    assert caught.value.code == "unreadable"


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 and file locks of POSIX")
def test_a_kill_while_copying_loses_nothing(tmp_path: Path) -> None:
    """kill -9 in the middle: no master, one half file, swept later; a half file in use is left alone."""
    big = tmp_path / "big.wav"
    with open(big, "wb") as stream:
        stream.truncate(300 << 20)
    masters = Masters(tmp_path / "masters")
    program = (
        "import sys, time\nfrom pathlib import Path\nfrom archive.files import masters as room\n"
        "room.PIECE_BYTES = 4096\nroom.Masters(Path(sys.argv[1])).take(Path(sys.argv[2]), 'wav', 10**10)\n"
    )
    child = subprocess.Popen([sys.executable, "-c", program, str(masters.root), str(big)], cwd=ROOT)
    deadline = time.monotonic() + 20
    while not (leftovers(masters) and leftovers(masters)[0].stat().st_size > 0):
        assert time.monotonic() < deadline and child.poll() is None
        time.sleep(0.01)
    assert masters.sweep() == 0, "somebody is still writing it"
    child.send_signal(signal.SIGKILL)
    child.wait()
    assert len(leftovers(masters)) == 1
    assert list(masters.root.rglob("*.wav")) == []
    assert masters.sweep() == 1 and leftovers(masters) == []
    with open(big, "r+b") as stream:
        stream.truncate(1000)
    assert not masters.take(big, "wav", MOST).already


@pytest.mark.parametrize(
    ("given", "kept"), [(".WAV", "wav"), ("m4a", "m4a"), ("", "bin"), ("../x", "bin"), (".tar.gz", "bin"), ("ä", "bin")]
)
def test_extensions_are_plain(given: str, kept: str) -> None:
    assert clean_extension(given) == kept


@pytest.mark.parametrize("sha256", ["", "..", "A" * 64, "a" * 63, "a" * 64 + "/x"])
def test_only_checksums_make_paths(tmp_path: Path, sha256: str) -> None:
    with pytest.raises(BadInput):
        Masters(tmp_path).path(sha256, "wav")
