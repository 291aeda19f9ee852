"""Reads ZIP packages back for the last scan: their names, comments and fields, and each member by its own reader.

Nothing is unpacked under a name of the package's own; what a zip says of its sizes is not believed.
"""

from __future__ import annotations

import re
import struct
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from archive.gate.scan_piece import (
    MOST_CHUNK_BYTES,
    MOST_MEMBER_BYTES,
    MOST_MEMBERS,
    MOST_RATIO,
    MOST_ZIP_BYTES,
    Piece,
    Unreadable,
    read_loose_bytes,
)

MOST_NESTED = 3
MOST_PACKAGE_BYTES = 400_000_000
_PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_TOO_MUCH = "unpacks to more than a package may hold."
_END = 22 + 65_535 + 20  # the record at a zip's end, its longest comment, a ZIP64 locator (APPNOTE.TXT 4.3.15-16)


@dataclass
class Budget:
    """What a package and everything inside it may hold together."""

    members: int = MOST_MEMBERS
    unpacked: int = MOST_PACKAGE_BYTES
    depth: int = 0


def opened(path: Path, not_one: str, most_bytes: int = MOST_ZIP_BYTES) -> zipfile.ZipFile:
    """A zip whose list of members is sound: few, no two of one name, none over another. Raises Unreadable."""
    try:
        with path.open("rb") as stream:  # so many are not even listed: a million entries take seconds to read
            stream.seek(max(0, path.stat().st_size - _END))
            tail = stream.read()
        at = tail.rfind(b"PK\x05\x06")
        if at >= 0 and len(tail) >= at + 12 and struct.unpack("<H", tail[at + 10 : at + 12])[0] > MOST_MEMBERS:
            raise Unreadable("the file", f"holds more than {MOST_MEMBERS} parts.")
        archive = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError, ValueError, struct.error, NotImplementedError) as error:
        raise Unreadable("the file", not_one) from error
    infos = archive.infolist()
    words = ""
    if len(infos) > MOST_MEMBERS:
        words = f"holds more than {MOST_MEMBERS} parts."
    elif sum(i.file_size for i in infos) > most_bytes:
        words = "unpacks to more than a document may hold." if most_bytes == MOST_ZIP_BYTES else _TOO_MUCH
    elif len({i.filename.lower() for i in infos}) != len(infos):
        words = "holds two parts of one name."
    elif sum(i.compress_size for i in infos) > path.stat().st_size:
        words = "holds parts that lie over one another."
    if words:
        archive.close()
        raise Unreadable("the file", words)
    return archive


def member(
    archive: zipfile.ZipFile, info: zipfile.ZipInfo, where: str, left: int, most: int = MOST_MEMBER_BYTES
) -> bytes:
    """One member's bytes, counted while they unpack. Raises Unreadable."""
    _check_packing(info, where)
    most = min(most, left, max(1_000_000, info.compress_size * MOST_RATIO))
    try:
        with archive.open(info) as stream:
            data = stream.read(most + 1)
    except Exception as error:  # zlib.error, BadZipFile and their like: one per thing that can be wrong
        raise Unreadable(where, "cannot be unpacked.") from error
    if len(data) > most:
        raise Unreadable(where, "unpacks to more than a document may hold.")
    return data


def _check_packing(info: zipfile.ZipInfo, where: str) -> None:
    if info.flag_bits & 0x1:
        raise Unreadable(where, "is locked with a password.")
    if info.compress_type not in _PACKINGS:
        raise Unreadable(where, "is packed in a way that cannot be read back.")


def outside_members(
    path: Path, archive: zipfile.ZipFile, infos: list[zipfile.ZipInfo], known: frozenset[str] = frozenset()
) -> Iterator[Piece]:
    """Text in the zip itself: names (but `known` ones), comments, extra fields, and bytes around and between members."""
    yield Piece("names of parts", "\n".join(i.filename for i in infos if i.filename not in known), any_case=True)
    yield Piece("names of parts", "\n".join(i.orig_filename for i in infos if i.orig_filename != i.filename), any_case=True)
    loose = [archive.comment, *(i.comment for i in infos), *(i.extra for i in infos)]
    with path.open("rb") as stream:
        loose += _between(stream, archive, infos)
    for data in loose:
        if data:
            yield from read_loose_bytes(data, "the container")


def _between(stream: BinaryIO, archive: zipfile.ZipFile, infos: list[zipfile.ZipInfo]) -> list[bytes]:
    """The fields of each member's own head (APPNOTE.TXT 4.3.7), and whatever lies outside all members."""
    found: list[bytes] = []
    at = 0
    for info in sorted(infos, key=lambda i: i.header_offset):
        found.append(_read_at(stream, at, info.header_offset - at))
        head = _read_at(stream, info.header_offset, 30)
        if len(head) < 30 or head[:4] != b"PK\x03\x04":
            raise Unreadable("the file", "is a package whose list does not fit what it holds.")
        name_length, extra_length = struct.unpack("<HH", head[26:30])
        name = _read_at(stream, info.header_offset + 30, name_length)
        if name not in (info.orig_filename.encode("utf-8"), info.orig_filename.encode("cp437", "replace")):
            found.append(name)
        found.append(_read_at(stream, info.header_offset + 30 + name_length, extra_length))
        at = info.header_offset + 30 + name_length + extra_length + info.compress_size
        if info.flag_bits & 0x8:  # the sizes again, after the data: 16 bytes, 24 in ZIP64 (4.3.9)
            at += 16
    start = getattr(archive, "start_dir", at)
    if at < start:
        found.append(_read_at(stream, at, start - at))
    return found


def _read_at(stream: BinaryIO, at: int, length: int) -> bytes:
    if length <= 0:
        return b""
    if length > MOST_CHUNK_BYTES:
        raise Unreadable("the container", "holds much that belongs to none of its parts.")
    stream.seek(at)
    return stream.read(length)


def read_zip(path: Path, reader_for: Callable[[str], Callable[[Path], Iterator[Piece]] | None], budget: Budget) -> Iterator[Piece]:
    """A package: names, comments and fields, then each member by the reader of its own kind, packages in packages too.

    `reader_for` gives the reader for an ending such as ".docx", or None; for packages read_zip calls itself.
    """
    if budget.depth >= MOST_NESTED:
        raise Unreadable("the file", "holds packages within packages, too deep to be read back.")
    with opened(path, "is not a ZIP package.", budget.unpacked) as archive:
        infos = archive.infolist()
        budget.members -= len(infos)
        if budget.members < 0:
            raise Unreadable("the file", f"holds more than {MOST_MEMBERS} parts.")
        yield from outside_members(path, archive, infos)
        with tempfile.TemporaryDirectory(prefix="toldhere-scan-") as folder:
            for number, info in enumerate(infos, start=1):
                yield from _read_member(archive, info, number, Path(folder), reader_for, budget)


def _read_member(
    archive: zipfile.ZipFile,
    info: zipfile.ZipInfo,
    number: int,
    folder: Path,
    reader_for: Callable[[str], Callable[[Path], Iterator[Piece]] | None],
    budget: Budget,
) -> Iterator[Piece]:
    where = f"part {number}"
    name = info.filename.replace("\\", "/")
    if name.startswith("/") or ".." in name.split("/") or re.match(r"[A-Za-z]:", name):
        raise Unreadable(where, "has a name that leads out of the package.")
    if info.external_attr >> 16 & 0o170000 == 0o120000:
        raise Unreadable(where, "points to another file.")
    if info.is_dir() and not info.file_size:
        return
    ending = PurePosixPath(name).suffix.lower()
    reader = reader_for(ending)
    if reader is None and ending != ".zip":
        raise Unreadable(where, "is of a kind that cannot be read back.")
    path = folder / f"{number}{ending}"
    budget.unpacked -= _unpack(archive, info, where, path, budget.unpacked)
    budget.depth += 1
    try:
        for piece in read_zip(path, reader_for, budget) if reader is None else reader(path):
            yield replace(piece, where=f"{where}, {piece.where}")
    except Unreadable as error:
        raise Unreadable(f"{where}, {error.where}", error.words) from error
    finally:
        budget.depth -= 1
        path.unlink(missing_ok=True)


def _unpack(archive: zipfile.ZipFile, info: zipfile.ZipInfo, where: str, path: Path, left: int) -> int:
    """Writes one member under a name of ours, counting; returns its bytes."""
    _check_packing(info, where)
    most = min(left, max(1_000_000, info.compress_size * MOST_RATIO))
    done = 0
    try:
        with archive.open(info) as stream, path.open("wb") as out:
            while piece := stream.read(1 << 16):
                done += len(piece)
                if done > most:
                    break
                out.write(piece)
    except Exception as error:  # as in `member`
        raise Unreadable(where, "cannot be unpacked.") from error
    if done > most:
        raise Unreadable(where, _TOO_MUCH)
    return done
