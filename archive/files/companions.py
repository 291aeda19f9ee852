"""Files that lie beside a recording on a card: which ones belong to it, and what a list of checksums says."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from archive.files.guard import NOT_SOUND, Source, shown_name

MOST_BYTES = 50_000_000
MOST_LIST_BYTES = 2_000_000
MOST_BESIDE = 20
SUMS = {".md5": "md5", ".sha1": "sha1", ".sha256": "sha256", ".sha512": "sha512"}
_HEX = {"md5": 32, "sha1": 40, "sha256": 64, "sha512": 128}
_CHECKSUM, _DATA, _TEXT, _PICTURE, _CAPTIONS = "checksum", "data", "text", "picture", "captions"
_KINDS = {
    _CHECKSUM: tuple(SUMS), _DATA: (".xml", ".json", ".yaml", ".yml", ".csv", ".tsv", ".log", ".ini", ".asc"),
    _PICTURE: (".jpg", ".jpeg", ".png", ".gif", ".tif", ".tiff", ".heic", ".bmp"), _CAPTIONS: (".srt", ".vtt", ".textgrid"),
}  # fmt: skip
# "HASH  name" and "HASH *name" as sum programs write them; "MD5 (name) = HASH" as BSD's do (common practice, no source)
_LINE = re.compile(r"^\\?([0-9a-fA-F]{32,128}) [ *](.+)$")
_BSD = re.compile(r"^[A-Z0-9-]+ ?\((.+)\) ?= ?([0-9a-fA-F]{32,128})$")


@dataclass(frozen=True, slots=True)
class Companion:
    """One file beside a recording. `kind`: checksum, data, text, picture or captions, by its name alone."""

    path: Path
    name: str
    kind: str


def companions_of(source: Source) -> list[Companion]:
    """Plain files in the same folder, or sent with it, that bear the recording's name, and lists of checksums that name it; links are left."""
    stem = _folded(Path(source.name).stem)
    found = []
    try:
        beside = source.beside if source.ours else [(path, shown_name(path)) for path in sorted(source.path.parent.iterdir())]
    except OSError:
        return []
    for path, name in beside:
        suffix, folded = Path(name).suffix.lower(), _folded(name)
        if suffix not in NOT_SOUND or name.startswith("."):
            continue
        mine = folded.startswith(f"{stem}.") and folded != _folded(source.name)
        try:
            if path.is_symlink() or not path.is_file() or not 0 < path.stat().st_size <= MOST_BYTES:
                continue
            if mine or (suffix in SUMS and _named(path, source.name)):
                found.append(Companion(path, name, _kind(suffix)))
        except OSError:
            continue  # gone, or not to be read: the recording itself is what counts
    return found[:MOST_BESIDE]


def expected_sums(companion: Companion, recording: str) -> list[tuple[str, str]]:
    """(algorithm, checksum) that a checksum file says about the file of this name; a bare checksum is about the file it is named after."""
    algorithm = SUMS.get(Path(companion.name).suffix.lower())
    if algorithm is None:
        return []
    said = [total for name, total in _entries(companion.path) if _folded(name) == _folded(recording) or name == ""]
    return [(algorithm, total.lower()) for total in said if len(total) == _HEX[algorithm]]


def sum_of(path: Path, algorithm: str) -> str:
    """A file's checksum, read piece by piece."""
    with open(path, "rb") as stream:
        return hashlib.file_digest(stream, lambda: hashlib.new(algorithm, usedforsecurity=False)).hexdigest()


def _named(path: Path, name: str) -> bool:
    return any(_folded(listed) == _folded(name) for listed, _ in _entries(path))


def _entries(path: Path) -> Iterator[tuple[str, str]]:
    """(name without folders, checksum) of each line; name "" for a line that is a checksum alone."""
    try:
        with open(path, "rb") as stream:
            text = stream.read(MOST_LIST_BYTES).decode("utf-8-sig", errors="replace")
    except OSError:
        return
    for line in map(str.strip, text.splitlines()):
        if match := _LINE.match(line):
            yield match[2].strip().replace("\\", "/").rsplit("/", 1)[-1], match[1]
        elif match := _BSD.match(line):
            yield match[1].replace("\\", "/").rsplit("/", 1)[-1], match[2]
        elif re.fullmatch("[0-9a-fA-F]{32,128}", line):
            yield "", line


def _kind(suffix: str) -> str:
    return next((kind for kind, endings in _KINDS.items() if suffix in endings), _TEXT)


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()
