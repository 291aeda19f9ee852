"""Scans of signed papers, looked at before they are kept: a PDF, JPEG or PNG that opens, without a password. Their words are read by nobody here."""

from __future__ import annotations

from pathlib import Path

from archive.errors import BadInput
from archive.gate.scan_pdf import in_child
from archive.gate.scan_piece import Unreadable

MOST_BYTES = 50_000_000
_BEGINS = ((b"%PDF-", "pdf"), (b"\xff\xd8\xff", "jpg"), (b"\x89PNG\r\n\x1a\n", "png"))
_NOTHING = "Nothing was kept, and what is on record stays."
_WHY = {
    "locked": ("The PDF is locked with a password.", f"Open it, save it without one, and attach that. {_NOTHING}"),
    "empty": ("The PDF has no page.", f"Scan the paper again. {_NOTHING}"),
    "long": ("The scan has more pages or dots than a signed paper.", f"Scan the signed pages alone, at 300 dots an inch. {_NOTHING}"),
    "broken": ("The scan is damaged and does not open.", f"Scan the paper again, or copy the file again. {_NOTHING}"),
}


def scan_of(path: Path) -> tuple[str, int]:
    """(extension, pages) of a scan, by what is in it and not by its name. Raises BadInput, with what to do."""
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            begin = stream.read(8)
    except OSError:
        raise BadInput("The scan cannot be opened.", f"Look at how its name is written. {_NOTHING}") from None
    if size > MOST_BYTES:
        raise BadInput(
            f"The scan has {size // 1_000_000} MB; {MOST_BYTES // 1_000_000} are the most.", f"Scan it at 300 dots an inch in grey, or as a PDF. {_NOTHING}"
        )
    extension = next((extension for start, extension in _BEGINS if begin.startswith(start)), "")
    if not extension:
        raise BadInput("A scan is a PDF, a JPEG or a PNG; this file is none of them.", f"Save it as one of these. {_NOTHING}")
    try:
        said = in_child(path, "archive.gate.paper_child")
    except Unreadable:
        said = {"why": "long"}
    if "pages" not in said:
        raise BadInput(*_WHY[str(said["why"])])
    return extension, int(said["pages"])
