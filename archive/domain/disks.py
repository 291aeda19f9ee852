"""On which disk a folder lies, whether that disk is encrypted, and whether a folder is one that is uploaded. Pure.

Read from texts of the system, which a caller hands in: /proc/self/mountinfo (the kernel's Documentation/filesystems/proc.rst,
§3.5) and the tree of block devices under /sys (Documentation/ABI/stable/sysfs-block). Other systems have neither: not known.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

# Kinds of file system, by what stands under them.
IN_MEMORY = frozenset({"tmpfs", "ramfs", "devtmpfs"})
FROM_ANOTHER_COMPUTER = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", "fuse.sshfs", "afs", "ceph", "davfs", "fuse.davfs2"})
THIS_COMPUTER = frozenset({"localhost", "127.0.0.1", "::1", "[::1]"})
ENCRYPTED_MAP = "CRYPT-"  # how the device mapper begins the uuid of what dm-crypt and LUKS open
_ESCAPED = re.compile(r"\\([0-7]{3})")


class Answer(StrEnum):
    """What could be found out."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "could not find out"


@dataclass(frozen=True, slots=True)
class Mount:
    """One line of mountinfo: where it is mounted, its device as major:minor, the kind of file system, what is mounted."""

    at: str
    number: str
    kind: str
    source: str


@dataclass(frozen=True, slots=True)
class Block:
    """A block device. `part_of`: the number of the whole disk, where it is a partition; `on`: what a mapped one lies on."""

    number: str
    name: str
    part_of: str = ""
    on: tuple[str, ...] = ()
    map_uuid: str = ""
    file: str = ""  # of a loop device: the file that holds it


@dataclass(frozen=True, slots=True)
class System:
    """What a computer tells about its disks. `devices_of`: the numbers behind what a mount names, where its own is none (btrfs)."""

    mounts: tuple[Mount, ...] = ()
    blocks: Mapping[str, Block] | None = None
    devices_of: Mapping[str, tuple[str, ...]] | None = None
    names: frozenset[str] = frozenset()  # of this computer in its network


@dataclass(frozen=True, slots=True)
class Lies:
    """Where a folder lies. `disks`: whole physical disks, empty where not known; `server`: of a share."""

    disks: frozenset[str] = frozenset()
    server: str = ""
    in_memory: bool = False
    encrypted: Answer = Answer.UNKNOWN


def read_mounts(text: str) -> tuple[Mount, ...]:
    """The lines of /proc/self/mountinfo; what cannot be read is left out."""
    found = []
    for line in text.splitlines():
        before, mark, after = line.partition(" - ")
        left, right = before.split(" "), after.split(" ")
        if mark and len(left) >= 6 and len(right) >= 2:
            found.append(Mount(_plain(left[4]), left[2], right[0], _plain(right[1])))
    return tuple(found)


def _plain(text: str) -> str:
    """A blank, a tab, a line feed and a backslash stand there as octal numbers."""
    return _ESCAPED.sub(lambda m: chr(int(m[1], 8)), text)


def lies(folder: str, system: System, depth: int = 8) -> Lies:
    """Where a folder (absolute, every link followed) lies; nothing is known where the system does not tell."""
    mount = _mount_of(folder, system.mounts)
    if mount is None or system.blocks is None or depth == 0:
        return Lies()
    if mount.kind in IN_MEMORY:
        return Lies(in_memory=True)
    if mount.kind in FROM_ANOTHER_COMPUTER:
        return Lies(server=_server(mount.source, system.names))
    numbers = (mount.number,) if mount.number in system.blocks else (system.devices_of or {}).get(mount.source, ())
    return _over(numbers, system, depth) or Lies()


def _mount_of(folder: str, mounts: Sequence[Mount]) -> Mount | None:
    """The mount that a folder lies on: the longest that holds it, and of two at one place the later one."""
    best = None
    for mount in mounts:
        root = mount.at.rstrip("/") + "/"
        if (folder.rstrip("/") + "/").startswith(root) and (best is None or len(root) >= len(best.at.rstrip("/") + "/")):
            best = mount
    return best


def _server(source: str, own: frozenset[str]) -> str:
    """Who serves a share: server:/path, user@server:/path or //server/path; "" where that is this computer, or not told."""
    match = re.match(r"(?:https?:)?//(?:[^@/]*@)?(?P<slashes>\[[^\]]+\]|[^/:]+)|(?:[^@/]*@)?(?P<colon>\[[^\]]+\]|[^/:]+):", source)
    name = (match["slashes"] or match["colon"] or "").casefold() if match else ""
    return "" if name in THIS_COMPUTER or name in own or name.startswith("127.") else name


def _under(number: str, system: System, depth: int) -> Lies | None:
    """The whole disks under a device. Encrypted: on every way down there is a mapping that encrypts."""
    block = (system.blocks or {}).get(number)
    if block is None or depth == 0:
        return None
    if block.file:
        return lies(block.file, system, depth - 1)
    if block.part_of:
        return _under(block.part_of, system, depth - 1)
    if not block.on:
        memory = block.name.startswith(("ram", "zram"))
        return Lies(in_memory=memory) if memory else Lies(frozenset({block.name}), encrypted=Answer.NO)
    found = _over(block.on, system, depth - 1)
    return replace(found, encrypted=Answer.YES) if found and block.map_uuid.startswith(ENCRYPTED_MAP) else found


def _over(numbers: Sequence[str], system: System, depth: int) -> Lies | None:
    """Several devices as one: all their disks, encrypted only where each is. None where anything is not known."""
    below = [found for n in numbers if (found := _under(n, system, depth)) is not None]
    if len(below) == 1 == len(numbers):
        return below[0]
    if not below or len(below) < len(numbers) or not all(b.disks for b in below):
        return None
    answers = {b.encrypted for b in below}
    one = answers.pop() if len(answers) == 1 else Answer.NO if Answer.NO in answers else Answer.UNKNOWN
    return Lies(frozenset().union(*(b.disks for b in below)), encrypted=one)


def on_different_disks(one: Lies, other: Lies, same_device: bool) -> Answer:
    """Whether two folders lie on different physical disks. `same_device`: the system gives both one device number (st_dev).

    Two shares of one server count as one disk: what stands in it is not told. Memory is no disk.
    """
    if same_device or one.in_memory or other.in_memory:
        return Answer.NO
    if one.disks and other.disks:
        return Answer.NO if one.disks & other.disks else Answer.YES
    if one.server and other.server:
        return Answer.NO if one.server == other.server else Answer.YES
    if (one.server and other.disks) or (one.disks and other.server):
        return Answer.YES
    return Answer.UNKNOWN


# -- folders that are uploaded ------------------------------------------------------------------------------------------
# Names that services which upload folders give to theirs, and marks that they leave in them; in small letters. General knowledge.
UPLOADED = (
    "dropbox", "onedrive", "google drive", "googledrive", "my drive", "drivefs", "icloud drive", "icloud", "iclouddrive",
    "mobile documents", "com~apple~clouddocs", "cloudstorage", "nextcloud", "owncloud", "box sync", "pcloud drive",
    "pclouddrive", "megasync", "seafile", "tresorit", "creative cloud files", "yandex.disk", "yandexdisk", "proton drive",
)  # fmt: skip
UPLOADED_BEGINS = ("dropbox (", "dropbox-", "onedrive - ", "onedrive-", "googledrive-", "icloud~")
UPLOADED_AT_HOME = ("box", "mega", "sync")  # ordinary words: right under somebody's own folder only
HOMES = ("home", "users")
UPLOADED_MARKS = (".dropbox", ".dropbox.cache", ".stfolder", ".owncloudsync.log", ".nextcloudsync.log", ".tmp.drivedownload", ".megaignore", ".seafile-data")


def uploaded_at(parts: Sequence[str], marked: Collection[int] = ()) -> int:
    """How many of the leading parts of a path make up a folder that looks like one which a service uploads; 0: none does.

    `marked`: how many parts the folders have in which a mark was found, looked for by the caller among `UPLOADED_MARKS`.
    """
    for n, part in enumerate(parts):
        name = part.casefold()
        at_home = n >= 2 and parts[n - 2].casefold() in HOMES and name in UPLOADED_AT_HOME
        if name in UPLOADED or name.startswith(UPLOADED_BEGINS) or at_home or n + 1 in marked:
            return n + 1
    return 0
