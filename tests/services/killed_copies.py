"""A real process that is killed (SIGKILL, by itself, so that it is exact) at every step of copying or of mending, one step later each time.

Steps: before and after each rename, each wait for the disk, each piece of a file, each commit (of mending: from the moment a difference
was found). Prints how many kills it took; any assertion ends it with another code than 0. Run by test_copies.py, not by pytest.
"""

from __future__ import annotations

import hashlib
import os
import signal
import sys
from pathlib import Path
from typing import Any

from archive.app import Archive
from archive.files import masters
from archive.services import copies
from archive.services.work import Lease
from tests import cast


class Killer:
    """Ends this process at the nth step."""

    def __init__(self, at: int) -> None:
        self.left, self.armed = at, False

    def arm(self, act: Any) -> Any:
        """Steps count from the first time that this is done."""
        def acted(*given: Any) -> Any:
            self.armed = True
            return act(*given)

        return acted

    def step(self) -> None:
        self.left -= self.armed
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def around(self, act: Any) -> Any:
        def acted(*given: Any, **named: Any) -> Any:
            self.step()
            done = act(*given, **named)
            self.step()
            return done

        return acted


def killed_at(step: int, folder: Path, mend: bool) -> bool:
    """True where the child was killed; False where it came to its end first."""
    pid = os.fork()
    if pid == 0:
        killer = Killer(step)
        os.replace, os.fsync = killer.around(os.replace), killer.around(os.fsync)
        Lease.keep = killer.around(Lease.keep)
        copies.Copies.run = killer.arm(copies.Copies.run)
        copies.Copies._mend = killer.arm(copies.Copies._mend)
        archive = Archive.open(folder, {}, cast.clock)
        if mend:
            archive.copies.check(cast.KEEPER, mend=True)
        else:
            archive.copies.make(cast.EDITOR)
        os._exit(0)
    status = os.waitpid(pid, 0)[1]
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0, status
    return os.WIFSIGNALED(status)


def files(root: Path) -> list[Path]:
    return [p for p in (root / "masters").rglob("*") if p.is_file() and p.parent.name not in (masters.ASIDE, ".incoming")]


def whole(path: Path) -> bool:
    return hashlib.sha256(path.read_bytes()).hexdigest() == path.stem


def copying(folder: Path, second: Path) -> int:
    kills = 0
    while killed_at(2 * kills + 1, folder, mend=False):
        kills += 1
        assert all(whole(p) for p in files(second)), "a whole file under its sum, or none"
        archive = Archive.open(folder, {}, cast.clock)
        kept = {p.stem for p in files(second)}
        with archive.rooms.db.read() as connection:
            place = archive.second_place.known(connection)
            assert place is not None
            said = {r.sha256 for r in copies.copies.masters(connection, place.mark) if r.copied_at}
        archive.close()
        assert said <= kept, "nothing is said to be there that is not"
    assert len(files(second)) == len(cast.CAST)
    return kills


def mending(folder: Path, second: Path) -> int:
    kills, done = 0, False
    while not done:
        for root in (folder, second):
            victim = sorted(files(root))[kills % len(cast.CAST)]
            data = bytearray(victim.read_bytes())
            data[len(data) // 2] ^= 0x10
            good = {p.stem: whole(p) for r in (folder, second) if r != root for p in files(r)}
            assert good[victim.stem], "one whole copy of each, to begin with"
            victim.unlink()
            victim.write_bytes(data)
            done = not killed_at(2 * kills + 1, folder, mend=True)
            kills += not done
            assert all(whole(p) for r in (folder, second) if r != root for p in files(r)), "the good one was not touched"
            archive = Archive.open(folder, {}, cast.clock)
            assert archive.copies.check(cast.KEEPER, mend=True).faults == ()
            archive.close()
            assert all(whole(p) for r in (folder, second) for p in files(r))
            aside = [p.read_bytes() for p in (root / "masters" / masters.ASIDE).iterdir()]
            assert bytes(data) in aside, "what was damaged is kept"
    return kills


if __name__ == "__main__":
    masters.PIECE_BYTES, copies.EVERY_S = 60_000, 0.0
    print({"copying": copying, "mending": mending}[sys.argv[1]](Path(sys.argv[2]), Path(sys.argv[3])))
