"""What every reader of the last scan hands on, its refusals, and the caps that all of them keep."""

from __future__ import annotations

import mmap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

MOST_TEXT_BYTES = 4_000_000  # three hours of speech as JSON with times are about 2 MB
MOST_MEMBERS = 500
MOST_MEMBER_BYTES = 10_000_000
MOST_ZIP_BYTES = 30_000_000
MOST_RATIO = 300  # a member that unpacks to more than this many times its size, past a megabyte, is a bomb
MOST_SOUND_BYTES = 2_000_000_000
MOST_CHUNK_BYTES = 1_000_000
MOST_DEPTH = 500


@dataclass(frozen=True, slots=True)
class Piece:
    """Some text of a file. `by_line`: the line within it helps a person; `any_case`: a name counts in lower case too."""

    where: str
    text: str
    by_line: str = ""
    any_case: bool = False


class Unreadable(Exception):
    """A file, or a part of one, that cannot be read back. `where`, and a sentence that holds nothing of its content."""

    def __init__(self, where: str, words: str) -> None:
        super().__init__(words)
        self.where = where
        self.words = words


def whole(path: Path, most: int = MOST_TEXT_BYTES) -> bytes:
    """All bytes of a file. Raises Unreadable where there are more than `most`."""
    if path.stat().st_size > most:
        raise Unreadable("the file", f"is larger than {most // 1_000_000} MB, too large to be read back.")
    return path.read_bytes()


@contextmanager
def mapped(path: Path, most: int = MOST_SOUND_BYTES) -> Iterator[mmap.mmap]:
    """A file's bytes without loading it: what is not looked at is not read. Raises Unreadable for an empty or huge file."""
    size = path.stat().st_size
    if not size or size > most:
        raise Unreadable("the file", "is empty." if not size else f"is larger than {most // 1_000_000} MB.")
    with path.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as data:
        yield data


def utf8(data: bytes, where: str) -> str:
    """Text in UTF-8, with or without a mark at its start. Raises Unreadable."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Unreadable(where, "is not written in UTF-8, so it cannot be read back.") from error


def read_loose_bytes(data: bytes, where: str) -> Iterator[Piece]:
    """Bytes that may hold text in any of the usual encodings, each tried."""
    if not any(data):
        return
    for label, encoding, start in (
        ("UTF-8", "utf-8", 0),
        ("Latin-1", "latin-1", 0),
        ("UTF-16", "utf-16-le", 0),
        ("UTF-16", "utf-16-le", 1),
        ("UTF-16", "utf-16-be", 0),
        ("UTF-16", "utf-16-be", 1),
    ):
        text = data[start:].decode(encoding, errors="replace" if encoding == "utf-8" else "ignore")
        yield Piece(f"{where} ({label})", text)
        if encoding == "utf-8" and "\x00" in text:
            yield Piece(f"{where} ({label})", text.replace("\x00", ""))
