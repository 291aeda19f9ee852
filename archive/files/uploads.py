"""Files on their way from a browser: one file each, filled piece by piece. Which pieces count is said by the database alone."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

from archive.errors import BadInput, NoSpace
from archive.files.masters import RESERVE_BYTES

_KEY = re.compile(r"[0-9a-f]{32}")
_READ_BYTES = 8 << 20
Bytes = bytes | memoryview
NOT_THERE = "There is no such file on its way."
FULL = "Make room on the archive's disk, then go on: what is here is kept, and is not sent again."


class Uploads:
    """The folder of half-sent files. Names are keys made here; nothing that a browser says becomes a path."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def path(self, key: str) -> Path:
        """Where the file of this key lies. Raises BadInput for a key that is none."""
        if not _KEY.fullmatch(key):
            raise BadInput(NOT_THERE)
        return self.root / f"{key}.part"

    def make_room(self, wanted: int) -> None:
        """Raises NoSpace where so many bytes more have no room on the archive's disk."""
        self.root.mkdir(mode=0o700, parents=True, exist_ok=True)
        if shutil.disk_usage(self.root).free < wanted + RESERVE_BYTES:
            raise NoSpace("There is not enough room on the archive's disk for this file.", FULL)

    def put(self, key: str, start: int, data: Bytes) -> None:
        """Write one piece at its place. Not synced: whoever finds the whole to be wrong looks for the piece that was lost. Raises NoSpace."""
        with _space_told():
            handle = os.open(self.path(key), os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
            with open(handle, "r+b", buffering=0) as stream:
                stream.seek(start)
                rest = memoryview(data)
                while rest:
                    rest = rest[stream.write(rest) :]

    def settle(self, key: str) -> int:
        """Have the disk keep what was written; returns when it was last changed (ns). Raises NoSpace."""
        with _space_told(), open(self.path(key), "rb") as stream:
            os.fsync(stream.fileno())
            return os.fstat(stream.fileno()).st_mtime_ns

    def changed_ns(self, key: str) -> int:
        """When the file was last changed; 0 where there is none."""
        try:
            return self.path(key).stat().st_mtime_ns
        except OSError:
            return 0

    def sum_of(self, key: str, start: int, length: int, alive: Callable[[], None]) -> str:
        """SHA-256 of a stretch of the file as it lies there; "" where it cannot be read. `alive`: called now and then."""
        digest = hashlib.sha256()
        try:
            with open(self.path(key), "rb") as stream:
                stream.seek(start)
                while length > 0 and (piece := stream.read(min(_READ_BYTES, length))):
                    digest.update(piece)
                    length -= len(piece)
                    alive()
        except OSError:
            return ""
        return digest.hexdigest() if length <= 0 else ""

    def read(self, key: str, start: int, length: int) -> bytes:
        """A stretch of the file as it lies there."""
        with open(self.path(key), "rb", buffering=0) as stream:
            stream.seek(start)
            return stream.read(length)

    def remove(self, key: str) -> None:
        """Delete what came of a file; a master that was taken from it stays."""
        self.path(key).unlink(missing_ok=True)


class Running:
    """Sums of whole files, made while their pieces come, so that who was never interrupted is not read once more.

    They live in this process alone: where it ended meanwhile, or a piece was lost and sent again, there is no sum.
    """

    def __init__(self, most: int = 16) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._open: dict[str, _Sum] = {}

    def begin(self, key: str) -> None:
        """A file that begins now. The one that was begun first is forgotten where too many are open."""
        with self._lock:
            while len(self._open) >= self._most:
                del self._open[next(iter(self._open))]
            self._open[key] = _Sum()

    def came(self, key: str, n: int, data: Bytes, read: Callable[[int], bytes]) -> None:
        """Piece `n`, each told once, after it was written. `read` gives a piece that came before its turn."""
        with self._lock:
            running = self._open.get(key)
        if running is not None:
            with running.lock:
                running.add(n, data, read)

    def whole(self, key: str, pieces: int) -> str:
        """The sum of all so many pieces, and the file is forgotten; "" where this process did not see all of them."""
        with self._lock:
            running = self._open.pop(key, None)
        if running is None:
            return ""
        with running.lock:
            return running.digest.hexdigest() if running.next == pieces else ""


class _Sum:
    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.digest = hashlib.sha256()
        self.next = 0
        self.early: set[int] = set()

    def add(self, n: int, data: Bytes, read: Callable[[int], bytes]) -> None:
        if n != self.next:
            self.early.add(n)
            return
        self.digest.update(data)
        self.next += 1
        while self.next in self.early:
            self.early.remove(self.next)
            self.digest.update(read(self.next))
            self.next += 1


@contextlib.contextmanager
def _space_told() -> Iterator[None]:
    try:
        yield
    except OSError as trouble:
        if trouble.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoSpace("The archive's disk is full.", FULL) from trouble
        raise
