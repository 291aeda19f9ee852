"""An archive that is closed while something is erased: a file says so in words, and its lock says that somebody is at it."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import IO

from archive.files.masters import lock

FILE_NAME = ".erasing"  # db/session.py looks for it before each transaction
NAMES = ".erasing-names"  # names that must be found nowhere, until they were looked for


class Closed:
    """One folder, closed by this process. `take` is None where another process is at it."""

    def __init__(self, folder: Path, stream: IO[str]) -> None:
        self._folder, self._stream = folder, stream

    @staticmethod
    def is_so(folder: Path) -> bool:
        """Whether the folder is closed, by whoever."""
        return (folder / FILE_NAME).exists()

    @staticmethod
    def words(folder: Path) -> str:
        """What it says, "" where it is open."""
        try:
            return (folder / FILE_NAME).read_text(encoding="utf-8").strip()
        except OSError:
            return ""

    @classmethod
    def take(cls, folder: Path) -> Closed | None:
        """Close the folder, or go on with what was interrupted."""
        stream = open(folder / FILE_NAME, "a+", encoding="utf-8")  # noqa: SIM115  (held until `open_again`)
        if not lock(stream):
            stream.close()
            return None
        closed = cls(folder, stream)
        if not cls.words(folder):
            closed.say("Something is being erased from this archive.")
        return closed

    def say(self, words: str) -> None:
        """What everybody else is told."""
        self._stream.seek(0)
        self._stream.truncate()
        self._stream.write(words)
        self._stream.flush()

    def keep_names(self, names: Sequence[str]) -> None:
        """Keep names beside, once: after a kill nothing else knows them any more."""
        path = self._folder / NAMES
        if not path.exists():
            half = path.with_name(f"{NAMES}-half")
            half.write_text(json.dumps(list(names)), encoding="utf-8")
            os.replace(half, path)

    def names(self) -> tuple[str, ...]:
        """The names that were kept."""
        try:
            return tuple(json.loads((self._folder / NAMES).read_text(encoding="utf-8")))
        except FileNotFoundError:
            return ()

    def forget_names(self) -> None:
        """Overwrite and remove them."""
        for path in self._folder.glob(f"{NAMES}*"):
            with open(path, "r+b") as stream:
                stream.write(b"\0" * os.fstat(stream.fileno()).st_size)
                os.fsync(stream.fileno())
            path.unlink()

    def let_go(self) -> None:
        """End here with the folder still closed: the next to come goes on."""
        self._stream.close()

    def open_again(self) -> None:
        """Nothing is erased any more."""
        self.forget_names()
        (self._folder / FILE_NAME).unlink(missing_ok=True)
        self._stream.close()
