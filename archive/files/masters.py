"""Masters: recordings as they came, read-only under their SHA-256. A kill at any moment leaves a whole file or none."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from archive.errors import BadInput, BadMedia, NoSpace, NotThere

if sys.platform != "win32":
    import fcntl

PIECE_BYTES = 1 << 20
RESERVE_BYTES = 32 << 20  # the database beside the masters needs room too
ASIDE = ".aside"  # damaged files that were replaced
_SHA256 = re.compile(r"[0-9a-f]{64}")
Tick = Callable[[int], None]  # told after every piece how many bytes it had; what it raises ends the work, and no half file stays


@dataclass(frozen=True, slots=True)
class Taken:
    """A file that is now a master. `already`: the same bytes were here before."""

    sha256: str
    bytes: int
    path: Path
    already: bool


@dataclass(frozen=True, slots=True)
class Fixity:
    """Outcome of reading a master again. `found` is "" where the file is missing or cannot be read."""

    path: Path
    expected: str
    found: str
    words: str

    @property
    def whole(self) -> bool:
        """True where the bytes are still those that came."""
        return self.expected == self.found


def clean_extension(extension: str) -> str:
    """Lower case letters and digits, at most 8, without the dot; "bin" for anything else."""
    text = extension.lower().lstrip(".")
    return text if re.fullmatch(r"[a-z0-9]{1,8}", text) else "bin"


class Masters:
    """The folder of masters: `ab/abcdef….ext`. Half files live in `.incoming` and belong to whoever holds their lock."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.incoming = root / ".incoming"

    def path(self, sha256: str, extension: str) -> Path:
        """Where a master of this checksum lies or would lie. Raises BadInput for a checksum that is none."""
        if not _SHA256.fullmatch(sha256):
            raise BadInput("That is no SHA-256 checksum.")
        return self.root / sha256[:2] / f"{sha256}.{clean_extension(extension)}"

    def find(self, sha256: str) -> Path | None:
        """The master of this checksum under whatever extension it came with, or None."""
        folder = self.path(sha256, "bin").parent
        return next(iter(sorted(folder.glob(f"{sha256}.*"))), None) if folder.is_dir() else None

    def take(self, source: Path, extension: str, max_bytes: int, tick: Tick | None = None) -> Taken:
        """Copy and sum in one pass, fsync, rename into place, read-only. The source is only read.

        Raises BadMedia (empty, too_big, changing, unreadable) and NoSpace; either way no half file stays.
        """
        try:
            with self._space_told(), open(source, "rb") as stream:
                before = os.fstat(stream.fileno())
                self._admit(before.st_size, max_bytes)
                with self._half_file() as (half, half_path):
                    sha256, size = _copy_and_sum(stream, half, max_bytes, tick)
                    after = os.fstat(stream.fileno())
                    if (size, after.st_size, after.st_mtime_ns) != (before.st_size, before.st_size, before.st_mtime_ns):
                        raise BadMedia(
                            "changing",
                            "The file changed while it was being copied.",
                            "Wait until the recorder or the copy has finished, then take it again.",
                        )
                    os.fsync(half.fileno())
                    return self._settle(half_path, sha256, size, extension)
        except OSError as trouble:
            raise BadMedia(
                "unreadable",
                f"The file could not be read to its end ({os.strerror(trouble.errno or 0)}).",
                "Look whether the card or disk is whole, and copy the file again.",
            ) from trouble

    def bring(self, source: Path, sha256: str, extension: str, tick: Tick | None = None) -> Path:
        """Copy a file whose sum is on record: no other bytes come to lie under it. A damaged file in its place is kept aside.

        Raises BadMedia (damaged, unreadable: the source is not what it was), NoSpace, NotThere (may not be written to).
        """
        target = self.find(sha256) or self.path(sha256, extension)
        try:
            with self._space_told(), open(source, "rb") as stream:
                self._room_for(os.fstat(stream.fileno()).st_size)
                with self._half_file() as (half, half_path):
                    found, _ = _copy_and_sum(stream, half, sys.maxsize, tick)
                    if found != sha256:
                        raise BadMedia("damaged", "The file is not what it was when it came; it was not copied.", "Mend it from the other copy first.")
                    os.fsync(half.fileno())
                    if target.exists():
                        self._set_aside(target)
                    return self._into_place(half_path, target)
        except OSError as trouble:
            if trouble.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
                raise NotThere("The place of this copy may be read, but not written to.", "Look whether its disk is locked or full of faults.") from trouble
            raise BadMedia("unreadable", f"The file could not be copied ({os.strerror(trouble.errno or 0)}).", "Look whether both disks are connected and whole.") from trouble

    def _set_aside(self, damaged: Path) -> None:
        """Nothing is thrown away: who mends may have been wrong about which file is the good one."""
        folder = self.root / ASIDE
        folder.mkdir(parents=True, exist_ok=True)
        os.replace(damaged, folder / f"{damaged.stem}-{secrets.token_hex(4)}{damaged.suffix}")
        _sync_folder(folder)

    def adopt(self, source: Path, sha256: str, extension: str) -> Taken:
        """Take a file that lies in the archive's own folder and has this checksum: linked, not copied; it stays where it is.

        Only for what was just summed and is written to by nobody any more. Raises BadMedia and NoSpace as `take`.
        """
        target = self.find(sha256) or self.path(sha256, extension)
        size = source.stat().st_size
        if target.is_file() and target.stat().st_size == size:
            return Taken(sha256, size, target, already=True)
        with open(source, "rb") as stream:
            os.fsync(stream.fileno())
        target.parent.mkdir(parents=True, exist_ok=True)
        _sync_folder(self.root)
        os.chmod(source, 0o444)
        target.unlink(missing_ok=True)
        try:
            os.link(source, target)
        except OSError:  # a disk without links
            return self.take(source, extension, size)
        _sync_folder(target.parent)
        return Taken(sha256, size, target, already=False)

    def _admit(self, size: int, max_bytes: int) -> None:
        if size == 0:
            raise BadMedia("empty", "The file is empty: it holds no bytes at all.", "Copy it again from the card.")
        if size > max_bytes:
            raise BadMedia(
                "too_big",
                f"The file has {size / 1e9:.1f} GB; the limit is {max_bytes / 1e9:.1f} GB.",
                "Cut it into parts, or raise the limit in archive.toml.",
            )
        self._room_for(size)

    def _room_for(self, size: int) -> None:
        self.incoming.mkdir(parents=True, exist_ok=True)
        if shutil.disk_usage(self.root).free < size + RESERVE_BYTES:
            raise NoSpace("There is not enough room on the archive's disk for this file.")

    @contextlib.contextmanager
    def _space_told(self) -> Iterator[None]:
        try:
            yield
        except OSError as trouble:
            if trouble.errno in (errno.ENOSPC, errno.EDQUOT):
                raise NoSpace("The archive's disk is full.") from trouble
            raise

    @contextlib.contextmanager
    def _half_file(self) -> Iterator[tuple[IO[bytes], Path]]:
        path = self.incoming / f"{os.getpid()}-{secrets.token_hex(8)}.part"
        try:
            with open(path, "xb", buffering=0) as half:  # unbuffered: on a full disk closing must not fail again
                lock(half)
                yield half, path
        finally:
            path.unlink(missing_ok=True)

    def _settle(self, half_path: Path, sha256: str, size: int, extension: str) -> Taken:
        there = self.find(sha256)
        if there is not None and there.stat().st_size == size:
            return Taken(sha256, size, there, already=True)
        target = self._into_place(half_path, there or self.path(sha256, extension))
        return Taken(sha256, size, target, already=False)

    def _into_place(self, half_path: Path, target: Path) -> Path:
        if not target.parent.is_dir():
            target.parent.mkdir(parents=True, exist_ok=True)
            _sync_folder(self.root)
        os.chmod(half_path, 0o444)
        os.replace(half_path, target)
        _sync_folder(target.parent)
        return target

    def sweep(self) -> int:
        """Remove half files that nobody writes any more (their lock is free); returns how many."""
        gone = 0
        for path in sorted(self.incoming.glob("*.part")) if self.incoming.is_dir() else []:
            try:
                with open(path, "rb") as half:
                    if not lock(half):
                        continue
                    path.unlink(missing_ok=True)
                    gone += 1
            except OSError:
                continue  # gone meanwhile, or still open elsewhere: the next sweep sees it again
        return gone

    def remove(self, sha256: str) -> None:
        """Take back bytes that turned out to be no recording. Only for a checksum that no row names."""
        path = self.find(sha256)
        if path is not None:
            path.unlink(missing_ok=True)

    def erase(self, sha256: str) -> None:
        """Remove a file for good, and whatever was kept aside of it. That its blocks are overwritten, no program can promise."""
        aside = (self.root / ASIDE).glob(f"{sha256}-*")
        for path in [*self.path(sha256, "bin").parent.glob(f"{sha256}.*"), *aside]:
            path.unlink(missing_ok=True)
        for folder in (self.path(sha256, "bin").parent, self.root / ASIDE):
            if folder.is_dir():
                _sync_folder(folder)

    def verify(self, sha256: str, extension: str, tick: Tick | None = None) -> Fixity:
        """Read a master again and compare: from the disk, where the system lets go of what it holds of the file in memory."""
        path = self.path(sha256, extension)
        if not path.is_file():
            path = self.find(sha256) or path
        try:
            with open(path, "rb", buffering=0) as stream:
                _let_go(stream)
                found = _sum(stream, tick)
        except FileNotFoundError:
            return Fixity(path, sha256, "", "The file is missing.")
        except OSError:
            return Fixity(path, sha256, "", "The file cannot be read.")
        if found == sha256:
            return Fixity(path, sha256, found, "Unchanged since it came.")
        return Fixity(path, sha256, found, "The file has changed since it came.")


def _let_go(stream: IO[bytes]) -> None:
    """Ask the system to forget what it holds of a file, so that it is read from the disk. Only a wish; a disk has memory of its own."""
    if hasattr(os, "posix_fadvise"):  # neither on macOS nor on Windows
        with contextlib.suppress(OSError):  # some shares know neither
            os.fsync(stream.fileno())  # pages that were not written yet are never let go
            os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _sum(stream: IO[bytes], tick: Tick | None) -> str:
    digest = hashlib.sha256()
    while piece := stream.read(PIECE_BYTES):
        digest.update(piece)
        if tick:
            tick(len(piece))
    return digest.hexdigest()


def _copy_and_sum(stream: IO[bytes], half: IO[bytes], max_bytes: int, tick: Tick | None = None) -> tuple[str, int]:
    digest = hashlib.sha256()
    size = 0
    while piece := stream.read(PIECE_BYTES):
        size += len(piece)
        if size > max_bytes:
            raise BadMedia("too_big", "The file grew over the limit while it was being copied.")
        digest.update(piece)
        rest = memoryview(piece)
        while rest:
            rest = rest[half.write(rest) :]
        if tick:
            tick(len(piece))
    return digest.hexdigest(), size


def lock(stream: IO[bytes] | IO[str]) -> bool:
    """Take an open file for this process alone; False where another has it. It is let go with the file, also by a kill."""
    if sys.platform == "win32":  # an open file cannot be unlinked there: that is the lock
        return True
    try:
        fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
