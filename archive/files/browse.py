"""The folders of this machine, for the person who sits at it: home, and what is plugged in. Links that lead out are not followed."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from archive.errors import BadInput
from archive.files.guard import NOT_SOUND, NOT_SOUND_NAMES, inside, shown_name

_MOST = 500
_PLUGGED_IN = ("/media", "/run/media", "/mnt", "/Volumes")


@dataclass(frozen=True, slots=True)
class Shelf:
    """One folder: its path as given back to `look`, its name for people, folders in it, how many files could be recordings."""

    path: str
    name: str
    above: str  # "" for one of the tops
    folders: tuple[tuple[str, str], ...]  # (path, name)
    sounds: int
    more: bool  # it holds more folders than are listed


def tops(home: Path | None = None) -> list[Path]:
    """Folders from which one may look: home, then where cards and disks appear."""
    found = [home or Path.home(), *(Path(p) for p in _PLUGGED_IN)]
    return [p.resolve() for p in found if p.is_dir() and os.access(p, os.R_OK | os.X_OK)]


def look(path: str, roots: list[Path]) -> Shelf:
    """What lies in a folder below one of the roots. Raises BadInput where it lies elsewhere, or cannot be read."""
    folder = allowed(path, roots)
    folders: list[tuple[str, str]] = []
    sounds = 0
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.startswith("."):
                    continue
                if entry.is_dir(follow_symlinks=False):
                    folders.append((entry.path, shown_name(Path(entry.name))))
                elif entry.is_file(follow_symlinks=False) and _may_sound(entry.name):
                    sounds += 1
    except OSError:
        raise BadInput("This folder cannot be read.", "Look whether the card is still in, and whether you may read it.") from None
    folders.sort(key=lambda f: f[1].casefold())
    above = "" if folder in roots else str(folder.parent)
    return Shelf(str(folder), shown_name(folder) if folder.name else str(folder), above, tuple(folders[:_MOST]), sounds, len(folders) > _MOST)


def allowed(path: str, roots: list[Path]) -> Path:
    """The folder, every link followed, where it lies below one of the roots. Raises BadInput."""
    if "\0" not in path and os.path.isabs(path):
        for root in roots:
            try:
                folder = inside(root, Path(path))
            except (BadInput, OSError):
                continue
            if folder.is_dir():
                return folder
    raise BadInput("There is no such folder to choose from.", "Begin again at the top: only your own folder and what is plugged in can be looked at.")


def _may_sound(name: str) -> bool:
    return Path(name).suffix.lower() not in NOT_SOUND and name.lower() not in NOT_SOUND_NAMES
