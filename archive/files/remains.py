"""Looks through the raw bytes of a folder for what was erased: ten words in a row, names, 4 KiB of sound.

Words and sound are known by keyed digests alone; names are given by whoever looks, and kept nowhere. What is packed (inside a ZIP or a
PDF) is not seen: such files are removed by name.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from archive.domain.erasing import runs, tokens

BLOCK_BYTES = 4096
MOST_BLOCKS = 64  # of one file of sound, evenly spread
_PIECE = 4 << 20
_OVERLAP = 4096  # more than ten words with the times between them
_ENDS = 1 << 20  # of a file of sound, where what is written in it as text lies
_SOUND_FOLDERS = ("masters", "access")
_TEXT = re.compile(rb"(?:[\t\n\r\x20-\x7e]|[\xc2-\xf4][\x80-\xbf]{1,3}){30,}")  # what reads as text among other bytes
_LEAST_KINDS = 32  # a block of fewer different bytes is silence, or a table: everybody's


@dataclass(frozen=True, slots=True)
class Wanted:
    """What must be found nowhere. `digest`: of a text or of bytes; `names` as they are written."""

    digest: Callable[[bytes], bytes]
    runs: frozenset[bytes]
    sound: frozenset[bytes]
    names: tuple[str, ...] = ()


def blocks_of(path: Path, digest: Callable[[bytes], bytes]) -> set[bytes]:
    """Digests of up to 64 blocks of a file of sound, evenly spread, without those that are silence."""
    found: set[bytes] = set()
    with open(path, "rb") as stream:
        count = os.fstat(stream.fileno()).st_size // BLOCK_BYTES
        for n in range(0, count, max(1, count // MOST_BLOCKS)):
            stream.seek(n * BLOCK_BYTES)
            block = stream.read(BLOCK_BYTES)
            if len(set(block)) >= _LEAST_KINDS:
                found.add(digest(block))
    return found


def holds_blocks(path: Path, digest: Callable[[bytes], bytes], wanted: Collection[bytes]) -> set[bytes]:
    """Those of these blocks that a file has, where they begin on a multiple of 4 KiB."""
    found: set[bytes] = set()
    with open(path, "rb") as stream:
        while piece := stream.read(_PIECE):
            found |= {d for n in range(0, len(piece), BLOCK_BYTES) if (d := digest(piece[n : n + BLOCK_BYTES])) in wanted}
    return found


def search(root: Path, wanted: Sequence[Wanted], skip: Collection[str] = (), sound_too: bool = True, tick: Callable[[], None] = lambda: None) -> list[str]:
    """Sentences, one for each file below `root` in which any of it is found. `skip`: files by their path in it.

    `sound_too=False`: masters and access copies are left out; they lie under the checksums of their bytes.
    """
    found = []
    for path in files_below(root):
        inside = path.relative_to(root)
        if inside.as_posix() in skip or (not sound_too and inside.parts[0] in _SOUND_FOLDERS):
            continue
        is_sound = inside.parts[0] in _SOUND_FOLDERS
        try:
            what = _in_file(path, wanted, is_sound, tick)
        except OSError:
            found.append(f"{_called(inside)}: could not be read, so it was not searched.")
            continue
        if what:
            found.append(f"{_called(inside)}: {', '.join(sorted(what))}.")
        if any(name for w in wanted for name in w.names if _written_in(inside.as_posix(), name)):
            found.append("A file bears an erased name in its own name; look through the archive's folder.")
    return found


def files_below(root: Path) -> Iterator[Path]:
    """Every file of a folder, in order; links are not followed."""
    for folder, folders, names in os.walk(root):
        folders.sort()
        for name in sorted(names):
            path = Path(folder) / name
            if path.is_file() and not path.is_symlink():
                yield path


def _called(inside: Path) -> str:
    """A file without its own name, which somebody may have typed: its folder and its kind."""
    return f"{inside.parent.as_posix()}/…{inside.suffix}" if len(inside.parts) > 1 else inside.name


def _in_file(path: Path, wanted: Sequence[Wanted], is_sound: bool, tick: Callable[[], None]) -> set[str]:
    found: set[str] = set()
    names = [_patterns(n) for w in wanted for n in w.names]
    size, before = path.stat().st_size, b""
    with open(path, "rb") as stream:
        at = 0
        while piece := stream.read(_PIECE):
            tick()
            for w in wanted:
                if w.sound and any(w.digest(piece[n : n + BLOCK_BYTES]) in w.sound for n in range(0, len(piece), BLOCK_BYTES)):
                    found.add("4 KiB of erased sound")
            data = before + piece
            lower = data.lower()
            if any(first in lower and pattern.search(lower) for patterns in names for first, pattern in patterns):
                found.add("an erased name")
            if not is_sound or at < _ENDS or at + len(piece) > size - _ENDS:
                found |= _runs_in(data, wanted)
            at += len(piece)
            before = data[-_OVERLAP:]
    return found


def _runs_in(data: bytes, wanted: Sequence[Wanted]) -> set[str]:
    some = [w for w in wanted if w.runs]
    if not some:
        return set()
    for text in _TEXT.findall(data):
        for run in runs(tokens(text.decode("utf-8", errors="replace"))):
            encoded = run.encode("utf-8")
            if any(w.digest(encoded) in w.runs for w in some):
                return {"ten erased words in a row"}
    return set()


def _patterns(name: str) -> list[tuple[bytes, re.Pattern[bytes]]]:
    """A name as it may be written in raw bytes whose ASCII is lower case: plain, escaped as JSON does, each word a string of its own with
    times between; each with its first word, which is looked for first."""
    found = []
    written = {name, name.lower()}
    for form in written | {n.encode("ascii", "backslashreplace").decode("ascii") for n in written}:
        words = [w.encode("utf-8").lower() for w in form.split()]
        between = rb"[^a-z]{1,60}".join(map(re.escape, words))
        found.append((words[0], re.compile(rb"(?<![a-z])" + between + rb"(?![a-z])")))
    return found


def _written_in(text: str, name: str) -> bool:
    lower = text.encode("utf-8").lower()
    return any(pattern.search(lower) for _, pattern in _patterns(name))
