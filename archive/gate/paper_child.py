"""The child that looks whether a scan of a signed paper is one: `python -m archive.gate.paper_child FILE` prints JSON, {"pages": 3} or {"why": "locked"}."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from PIL import Image
from pypdf import PdfReader

from archive.gate.capped import cap

CPU_SECONDS = 10
MEMORY_BYTES = 1 << 30
MOST_PAGES = 200
MOST_DOTS = 120_000_000  # an A3 page at 600 dots an inch has some 70 million


def look(path: Path) -> dict[str, object]:
    """Pages of a scan, or why it is none. Never raises for what the file holds."""
    try:
        with path.open("rb") as stream:
            return _pdf(path) if stream.read(5) == b"%PDF-" else _picture(path)
    except MemoryError:
        raise
    except Exception:  # both libraries raise many kinds for what is broken
        return {"why": "broken"}


def _pdf(path: Path) -> dict[str, object]:
    reader = PdfReader(path, strict=False)
    if reader.is_encrypted:
        return {"why": "locked"}
    pages = len(reader.pages)
    if not pages:
        return {"why": "empty"}
    if pages > MOST_PAGES:
        return {"why": "long"}
    for page in reader.pages:
        page.mediabox  # noqa: B018 - raises where the page is not there
    return {"pages": pages}


def _picture(path: Path) -> dict[str, object]:
    with Image.open(path, formats=("JPEG", "PNG")) as picture:
        if picture.width * picture.height > MOST_DOTS:
            return {"why": "long"}
        picture.draft("L", (picture.width // 4, picture.height // 4))  # a JPEG is read in a quarter of its size
        picture.load()  # raises where it breaks off
    return {"pages": 1}


def main() -> None:
    """The child: one path as its argument, one answer to standard output."""
    cap(MEMORY_BYTES, CPU_SECONDS)
    Image.MAX_IMAGE_PIXELS = None  # ours is asked instead, before anything is read
    sys.stdout.write(json.dumps(look(Path(sys.argv[1]))))


if __name__ == "__main__":
    main()
