"""Files that were made from a master and can be made again: whole under the master's checksum, or not there at all."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

EXTENSION = ".opus"
HALF = ".part"


class Derived:
    """The folder of access copies: `abcdef….opus`, beside it what is being made."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def find(self, sha256: str) -> Path | None:
        """The copy made from the master of this checksum, or None."""
        path = self.root / f"{sha256}{EXTENSION}"
        return path if path.is_file() else None

    def begin(self, sha256: str) -> Path:
        """Where to write a new copy. What others left half done for this master goes: only one worker holds its job."""
        self.root.mkdir(mode=0o700, exist_ok=True)
        self._sweep(sha256)
        return self.root / f"{sha256}-{secrets.token_hex(6)}{HALF}"

    def settle(self, half: Path, sha256: str) -> None:
        """The copy is whole: put it in place of any older one."""
        with open(half, "rb") as stream:
            os.fsync(stream.fileno())
        os.chmod(half, 0o600)
        os.replace(half, self.root / f"{sha256}{EXTENSION}")

    def remove(self, sha256: str) -> None:
        """Take away the copy and whatever is half done for it."""
        (self.root / f"{sha256}{EXTENSION}").unlink(missing_ok=True)
        self._sweep(sha256)

    def _sweep(self, sha256: str) -> None:
        for half in self.root.glob(f"{sha256}-*{HALF}"):
            with contextlib.suppress(OSError):  # still open elsewhere (Windows): its worker has lost the job, the next sweep takes it
                half.unlink(missing_ok=True)
