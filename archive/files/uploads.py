"""Files on their way from a browser: one file each, filled piece by piece. Which pieces count is said by the database alone."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

from archive.errors import BadInput, NoSpace
from archive.files.masters import RESERVE_BYTES

_KEY = re.compile(r"[0-9a-f]{32}")
_READ_BYTES = 1 << 20
FULL = "Make room on the archive's disk, then go on: what is here is kept, and is not sent again."


class Uploads:
    """The folder of half-sent files. Names are keys made here; nothing that a browser says becomes a path."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def path(self, key: str) -> Path:
        """Where the file of this key lies. Raises BadInput for a key that is none."""
        if not _KEY.fullmatch(key):
            raise BadInput("There is no such file on its way.")
        return self.root / f"{key}.part"

    def make_room(self, wanted: int) -> None:
        """Raises NoSpace where so many bytes more have no room on the archive's disk."""
        self.root.mkdir(mode=0o700, parents=True, exist_ok=True)
        if shutil.disk_usage(self.root).free < wanted + RESERVE_BYTES:
            raise NoSpace("There is not enough room on the archive's disk for this file.", FULL)

    def put(self, key: str, start: int, data: bytes) -> None:
        """Write one piece at its place. Not synced: whoever finds the whole to be wrong looks for the piece that was lost. Raises NoSpace."""
        with _space_told():
            handle = os.open(self.path(key), os.O_RDWR | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600)
            with open(handle, "r+b", buffering=0) as stream:
                stream.seek(start)
                rest = memoryview(data)
                while rest:
                    rest = rest[stream.write(rest) :]

    def sum_of(self, key: str, start: int, length: int) -> str:
        """SHA-256 of a stretch of the file as it lies there; "" where it cannot be read."""
        digest = hashlib.sha256()
        try:
            with open(self.path(key), "rb") as stream:
                stream.seek(start)
                while length > 0 and (piece := stream.read(min(_READ_BYTES, length))):
                    digest.update(piece)
                    length -= len(piece)
        except OSError:
            return ""
        return digest.hexdigest() if length <= 0 else ""

    def remove(self, key: str) -> None:
        """Delete what came of a file; a master that was taken from it stays."""
        self.path(key).unlink(missing_ok=True)


@contextlib.contextmanager
def _space_told() -> Iterator[None]:
    try:
        yield
    except OSError as trouble:
        if trouble.errno in (errno.ENOSPC, errno.EDQUOT):
            raise NoSpace("The archive's disk is full.", FULL) from trouble
        raise
