"""The main part of a DOCX that somebody brings, without unpacking the rest. What a package says of its sizes is not believed."""

from __future__ import annotations

import io
import re
import zipfile
import zlib

from archive.errors import BadInput

MOST_BODY_BYTES = 60_000_000
_MAIN = "word/document.xml"
_NAMED = re.compile(rb'<Override[^>]*PartName="/([^"]{1,200})"[^>]*ContentType="application/vnd\.openxmlformats-officedocument\.wordprocessingml\.document\.main\+xml"')
_DAMAGED = BadInput(
    "This package is no DOCX, or it is damaged or locked with a password.", "Open it, save it anew as DOCX, and read it again. Nothing was changed."
)


def is_package(data: bytes) -> bool:
    """True where the bytes begin as a ZIP package does."""
    return data.startswith(b"PK\x03\x04")


def main_part(data: bytes) -> bytes:
    """The XML of the main part (OPC, ECMA-376 part 2). Raises BadInput where there is none or it is too large."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            types = _member(package, "[Content_Types].xml")
            named = _NAMED.search(types)
            return _member(package, named[1].decode("utf-8", "replace") if named else _MAIN)
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, OSError, NotImplementedError, RuntimeError, zlib.error):
        raise _DAMAGED from None


def _member(package: zipfile.ZipFile, name: str) -> bytes:
    with package.open(name) as stream:
        found = stream.read(MOST_BODY_BYTES + 1)
    if len(found) > MOST_BODY_BYTES:
        raise BadInput("This DOCX is too large for a transcript.", "Save its words alone. Nothing was changed.")
    return found
