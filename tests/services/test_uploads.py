"""Uploads in pieces: whatever is lost, sent twice, sent wrong or cut off, a file comes out exact or is not taken."""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from archive.app import Archive
from archive.db import uploads
from archive.domain import pieces
from archive.errors import BadInput, Clash, NoSpace, NotAllowed, NotFound, Refused
from archive.files.uploads import Running
from archive.services.demo import SAMPLES
from tests import cast
from tests.lease import OwnLease, worked

SMALL = 4096  # pieces as small as this, so that a file of a few seconds has many


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pieces, "PIECE_BYTES", SMALL)


@pytest.fixture
def archive(tmp_path: Path, small: None) -> Iterator[Archive]:
    made = Archive.create(tmp_path / "archive", cast.KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock)
    yield made
    made.close()


def sound(path: Path, seconds: float = 2, number: int = 1) -> bytes:
    cast.sound(path, seconds, number)
    return path.read_bytes()


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def cut(data: bytes) -> list[bytes]:
    return [data[at : at + SMALL] for at in range(0, len(data), SMALL)]


def begin(archive: Archive, data: bytes, name: str = "REC1.wav", **how: object) -> tuple[str, dict[int, str]]:
    return archive.uploads.begin(cast.EDITOR, name, len(data), sha(cut(data)[0]), **how)  # type: ignore[arg-type]


def send(archive: Archive, data: bytes, name: str = "REC1.wav") -> str:
    """As the page does it: what is here is not sent again; where it is another file's, begin anew."""
    key, here = begin(archive, data, name)
    if any(here[n] != sha(piece) for n, piece in enumerate(cut(data)) if n in here):
        key, here = begin(archive, data, name, anew=True)
    for n, piece in enumerate(cut(data)):
        if n not in here:
            archive.uploads.put(cast.EDITOR, key, n, sha(piece), piece)
    assert archive.uploads.finish(cast.EDITOR, key, sha(data)) == []
    return key


def state(archive: Archive, key: str) -> str:
    return next(u.state for u in archive.uploads.list(cast.EDITOR) if u.key == key)


def test_a_file_that_was_sent_is_taken_as_the_command_takes_it(archive: Archive, tmp_path: Path) -> None:
    data = sound(tmp_path / "REC1.wav")
    key = send(archive, data)
    assert archive.recordings.list(cast.EDITOR) == (), "nothing is a recording before the job took it in"
    assert "Taken as R-0001" in worked(archive)
    (row,) = archive.uploads.list(cast.EDITOR)
    assert (row.state, row.recording, row.have) == ("taken", "R-0001", row.pieces)
    (master,) = (archive.folder / "masters").glob("??/*")
    assert master.read_bytes() == data and not master.stat().st_mode & 0o222
    assert not list((archive.folder / "uploads").iterdir()), "no second copy stays"
    (finding,) = archive.ingest.findings(cast.EDITOR)
    assert (finding.source_name, finding.outcome) == ("REC1.wav", "taken")
    assert archive.records.check(cast.KEEPER, fixity=True) == ()
    archive.uploads.remove(cast.EDITOR, key)
    assert archive.uploads.list(cast.EDITOR) == () and len(archive.recordings.list(cast.EDITOR)) == 1


STEP = st.one_of(
    st.tuples(st.sampled_from(["put", "put twice", "wrong sum", "other bytes", "too short", "lost by the disk"]), st.integers(0, 15)),
    st.tuples(st.sampled_from(["restart", "finish", "begin again"]), st.just(0)),
)


@given(steps=st.lists(STEP, max_size=16))
@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
def test_any_way_through_pieces_ends_exact_or_not_taken(archive: Archive, tmp_path: Path, steps: list[tuple[str, int]]) -> None:
    """The recording is here already, so that each way is quick: what is taken is then told to be these very bytes."""
    data = sound(tmp_path / "REC1.wav")
    archive = Archive.open(archive.folder, {}, cast.clock)
    archive.ingest.take(cast.EDITOR, [tmp_path / "REC1.wav"])
    key, _ = begin(archive, data)
    parts = cut(data)
    for what, n in steps:
        part, other = parts[n % len(parts)], os.urandom(len(parts[n % len(parts)]))
        n %= len(parts)
        here = state(archive, key) == "open"
        if what in ("put", "put twice"):
            for _ in range(1 + (what == "put twice")):
                try:
                    archive.uploads.put(cast.EDITOR, key, n, sha(part), part)
                except Clash:
                    assert "other" in str(steps), "only after another file's piece"
        elif what in ("wrong sum", "too short"):
            with pytest.raises(BadInput):
                archive.uploads.put(cast.EDITOR, key, n, sha(part), other if what == "wrong sum" else part[:-1])
        elif what == "other bytes":  # a piece of another file, with a sum of its own: taken for what it says until the whole is summed
            with contextlib.suppress(Clash):
                archive.uploads.put(cast.EDITOR, key, n, sha(other), other)
        elif what == "lost by the disk":  # the power failed before the disk had it
            path = archive.folder / "uploads" / f"{key}.part"
            if path.exists() and here:
                with open(path, "r+b") as stream:
                    stream.seek(n * SMALL)
                    stream.write(bytes(len(part)))
        if what in ("restart", "lost by the disk"):
            archive.close()
            archive = Archive.open(archive.folder, {}, cast.clock)
        if what == "begin again":
            begun, _ = begin(archive, data)
            assert begun == key or not here
        if what == "finish" and archive.uploads.finish(cast.EDITOR, key, sha(data)) == [] and here:
            _job_over(archive, key, data)
    for _ in range(2):  # the second time for pieces that the disk lost
        if state(archive, key) == "taken":
            break
        key = send(archive, data)
        _job_over(archive, key, data)
    assert state(archive, key) == "taken", "whoever begins once more gets through"
    assert sum(p.is_file() for p in (archive.folder / "masters").rglob("*")) == 1
    for row in archive.uploads.list(cast.EDITOR):
        archive.uploads.remove(cast.EDITOR, row.key)
    archive.close()


def _job_over(archive: Archive, key: str, data: bytes) -> None:
    """The job runs once: either the file lay there exactly, or it was not taken and says so."""
    lay = (archive.folder / "uploads" / f"{key}.part").read_bytes()
    lease = OwnLease(archive)
    try:
        words = archive.uploads.run(lease)
    except Refused as refused:
        assert lay != data and state(archive, key) in ("open", "refused") and refused.message
        lease.close("stopped", refused.message)
    else:
        assert lay == data and state(archive, key) == "taken" and "here already" in words
        lease.close("done", words)


def test_what_the_disk_lost_is_asked_for_again_alone(archive: Archive, tmp_path: Path) -> None:
    data = sound(tmp_path / "REC1.wav")
    key = send(archive, data)
    with open(archive.folder / "uploads" / f"{key}.part", "r+b") as stream:
        stream.seek(2 * SMALL)
        stream.write(bytes(SMALL))
    lease = OwnLease(archive)
    with pytest.raises(Refused) as told:
        archive.uploads.run(lease)
    assert "1 piece did not reach the disk" in told.value.message
    lease.close("stopped", told.value.message)
    again, here = begin(archive, data)
    assert again == key and sorted(set(range(len(cut(data)))) - set(here)) == [2]
    send(archive, data)
    assert "Taken as R-0001" in worked(archive)


def test_another_file_under_the_same_name_is_told_by_its_sum(archive: Archive, tmp_path: Path) -> None:
    """Same name, same length: both come, none is mixed with the other."""
    first, second = sound(tmp_path / "a.wav", 2, 1), sound(tmp_path / "b.wav", 2, 2)
    assert len(first) == len(second)
    key, _ = begin(archive, first)
    archive.uploads.put(cast.EDITOR, key, 0, sha(cut(first)[0]), cut(first)[0])
    archive.uploads.put(cast.EDITOR, key, 1, sha(cut(first)[1]), cut(first)[1])
    with pytest.raises(Clash) as told:
        archive.uploads.put(cast.EDITOR, key, 1, sha(cut(second)[1]), cut(second)[1])
    assert "another file of the same name" in told.value.message
    other = send(archive, second)
    assert other != key
    worked(archive)
    assert send(archive, first) == key
    worked(archive)
    assert {p.read_bytes() for p in (archive.folder / "masters").glob("??/*")} == {first, second}


@pytest.mark.parametrize("name", ["../../etc/REC.wav", "C:\\cards\\REC.wav", "a/REC.wav", "REC.wav\0", "…/./REC.wav"])
def test_a_name_is_never_a_path(archive: Archive, tmp_path: Path, name: str) -> None:
    data = sound(tmp_path / "x.wav")
    send(archive, data, name)
    worked(archive)
    assert archive.ingest.findings(cast.EDITOR)[0].source_name == "REC.wav"
    assert not list(tmp_path.glob("**/REC.wav"))


def test_what_is_refused_has_words_and_stays_until_it_is_removed(archive: Archive) -> None:
    key = send(archive, b"We met at the quay.\n" * 900, "talk.wav")
    assert "not a sound file" in worked(archive)
    assert state(archive, key) == "refused" and archive.recordings.list(cast.EDITOR) == ()
    assert not list((archive.folder / "masters").glob("??/*"))
    archive.uploads.remove(cast.EDITOR, key)
    assert not list((archive.folder / "uploads").iterdir())


def test_what_cannot_be_sent_is_said_before_a_byte_is(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, size, words in (("Thumbs.db", 10, "not a recording"), (".DS_Store", 10, "not a recording"), ("notes.pdf", 10**8, "limit"), ("a.wav", 0, "empty"), ("a.wav", 10**13, "limit")):
        with pytest.raises(BadInput, match=words):
            archive.uploads.begin(cast.EDITOR, name, size, "0" * 64)
    with pytest.raises(BadInput):
        archive.uploads.begin(cast.EDITOR, "a.wav", 10, "no sum")
    with pytest.raises(NotAllowed):
        archive.uploads.begin(cast.READER, "a.wav", 10, "0" * 64)
    with pytest.raises(NotFound):
        archive.uploads.put(cast.EDITOR, "0" * 32, 0, sha(b"x"), b"x")
    import shutil

    usage = shutil.disk_usage(archive.folder)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=40_000_000))
    archive.uploads.begin(cast.EDITOR, "a.wav", 5_000_000, "0" * 64)
    with pytest.raises(NoSpace) as told:  # what is on its way has its room already
        archive.uploads.begin(cast.EDITOR, "b.wav", 5_000_000, "1" * 64)
    assert told.value.exit_code == 9 and "not sent again" in told.value.remedy
    assert [u.name for u in archive.uploads.list(cast.EDITOR)] == ["a.wav"]


def test_a_killed_job_goes_on(archive: Archive, tmp_path: Path) -> None:
    """It dies after the master is there, or after the recording is: run again, there is one of each."""
    data = sound(tmp_path / "REC1.wav")
    key = send(archive, data)
    archive.rooms.masters.adopt(archive.folder / "uploads" / f"{key}.part", sha(data), "wav")  # as far as it got
    lease = OwnLease(archive)
    assert "Taken as R-0001" in archive.uploads.run(lease)
    assert "Taken as R-0001" in archive.uploads.run(lease), "once more, it says what it said"
    assert len(archive.recordings.list(cast.EDITOR)) == 1


def send_together(archive: Archive, batch: str, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        key, here = begin(archive, data, name, batch=batch)
        for n, piece in enumerate(cut(data)):
            if n not in here:
                archive.uploads.put(cast.EDITOR, key, n, sha(piece), piece)
        assert archive.uploads.finish(cast.EDITOR, key, sha(data)) == []


def words_of(archive: Archive) -> dict[str, tuple[str, str]]:
    return {u.name: (u.state, u.words) for u in archive.uploads.list(cast.EDITOR)}


def test_what_was_chosen_together_is_one_card(archive: Archive, tmp_path: Path) -> None:
    """A checksum list, notes and a sheet come with the recordings, as `ingest CARD` handles them; nothing begins before all is here."""
    archive.people.read(cast.KEEPER, SAMPLES / "people.csv")
    one, two = sound(tmp_path / "a.wav", 1, 21), sound(tmp_path / "b.wav", 1, 22)
    sums = f"{hashlib.md5(one).hexdigest()}  REC1.wav\n{'0' * 32}  REC2.wav\n".encode()
    sheet = b"file,interview,part,participants\nREC1.wav,TW-40,1,N-01:narrator\nREC2.wav,TW-40,2,\nREC9.wav,TW-40,3,\n"
    files = {"REC1.wav": one, "card.md5": sums, "REC2.wav": two, "rec1.txt": b"At the quay, windy.", "holiday.jpg": b"\xff\xd8", "recordings.csv": sheet}
    batch = "ab" * 16
    key, _ = begin(archive, two, "REC2.wav", batch=batch)
    send_together(archive, batch, {"REC1.wav": one})
    assert archive.uploads.together(cast.EDITOR, batch) == 1
    with pytest.raises(AssertionError, match="nothing of this kind waits"):
        worked(archive)
    batch = "cd" * 16  # the page was loaded again, and the same files chosen: what is here is not sent again, and all are together
    send_together(archive, batch, files)
    assert archive.uploads.together(cast.EDITOR, batch) == 0
    assert "5 files taken, 1 refused" in worked(archive)
    told = words_of(archive)
    assert "Taken as TW-40.1" in told["REC1.wav"][1] and "card.md5 (its checksum matches), rec1.txt" in told["REC1.wav"][1]
    assert "Taken as TW-40.2" in told["REC2.wav"][1] and "checksum in card.md5 is not that of this file" in told["REC2.wav"][1]
    assert told["rec1.txt"] == ("taken", "Kept beside REC1.wav.") and told["card.md5"][1] == "Kept beside REC1.wav, REC2.wav."
    assert told["holiday.jpg"][0] == "refused" and "Send it together with its recording" in told["holiday.jpg"][1]
    assert told["recordings.csv"] == ("taken", "It was read. REC9.wav: recordings.csv names this file, and it was not sent.")
    assert [p.suffix for p in (archive.folder / "uploads").iterdir()] == [".part"], "the one that nobody claims stays until it is removed"


def test_a_sheet_with_faults_holds_back_no_recording_and_may_be_sent_again_alone(archive: Archive, tmp_path: Path) -> None:
    archive.people.read(cast.KEEPER, SAMPLES / "people.csv")
    data = sound(tmp_path / "a.wav", 1, 23)
    send_together(archive, "ab" * 16, {"REC1.wav": data, "recordings.csv": b"file,interview,part,participants\nREC1.wav,TW-41,one,N-99:narrator\n"})
    archive.uploads.together(cast.EDITOR, "ab" * 16)
    worked(archive)
    told = words_of(archive)
    assert "Taken as R-0001" in told["REC1.wav"][1] and told["recordings.csv"][0] == "refused"
    assert "row 2" in told["recordings.csv"][1] and "N-99" in told["recordings.csv"][1] and "“one”" in told["recordings.csv"][1]
    send(archive, b"file,interview,part,participants\nREC1.wav,TW-41,1,N-01:narrator\n", "recordings.csv")
    assert "It is TW-41.1 from now on" in worked(archive)


def test_parts_and_microphones_are_told_apart_from_what_was_sent(archive: Archive, tmp_path: Path) -> None:
    """Two microphones by name and time, sent in any order (modification times as the browser says them)."""
    first, second = sound(tmp_path / "a.wav", 2, 24), sound(tmp_path / "b.wav", 2, 25)
    for name, data in (("REC7_Tr2.wav", second), ("REC7_Tr1.wav", first)):
        key, _ = begin(archive, data, name, batch="ef" * 16, modified_ms=1_700_000_000_000)
        for n, piece in enumerate(cut(data)):
            archive.uploads.put(cast.EDITOR, key, n, sha(piece), piece)
        archive.uploads.finish(cast.EDITOR, key, sha(data))
    archive.uploads.together(cast.EDITOR, "ef" * 16)
    worked(archive)
    assert "another microphone of R-0001" in words_of(archive)["REC7_Tr2.wav"][1]


@given(order=st.permutations(range(6)))
def test_a_sum_made_while_pieces_come_is_that_of_the_whole(order: list[int]) -> None:
    parts = [bytes([n]) * (n + 1) for n in range(6)]
    running = Running()
    running.begin("k")
    for n in order:
        running.came("k", n, parts[n], parts.__getitem__)
    assert running.whole("k", 6) == sha(b"".join(parts)) and running.whole("k", 6) == ""


def test_what_was_never_interrupted_is_not_read_once_more(archive: Archive, tmp_path: Path) -> None:
    """Known by the file's last change; a server that ended in between, or a file that was touched, is read."""
    data = sound(tmp_path / "a.wav", 1, 26)
    key = send(archive, data)
    path = archive.folder / "uploads" / f"{key}.part"
    (as_of,) = _as_of(archive)
    assert as_of == path.stat().st_mtime_ns
    archive.uploads.remove(cast.EDITOR, key)
    key, _ = begin(archive, data)
    archive.uploads.put(cast.EDITOR, key, 0, sha(cut(data)[0]), cut(data)[0])
    archive.close()
    again = Archive.open(archive.folder, {}, cast.clock)
    send(again, data)
    assert _as_of(again) == [0]
    again.close()


def _as_of(archive: Archive) -> list[int]:
    with archive.rooms.db.read() as connection:
        return [row.as_of for row in uploads.everything(connection)]


def test_a_folder_of_this_machine_is_taken_in(archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    card = tmp_path / "card"
    card.mkdir()
    sound(card / "REC1.wav", 1, 5)
    (tmp_path / "door").symlink_to("/etc")
    shelf = archive.uploads.look(cast.KEEPER, str(tmp_path))
    assert "card" in [name for _, name in shelf.folders] and "door" not in [name for _, name in shelf.folders] and shelf.above == ""
    assert archive.uploads.look(cast.KEEPER, str(card)).sounds == 1
    for path in ("/etc", str(tmp_path / "door"), str(card / ".." / ".." / ".." / "etc"), "card", str(tmp_path / "none"), "a\0b"):
        with pytest.raises(BadInput):
            archive.uploads.look(cast.KEEPER, path)
        with pytest.raises(BadInput):
            archive.uploads.take_folder(cast.KEEPER, path)
    with pytest.raises(NotAllowed):
        archive.uploads.look(cast.EDITOR, str(card))
    archive.uploads.take_folder(cast.KEEPER, str(card))
    assert "1 file taken" in worked(archive)
    archive.uploads.take_folder(cast.KEEPER, str(card))
    (card / "REC1.wav").unlink()
    card.rmdir()
    with pytest.raises(Refused, match="not there any more"):
        worked(archive)
