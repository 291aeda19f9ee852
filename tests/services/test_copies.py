"""The second copy: written, read back, read again, mended; a card that may be cleared; and everything that goes wrong with a disk.

Sums are read by hashlib and by coreutils' sha256sum, which nobody here wrote.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from archive.app import Archive
from archive.db.session import Connection
from archive.domain.clearing import MAY, Part
from archive.domain.disks import Block, System, read_mounts
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, Clash, LeaseLost, NotAllowed, NotThere, Refused
from archive.files.masters import ASIDE
from archive.services.clearing import Clearing
from archive.services.copies import Copies
from archive.services.records import Records
from archive.services.secondplace import MARK_FILE, SecondPlace
from tests import cast
from tests.lease import OwnLease
from tests.services import killed_copies

ROOT = Path(__file__).resolve().parents[2]


def on_disks(archive: Archive, second: Path, disks: tuple[str, str] = ("sda", "sdb")) -> Archive:
    """The same archive on a computer whose disks are these: hardware that a test machine cannot be asked to have."""
    own, there = archive.folder.resolve(), second.resolve()
    text_ = f"1 0 8:1 / / rw - ext4 /dev/a rw\n2 1 8:17 / {there} rw - ext4 /dev/b rw\n"
    blocks = [Block("8:1", "part1", "8:0"), Block("8:0", disks[0]), Block("8:17", "part2", "8:16"), Block("8:16", disks[1])]
    system = System(read_mounts(text_), {b.number: b for b in blocks})
    archive.second_place = SecondPlace(archive.rooms, lambda: system, lambda p: 1 if p.resolve() == own else 2)
    archive.copies = Copies(archive.rooms, archive.second_place)
    archive.clearing = Clearing(archive.rooms, archive.second_place)
    archive.records = Records(archive.rooms, archive.copies, archive.papers)
    return archive


@pytest.fixture
def second(tmp_path: Path) -> Path:
    return tmp_path / "second"


@pytest.fixture
def archive(cast_archive: Archive, second: Path) -> Archive:
    """The cast with its second copies written."""
    on_disks(cast_archive, second)
    cast_archive.second_place.choose(cast.KEEPER, second)
    cast_archive.copies.make(cast.EDITOR)
    return cast_archive


def files(root: Path) -> list[Path]:
    return sorted(killed_copies.files(root))


def spoil(path: Path, data: bytes | None = None) -> bytes:
    """A byte turned (or other bytes) in a file of its own: the session's masters are linked. Returns what lies there now."""
    turned = bytearray(path.read_bytes()) if data is None else bytearray(data)
    if data is None:
        turned[len(turned) // 3] ^= 1
    path.unlink()
    path.write_bytes(turned)
    return bytes(turned)


def sums(folder: Path) -> dict[str, str]:
    """coreutils' own reading, by file name."""
    done = subprocess.run(["sha256sum", *map(str, files(folder))], capture_output=True, text=True, check=True)
    return {Path(line[66:]).stem: line[:64] for line in done.stdout.splitlines()}


# -- writing and reading back ---------------------------------------------------------------------------------------------
def test_every_master_lies_there_under_its_sum_and_was_read_back(archive: Archive, second: Path) -> None:
    assert sums(second) == sums(archive.folder) and all(name == found for name, found in sums(second).items())
    page = archive.copies.page(cast.EDITOR)
    assert len(page.rows) == len(cast.CAST) and all(r.copied_at and r.read_back_at and not r.copy_trouble for r in page.rows)
    assert page.other_disk == "yes" and page.folder == str(second)
    assert not list(second.rglob("*.part")) and oct(second.stat().st_mode)[-3:] == "700"
    assert archive.copies.make(cast.EDITOR) == "Every recording is in the second place."


def test_only_a_keeper_chooses_and_readers_see_nothing(archive: Archive, second: Path, tmp_path: Path) -> None:
    assert archive.second_place.choose(cast.EDITOR, second).path == second, "the same again is no choice"
    with pytest.raises(NotAllowed):
        archive.second_place.choose(cast.EDITOR, tmp_path / "elsewhere")
    for ask in (archive.copies.page, archive.clearing.cards, archive.copies.make):
        with pytest.raises(NotAllowed):
            ask(cast.READER)


def test_a_folder_that_is_somebody_else_s_is_not_taken(archive: Archive, second: Path, tmp_path: Path, open_cast: Any) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("ours", encoding="utf-8")
    with pytest.raises(Clash, match="not empty"):
        archive.second_place.choose(cast.KEEPER, tmp_path / "full")
    with pytest.raises(BadInput):
        archive.second_place.choose(cast.KEEPER, archive.folder / "masters" / "two")
    with pytest.raises(NotThere, match="not there"):
        archive.second_place.choose(cast.KEEPER, tmp_path / "no disk" / "x")
    other = open_cast()
    with pytest.raises(Clash, match="another archive"):
        other.second_place.choose(cast.KEEPER, second)


def test_a_disk_that_is_not_connected_is_told_and_an_empty_mount_point_is_none(archive: Archive, second: Path, tmp_path: Path) -> None:
    second.rename(tmp_path / "in the drawer")
    second.mkdir()  # what stays where a disk was mounted
    cards = archive.clearing.cards(cast.KEEPER)
    assert any("connect its disk" in words for words in cards[0].missing)
    assert "another disk is connected" in archive.copies.page(cast.KEEPER).away
    with pytest.raises(NotThere) as told:
        archive.copies.make(cast.KEEPER)
    assert told.value.exit_code == 12 and "nothing is lost" in told.value.remedy
    checked = archive.copies.check(cast.KEEPER)
    assert checked.faults == () and "were not read" in checked.notes[0] and checked.read == len(cast.CAST)
    assert not any(second.iterdir()), "nothing is written to a folder that is not the disk"
    second.rmdir()
    (tmp_path / "in the drawer").rename(second)
    assert archive.copies.make(cast.KEEPER) == "Every recording is in the second place."


def test_a_disk_that_is_connected_elsewhere_is_known_again(archive: Archive, second: Path, tmp_path: Path) -> None:
    second.rename(tmp_path / "E")
    archive.second_place.choose(cast.KEEPER, tmp_path / "E")
    assert all(r.read_back_at for r in archive.copies.page(cast.KEEPER).rows)


def test_a_master_that_is_damaged_is_not_copied(cast_archive: Archive, second: Path) -> None:
    victim = files(cast_archive.folder)[0]
    spoil(victim)
    cast_archive.second_place.choose(cast.KEEPER, second)
    told = cast_archive.copies.make(cast.KEEPER)
    assert "not what it was when it came" in told and len(files(second)) == len(cast.CAST) - 1
    (bad,) = [r for r in cast_archive.copies.page(cast.KEEPER).rows if r.trouble]
    assert not bad.copied_at and any(f"{bad.recording.split('.')[0]}.wav: " in m for m in cast_archive.clearing.cards(cast.KEEPER)[0].missing)


def test_a_second_place_that_may_only_be_read() -> None:
    """As somebody who may read its folder and not write to it (nobody, where the tests run as root). Nothing is left there."""
    code = (
        "import os, sys; from pathlib import Path; from archive.files.masters import Masters; from archive.errors import NotThere\n"
        "source, root, sha = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3]\n"
        "os.geteuid() or os.setuid(65534)\n"
        "try: Masters(root).bring(source, sha, 'wav')\n"
        "except NotThere as told: print(told.message)\n"
    )
    with tempfile.TemporaryDirectory() as made:
        base = Path(made)
        base.chmod(0o755)
        (base / "source.wav").write_bytes(b"RIFF" * 1000)
        root = base / "second"
        root.mkdir()
        root.chmod(0o555)
        done = run([sys.executable, "-c", code, str(base / "source.wav"), str(root), hashlib.sha256(b"RIFF" * 1000).hexdigest()])
        assert done.stdout == "The place of this copy may be read, but not written to.\n", done.stderr
        assert not any(root.iterdir())


def test_a_disk_that_is_full(cast_archive: Archive, second: Path) -> None:
    """RLIMIT_FSIZE in a real process: no file may grow beyond 30 kB, as on a disk with no more room. Nothing half stays."""
    cast_archive.second_place.choose(cast.KEEPER, second)
    code = (
        "import resource, sys; from pathlib import Path; from archive.app import Archive; from tests import cast\n"
        "archive = Archive.open(Path(sys.argv[1]), {}, cast.clock); real = type(archive.copies)._copy\n"
        "def narrow(*a):\n"
        "    from archive.files.masters import Masters; bring = Masters.bring\n"
        "    def limited(*b):\n"
        "        resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, resource.RLIM_INFINITY))\n"
        "        try: return bring(*b)\n"
        "        finally: resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))\n"
        "    Masters.bring = limited\n"
        "    try: return real(*a)\n"
        "    finally: Masters.bring = bring\n"
        "type(archive.copies)._copy = narrow\n"
        "print(archive.copies.make(cast.EDITOR))\n"
    )
    done = run([sys.executable, "-c", code, str(cast_archive.folder)])
    assert done.returncode == 0, done.stderr
    assert "No recordings written" in done.stdout.replace("no recordings", "No recordings") and "File too large" in done.stdout
    assert files(second) == [] and not list(second.rglob("*.part"))
    assert cast_archive.copies.make(cast.EDITOR).startswith(f"{len(cast.CAST)} recordings written")


def run(command: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False)


# -- killed -----------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("act", "least"), [("copying", 15), ("mending", 8)])
def test_killed_at_every_step(cast_archive: Archive, second: Path, act: str, least: int) -> None:
    cast_archive.second_place.choose(cast.KEEPER, second)
    if act == "mending":
        cast_archive.copies.make(cast.KEEPER)
    cast_archive.close()
    done = run([sys.executable, str(Path(killed_copies.__file__)), act, str(cast_archive.folder), str(second)])
    assert done.returncode == 0, done.stderr[-3000:]
    assert int(done.stdout.split()[-1]) >= least, "it was really killed so often"
    assert sums(second) == {p.stem: p.stem for p in files(second)}
    entries = Archive.open(cast_archive.folder, {}, cast.clock).records.list(cast.KEEPER, 1000)
    said = [e.action for e in entries]
    if act == "mending":
        aside = [*(cast_archive.folder / "masters" / ASIDE).iterdir(), *(second / "masters" / ASIDE).iterdir()]
        assert said.count("mending begun") >= len(aside), "never a mend that is not on record"


class Held(OwnLease):
    """A lease that is lost after so many transactions, as when somebody pauses the job."""

    def __init__(self, archive: Archive, most: int) -> None:
        super().__init__(archive, kind="copy")
        self.most, self.told = most, []

    def keep(self, act: Any) -> Any:
        self.most -= 1
        if self.most < 0:
            raise LeaseLost("Paused.")
        return super().keep(act)

    def got(self, connection: Connection, done: int, total: int, **rest: Any) -> None:
        self.told.append((done, total))


def test_as_a_job_it_goes_on_from_its_last_commit(cast_archive: Archive, second: Path) -> None:
    cast_archive.second_place.choose(cast.KEEPER, second)
    cast_archive.copies.queue(cast.KEEPER)
    lease = Held(cast_archive, 7)
    with pytest.raises(LeaseLost):
        cast_archive.copies.run(lease)
    begun = len(files(second))
    assert 0 < begun < len(cast.CAST) and not list(second.rglob("*.part"))
    lease.close("waiting", "")
    assert cast_archive.copies.run(Held(cast_archive, 1000)).endswith("written to the second place and read back.")
    assert len(files(second)) == len(cast.CAST) and lease.told and all(0 <= d <= t for d, t in lease.told)


# -- read again, and mended ---------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("side", ["here", "there"])
@pytest.mark.parametrize("how", ["turned", "cut", "gone"])
def test_one_copy_is_damaged(archive: Archive, second: Path, side: str, how: str) -> None:
    root = archive.folder if side == "here" else second
    victim = files(root)[2]
    good = victim.read_bytes()
    if how == "gone":
        victim.unlink()
        bad = b""
    else:
        bad = spoil(victim, good[:-100] if how == "cut" else None)
    (fault,) = archive.copies.check(cast.KEEPER).faults
    assert ("The master of" if side == "here" else "The second copy of") in fault and "--mend mends it" in fault
    assert not victim.exists() if how == "gone" else victim.read_bytes() == bad, "nothing is mended unasked"
    assert any("The file" in m for m in archive.clearing.cards(cast.KEEPER)[0].missing)
    checked = archive.copies.check(cast.KEEPER, mend=True)
    assert checked.faults == () and len(checked.mended) == 1 and victim.read_bytes() == good
    assert not victim.stat().st_mode & 0o222
    aside = [p.read_bytes() for p in (root / "masters" / ASIDE).glob("*")]
    assert aside == ([] if how == "gone" else [bad])
    said = [(r.action, r.detail["side"]) for r in archive.records.list(cast.KEEPER, 2)]
    assert said == [("copy mended", side), ("mending begun", side)]
    assert archive.records.check(cast.KEEPER, fixity=True) == ()


def test_both_are_damaged_and_neither_is_touched(archive: Archive, second: Path) -> None:
    bad = [spoil(files(root)[0]) for root in (archive.folder, second)]
    for mend in (False, True):
        faults = archive.copies.check(cast.KEEPER, mend=mend).faults
        assert len(faults) == 2 and all("neither was touched" in f for f in faults)
    assert [files(root)[0].read_bytes() for root in (archive.folder, second)] == bad
    assert not list(second.rglob(f"{ASIDE}/*")) and not list(archive.folder.rglob(f"{ASIDE}/*"))


def test_the_one_read_longest_ago_comes_first_and_the_next_check_goes_on(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock of the budget runs a minute a look: three files fit into three minutes."""
    at = iter(range(0, 10**6, 60))
    monkeypatch.setattr("archive.services.copies.time.monotonic", lambda: float(next(at)))
    monkeypatch.setattr("archive.services.copies._Pulse.__call__", lambda self, n: None)
    checked = archive.copies.check(cast.EDITOR, minutes=4)
    assert checked.read == 3 and checked.left == 2 * len(cast.CAST) - 3 and "The next check begins with those" in checked.notes[0]
    read = [r.recording for r in archive.copies.page(cast.EDITOR).rows if r.checked_at]
    again = archive.copies.check(cast.EDITOR, minutes=4)
    now = [r.recording for r in archive.copies.page(cast.EDITOR).rows if r.checked_at]
    assert again.read == 3 and len(now) == 6 and now[:3] == read, "others than before: never read ones first"


def checked_as_a_job(archive: Archive, mend: bool) -> str:
    archive.copies.queue_check(cast.KEEPER, 0, mend)
    lease = OwnLease(archive, kind="check")
    words = archive.copies.check_job(lease)
    lease.close("done", words)
    return words


def test_as_a_job_the_check_says_what_it_found(archive: Archive, second: Path) -> None:
    assert checked_as_a_job(archive, mend=False) == f"{2 * len(cast.CAST)} files read again, all whole."
    spoil(files(second)[0])
    told = checked_as_a_job(archive, mend=True)
    assert "was mended from the other copy" in told and archive.records.list(cast.KEEPER, 1)[0].actor == "K-01"


# -- may be cleared ------------------------------------------------------------------------------------------------------------
def heard_by_keeper(archive: Archive) -> None:
    """Everything listened to; what is closed is opened before, with a reason."""
    for member in cast.CAST:
        code = cast.recording_of(member.code)
        for part in Part:
            try:
                archive.clearing.listened(cast.KEEPER, code, [part.value])
            except Refused:
                archive.clearing.open_part(cast.KEEPER, code, part.value, "the card must be cleared")
                archive.clearing.listened(cast.KEEPER, code, [part.value])


def test_a_card_may_be_cleared_when_all_is_there_and_not_before(archive: Archive, second: Path) -> None:
    (card,) = archive.clearing.cards(cast.KEEPER)
    assert not card.may and len(card.missing) == len(cast.CAST) and MAY not in card.told
    heard_by_keeper(archive)
    (card,) = archive.clearing.cards(cast.KEEPER)
    assert card.may and card.told.endswith(f": {MAY}.") and len(card.files) == len(cast.CAST) and card.missing == ()
    assert "Deleting a card is not wiping it" in card.cautions[0]
    on_disks(archive, second, ("sda", "sda"))
    (card,) = archive.clearing.cards(cast.KEEPER)
    assert not card.may and "one physical disk" in card.missing[0]
    assert any("one physical disk" in w for w in archive.second_place.warnings())


def test_who_may_not_hear_a_stretch_cannot_say_that_they_did(archive: Archive) -> None:
    sealed = [cast.recording_of(m.code) for m in cast.CAST if m.held in ("embargo", "withdrawn")]
    for code in sealed:
        for viewer in (cast.EDITOR, cast.KEEPER):
            with pytest.raises(Refused):
                archive.clearing.listened(viewer, code, ["start"])
        with pytest.raises(NotAllowed):
            archive.clearing.open_part(cast.EDITOR, code, "start", "curious")
        with pytest.raises(BadInput):
            archive.clearing.open_part(cast.KEEPER, code, "start", " ")
        with pytest.raises(Refused):
            archive.clearing.opened_sound(cast.KEEPER, code, "start")
        archive.clearing.open_part(cast.KEEPER, code, "start", "is the recording whole?")
        for other in (Viewer("K-02", Role.KEEPER), cast.EDITOR):
            with pytest.raises((Refused, NotAllowed)):
                archive.clearing.opened_sound(other, code, "start")
        sound = archive.clearing.opened_sound(cast.KEEPER, code, "start")
        assert any(sound[44:]), "it is really heard, not silence"
        archive.clearing.listened(cast.KEEPER, code, ["start"])
        for refused in ((cast.KEEPER, "end"), (cast.EDITOR, "start")):
            with pytest.raises(Refused):
                archive.clearing.listened(refused[0], code, [refused[1]])
    with pytest.raises(NotAllowed):
        archive.clearing.listened(cast.READER, "IV-21.1", ["start"])


def test_a_refused_or_missing_file_keeps_the_card(archive: Archive, tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    cast.sound(card / "good.wav", 2, 300, 77)
    (card / "bad.wav").write_text("no sound at all", encoding="utf-8")
    archive.ingest.take(cast.EDITOR, [card])
    archive.copies.make(cast.EDITOR)
    newest, _ = archive.clearing.cards(cast.KEEPER)
    assert not newest.may and any("bad.wav: it was refused" in m for m in newest.missing)
    (waits,) = [m for m in newest.missing if m.startswith("good.wav")]
    assert "nobody said that they listened" in waits


# -- told at the start ------------------------------------------------------------------------------------------------------------
def test_what_is_said_where_the_archive_lies(archive: Archive, second: Path) -> None:
    assert [w for w in archive.second_place.warnings() if "no encryption was found" in w and w.startswith(("The archive", "The second copy"))]
    archive.second_place = SecondPlace(archive.rooms, System)  # a system that tells nothing
    told = archive.second_place.warnings()
    assert sum("could not find out" in w for w in told) >= 2
    (archive.folder.parent / ".stfolder").mkdir()
    assert any("looks like one which a service uploads" in w for w in archive.second_place.warnings())


def test_on_the_command_line(cast_archive: Archive, tmp_path: Path) -> None:
    """--copy-to from the card to the second copy, in a real process; this machine's disks are what they are."""
    card, second = tmp_path / "card", tmp_path / "disk" / "second"
    card.mkdir()
    second.parent.mkdir()
    cast.sound(card / "new.wav", 2, 300, 55)
    cast_archive.close()
    command = [sys.executable, "-m", "archive.cli.main", "--archive", str(cast_archive.folder), "--as", "K-01"]
    done = run([*command, "ingest", str(card), "--copy-to", str(second)])
    assert done.returncode == 0 and f"{len(cast.CAST) + 1} recordings written to the second place and read back." in done.stdout, done.stderr
    assert "one physical disk" in done.stderr
    assert (second / MARK_FILE).read_text(encoding="utf-8").startswith("This folder is the second copy")
    with Archive.open(cast_archive.folder, {}, cast.clock).rooms.db.read() as connection:
        assert connection.execute(text("SELECT count(*) FROM second_copy WHERE read_back_at IS NOT NULL AND trouble = ''")).scalar() == len(cast.CAST) + 1
    assert {hashlib.sha256(p.read_bytes()).hexdigest() for p in files(second)} == {p.stem for p in files(cast_archive.folder)}
