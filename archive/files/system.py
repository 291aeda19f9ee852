"""What this computer tells about its disks, read from /proc and /sys (Linux); other systems tell nothing here. No commands are run."""

from __future__ import annotations

import contextlib
import os
import platform
import stat
from collections.abc import Iterable
from pathlib import Path

from archive.domain.disks import UPLOADED_MARKS, Block, Mount, System, read_mounts


def look(root: Path = Path("/")) -> System:
    """What can be read now: mounts, block devices, names of this computer. `root`: where proc, sys and dev lie."""
    with contextlib.suppress(OSError, UnicodeDecodeError):
        mounts = read_mounts((root / "proc/self/mountinfo").read_text(encoding="utf-8"))
        blocks = {b.number: b for b in _blocks(root / "sys")}
        name = platform.node().casefold()
        return System(mounts, blocks, _devices_of(root, mounts, blocks), frozenset({name, name.split(".")[0]} - {""}))
    return System()


def _blocks(sys_folder: Path) -> Iterable[Block]:
    for link in sorted((sys_folder / "dev/block").iterdir()):
        device = link.resolve()
        part_of = _read(device.parent / "dev") if (device / "partition").exists() else ""
        lower = device / "slaves"
        on = tuple(filter(None, (_read(d / "dev") for d in sorted(lower.iterdir())))) if lower.is_dir() else ()
        yield Block(link.name, device.name, part_of, on, _read(device / "dm/uuid"), _read(device / "loop/backing_file"))


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""


def _devices_of(root: Path, mounts: Iterable[Mount], blocks: dict[str, Block]) -> dict[str, tuple[str, ...]]:
    """The devices behind mounts whose own number is none of a block device: all of a btrfs, else the one that is named."""
    found: dict[str, tuple[str, ...]] = {}
    together = [tuple(_read(d / "dev") for d in sorted(f.iterdir())) for f in (root / "sys/fs/btrfs").glob("*/devices")]
    for source in {m.source for m in mounts if m.number not in blocks and m.source.startswith("/dev/")}:
        with contextlib.suppress(OSError):
            at = os.stat(root / source.lstrip("/"))
            if stat.S_ISBLK(at.st_mode):
                number = f"{os.major(at.st_rdev)}:{os.minor(at.st_rdev)}"
                found[source] = next((all_of_it for all_of_it in together if number in all_of_it), (number,))
    return found


def marks_above(folder: Path) -> set[int]:
    """Folders above this one, itself included, in which a service that uploads has left its mark: how many parts their paths have."""
    return {len(here.parts) for here in (folder, *folder.parents) if any((here / mark).exists() for mark in UPLOADED_MARKS)}


def device_of(folder: Path) -> int | None:
    """The number of the device that a folder lies on (st_dev); None where it is not there."""
    try:
        return folder.stat().st_dev
    except OSError:
        return None
