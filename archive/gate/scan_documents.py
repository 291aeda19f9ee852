"""Reads DOCX sheets back for the last scan, part by part, with a plain XML reader instead of the library that wrote them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

from archive.gate.scan_pictures import read_png_bytes
from archive.gate.scan_piece import MOST_ZIP_BYTES, Piece, Unreadable
from archive.gate.scan_xml import STANDARD_PARTS, read_xml
from archive.gate.scan_zip import member, opened, outside_members

NOT_DOCX = "is not a DOCX document."


def read_docx(path: Path, known_parts: frozenset[str], digest: Callable[[bytes], str]) -> Iterator[Piece]:
    """A DOCX: every part, its properties, custom XML, links, comments, footnotes; pictures are PNG or refused, and so is
    whatever else is no XML. `known_parts`: digests of binary parts that the product itself ships (its fonts).
    """
    with opened(path, NOT_DOCX) as archive:
        infos = archive.infolist()
        if "word/document.xml" not in {i.filename for i in infos}:
            raise Unreadable("the file", NOT_DOCX)
        yield from outside_members(path, archive, infos, STANDARD_PARTS)
        left = MOST_ZIP_BYTES
        for number, info in enumerate(infos, start=1):
            where = info.filename if re.fullmatch(r"[A-Za-z0-9_./\[\]-]{1,120}", info.filename) else f"part {number}"
            data = member(archive, info, where, left)
            left -= len(data)
            if info.filename.endswith("/") and not data:
                continue
            if info.filename.endswith((".xml", ".rels")):
                yield from read_xml(data, where)
            elif digest(data) in known_parts:
                continue
            elif info.filename.lower().endswith(".png"):
                yield from read_png_bytes(data, where)
            else:
                raise Unreadable(where, "is a part of a kind that cannot be read back.")
