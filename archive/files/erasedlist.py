"""The list of what was erased, as a file beside the database and in the second place: ids and checksums, no names and no words.

It travels with every backup of the folder. Copied into a folder that was restored from an older backup, it is what that archive
erases again before it opens.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from archive.errors import Broken

FILE_NAME = "erased.json"
WORDS = "What was erased from an archive of Told Here. Keep it with every backup; put it into a restored folder before that is opened."


def read(path: Path) -> tuple[str, tuple[dict[str, Any], ...]]:
    """(mark of the archive, entries); ("", ()) where there is no list. Raises Broken where it cannot be read as one."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        return str(data["archive"]), tuple(dict(entry) for entry in data["erased"])
    except FileNotFoundError:
        return "", ()
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise Broken(
            f"The list of what was erased cannot be read ({path.name}).", "Take it from the newest backup or from the second place; nothing was opened."
        ) from error


def write(folder: Path, archive_mark: str, entries: Sequence[dict[str, Any]]) -> None:
    """Write the list into a folder, whole or not at all."""
    half = folder / f".{FILE_NAME}-{secrets.token_hex(4)}"
    try:
        with open(half, "w", encoding="utf-8") as stream:
            json.dump({"about": WORDS, "archive": archive_mark, "erased": list(entries)}, stream, ensure_ascii=False, indent=1)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(half, folder / FILE_NAME)
    finally:
        half.unlink(missing_ok=True)
