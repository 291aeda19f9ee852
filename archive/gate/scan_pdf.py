"""Reads PDF files back for the last scan: in a child with limits of time and memory, since a page may be made to cost either."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from archive.gate.scan_piece import MOST_MEMBER_BYTES, Piece, Unreadable

SECONDS = 20.0
_ROOT = Path(__file__).resolve().parents[2]
_KILLED = "uses more time or memory than a document may; it cannot be read back."


def read_pdf(path: Path) -> Iterator[Piece]:
    """A PDF: pages as text, every string of every object, metadata, notes, links, fields, bytes outside all objects.

    Locked ones, attachments, earlier versions kept inside, pictures of letters and fonts without letters are refused.
    """
    if path.stat().st_size > MOST_MEMBER_BYTES:
        raise Unreadable("the file", f"is larger than {MOST_MEMBER_BYTES // 1_000_000} MB, too large to be read back.")
    with path.open("rb") as stream:
        if stream.read(5) != b"%PDF-":
            raise Unreadable("the file", "is not a PDF document.")
    said = in_child(path)
    for where, text in said["pieces"]:
        yield Piece(str(where), str(text))
    if said["refused"]:
        raise Unreadable(str(said["refused"][0]), str(said["refused"][1]))


def in_child(path: Path, module: str = "archive.gate.scan_pdf_child") -> dict[str, Any]:
    """What the child found: pieces as (where, text), and (where, why) where it refused; another `module` says it in its own way. Raises Unreadable where it died."""
    environ = {k: v for k, v in os.environ.items() if k != "PYTHONWARNINGS"} | {
        "PYTHONPATH": os.pathsep.join([str(_ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep),
        "PYTHONUTF8": "1",
    }
    child = subprocess.Popen(
        [sys.executable, "-m", module, str(path.resolve())],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,  # the library's warnings may hold words of the document
        env=environ,
    )
    try:
        out, _ = child.communicate(timeout=SECONDS)
    except subprocess.TimeoutExpired:
        raise Unreadable("the file", _KILLED) from None
    finally:
        if child.poll() is None:
            child.kill()
            child.communicate()
    try:
        said: dict[str, Any] = json.loads(out.decode("utf-8", "surrogatepass"))
    except ValueError:
        raise Unreadable("the file", _KILLED) from None
    return said
