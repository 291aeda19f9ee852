"""Which files may be taken: nothing outside the folder a person named, nothing that is not a plain file."""

from __future__ import annotations

import os
import stat
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from archive.errors import BadInput

# Found beside recordings on a card or in a folder; they are not recordings and are passed over without a finding.
NOT_SOUND = frozenset(
    {
        ".csv",
        ".tsv",
        ".txt",
        ".md",
        ".json",
        ".xml",
        ".yaml",
        ".yml",
        ".toml",
        ".ini",
        ".log",
        ".pdf",
        ".doc",
        ".docx",
        ".odt",
        ".rtf",
        ".xls",
        ".xlsx",
        ".ods",
        ".html",
        ".htm",
        ".css",
        ".js",
        ".py",
        ".jpg",
        ".jpeg",
        ".png",
        ".gif",
        ".tif",
        ".tiff",
        ".heic",
        ".bmp",
        ".svg",
        ".zip",
        ".gz",
        ".7z",
        ".rar",
        ".db",
        ".sqlite",
        ".srt",
        ".vtt",
        ".textgrid",
        ".md5",
        ".sha1",
        ".sha256",
        ".sha512",
        ".asc",
        ".lnk",
    }
)
NOT_SOUND_NAMES = frozenset({"thumbs.db", "desktop.ini", "licence", "license", "readme"})


@dataclass(frozen=True, slots=True)
class Source:
    """One file found for ingest. `name`: its own name in NFC, for people; `refusal`: why it is not taken, else None.

    `below`: its path below the folder that was named, with /; cards repeat names in their folders. `ours`: the checksum of a
    file that lies in the archive's own folder and was summed there: it is not copied. `beside`: (path, name) of the files that
    were sent with such a one.
    """

    path: Path
    name: str
    refusal: str | None = None
    remedy: str = ""
    below: str = ""
    ours: str = ""
    beside: tuple[tuple[Path, str], ...] = ()


def shown_name(path: Path) -> str:
    """File name for people and the database: NFC, bytes that are no UTF-8 replaced, control characters dropped."""
    text = os.fsencode(path.name).decode("utf-8", errors="replace")
    text = unicodedata.normalize("NFC", text)
    return "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cs")) or "(no name)"


def inside(root: Path, path: Path) -> Path:
    """`path` resolved, when it lies inside `root` after every link is followed. Raises BadInput otherwise."""
    base = root.resolve()
    target = (path if path.is_absolute() else base / path).resolve()
    if not target.is_relative_to(base):
        raise BadInput("That path leads out of its folder.", "Name a file inside the folder.")
    return target


def walk_sources(paths: Iterable[Path]) -> Iterator[Source]:
    """Every file below `paths`, in order of name; links out of a folder and odd files come with their refusal.

    A file that a person named is always tried; inside folders, hidden files, sheets, papers and pictures are passed over.
    """
    for given in paths:
        path = Path(os.path.abspath(given))
        if path.is_dir():
            found = False
            for source in _walk_folder(path):
                found = True
                parts = source.path.relative_to(path).parts if source.path.is_relative_to(path) else (source.name,)
                yield replace(source, below="/".join(shown_name(Path(part)) for part in parts) or source.name)
            if not found:
                yield Source(
                    path,
                    shown_name(path),
                    "Nothing in this folder looks like a recording.",
                    "Name the folder that holds the sound files.",
                    shown_name(path),
                )
        else:
            yield replace(_plain(path), below=shown_name(path))


def _plain(path: Path) -> Source:
    name = shown_name(path)
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return Source(path, name, "There is no such file.", "Look at how its name is written.")
    except OSError:
        return Source(path, name, "It cannot be read.", "Look whether you may read it and whether the card is whole.")
    if not stat.S_ISREG(mode):
        return Source(path, name, "It is not a file.", "Name a sound file or a folder.")
    if not os.access(path, os.R_OK):
        return Source(path, name, "You may not read it.", "Ask for the right to read it, or copy it first.")
    return Source(path, name)


def _walk_folder(root: Path) -> Iterator[Source]:
    troubles: list[OSError] = []
    base = root.resolve()
    for folder, names, files in os.walk(root, followlinks=False, onerror=troubles.append):
        names[:] = sorted(n for n in names if not n.startswith("."))
        here = Path(folder)
        for name in [n for n in names if (here / n).is_symlink()]:
            names.remove(name)
            if not (here / name).resolve().is_relative_to(base):
                yield _outside(here / name)
        for name in sorted(files):
            path = here / name
            if name.startswith(".") or name.lower() in NOT_SOUND_NAMES or path.suffix.lower() in NOT_SOUND:
                continue
            if path.is_symlink() and not path.resolve().is_relative_to(base):
                yield _outside(path)
            else:
                yield _plain(path)
        while troubles:
            yield _unreadable(troubles.pop())
    while troubles:
        yield _unreadable(troubles.pop())


def _outside(path: Path) -> Source:
    return Source(
        path,
        shown_name(path),
        "It is a link that leads out of the folder.",
        "Copy the file itself into the folder, or name it directly.",
    )


def _unreadable(trouble: OSError) -> Source:
    path = Path(os.fsdecode(trouble.filename or ""))
    return Source(path, shown_name(path), "This folder cannot be read.", "Ask for the right to read it.")
