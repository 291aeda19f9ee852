"""Where a folder lies, from what systems tell of themselves.

The lines follow the kernel's Documentation/filesystems/proc.rst §3.5 (mountinfo), the devices Documentation/ABI/testing/sysfs-dev and
sysfs-block-dm; what stands in them is as such systems write it (from memory), but for the last one, which is this computer's own.
"""

from __future__ import annotations

from pathlib import PurePath, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.disks import Answer, Block, Lies, System, lies, on_different_disks, read_mounts, uploaded_at
from archive.files.system import look

# A laptop: root and home on LUKS over LVM on an NVMe disk; a USB disk with two partitions, one of them encrypted; shares; memory.
LAPTOP_MOUNTS = r"""22 28 0:21 / /proc rw,nosuid shared:14 - proc proc rw
24 28 0:23 / /tmp rw shared:9 - tmpfs tmpfs rw,size=8G
28 1 253:1 / / rw,relatime shared:1 - ext4 /dev/mapper/vg-root rw
29 28 259:1 / /boot rw shared:2 - vfat /dev/nvme0n1p1 rw
30 28 253:2 / /home rw shared:3 - ext4 /dev/mapper/vg-home rw
31 28 8:1 / /media/ruth/Field\040disk rw shared:4 - exfat /dev/sda1 rw
32 28 253:3 / /media/ruth/locked rw shared:5 - ext4 /dev/mapper/luks-1 rw
33 28 0:50 / /mnt/house rw shared:6 - nfs4 nas.example:/export rw
34 28 0:51 / /mnt/office rw shared:7 - cifs //nas.example/team rw
35 28 0:52 / /mnt/own rw shared:8 - nfs4 localhost:/home/ruth/share rw
36 28 0:53 / /mnt/far rw - fuse.sshfs ruth@far.example:/store rw
37 28 0:54 / /mnt/vault rw - fuse.gocryptfs /home/ruth/vault.enc rw
38 30 7:0 / /home/ruth/box rw - ext4 /dev/loop0 rw
39 28 0:55 / /mnt/pool rw - btrfs /dev/sdb1 rw
this line says nothing
"""
LAPTOP_BLOCKS = [
    Block("259:0", "nvme0n1"), Block("259:1", "nvme0n1p1", part_of="259:0"), Block("259:2", "nvme0n1p2", part_of="259:0"),
    Block("253:0", "dm-0", on=("259:2",), map_uuid="CRYPT-LUKS2-0f0e-luks"),
    Block("253:1", "dm-1", on=("253:0",), map_uuid="LVM-aa"), Block("253:2", "dm-2", on=("253:0",), map_uuid="LVM-bb"),
    Block("8:0", "sda"), Block("8:1", "sda1", part_of="8:0"), Block("8:2", "sda2", part_of="8:0"),
    Block("253:3", "dm-3", on=("8:2",), map_uuid="CRYPT-LUKS2-1f1e-luks"),
    Block("8:16", "sdb"), Block("8:17", "sdb1", part_of="8:16"), Block("8:32", "sdc"),
    Block("7:0", "loop0", file="/home/ruth/box.img"),
]  # fmt: skip
LAPTOP = System(
    read_mounts(LAPTOP_MOUNTS), {b.number: b for b in LAPTOP_BLOCKS}, {"/dev/sdb1": ("8:17", "8:32")}, frozenset({"desk"})
)
ELSEWHERE = System()  # macOS, Windows: neither /proc nor /sys
HOME = "/home/ruth/Marigold"


def at(folder: str) -> Lies:
    return lies(folder, LAPTOP)


@pytest.mark.parametrize(
    ("folder", "disks", "encrypted"),
    [
        (HOME, {"nvme0n1"}, Answer.YES),
        ("/etc", {"nvme0n1"}, Answer.YES),
        ("/boot/x", {"nvme0n1"}, Answer.NO),
        ("/media/ruth/Field disk/second", {"sda"}, Answer.NO),
        ("/media/ruth/locked", {"sda"}, Answer.YES),
        ("/home/ruth/box/in", {"nvme0n1"}, Answer.YES),
        ("/mnt/pool", {"sdb", "sdc"}, Answer.NO),
        ("/mnt/vault", set(), Answer.UNKNOWN),
        ("/media/ruth/Field diskette", {"nvme0n1"}, Answer.YES),
    ],
)
def test_the_disk_under_a_folder(folder: str, disks: set[str], encrypted: Answer) -> None:
    found = at(folder)
    assert (found.disks, found.encrypted) == (disks, encrypted)


@pytest.mark.parametrize(
    ("one", "other", "wanted"),
    [
        (HOME, "/media/ruth/Field disk/x", Answer.YES),
        (HOME, "/boot/x", Answer.NO),
        ("/media/ruth/Field disk/x", "/media/ruth/locked/x", Answer.NO),
        (HOME, "/home/ruth/box/x", Answer.NO),
        (HOME, "/mnt/house/x", Answer.YES),
        ("/mnt/house/x", "/mnt/office/x", Answer.NO),
        ("/mnt/house/x", "/mnt/far/x", Answer.YES),
        (HOME, "/mnt/own/x", Answer.UNKNOWN),
        (HOME, "/mnt/vault/x", Answer.UNKNOWN),
        (HOME, "/tmp/x", Answer.NO),
        (HOME, "/mnt/pool/x", Answer.YES),
    ],
)
def test_partitions_of_one_disk_are_one_disk(one: str, other: str, wanted: Answer) -> None:
    assert on_different_disks(at(one), at(other), False) == wanted == on_different_disks(at(other), at(one), False)
    assert on_different_disks(at(one), at(other), True) == Answer.NO, "one device number"


def test_raid_shares_its_disks() -> None:
    blocks = [Block("8:0", "sda"), Block("8:16", "sdb"), Block("8:1", "sda1", "8:0"), Block("8:17", "sdb1", "8:16"), Block("9:0", "md0", on=("8:1", "8:17")), Block("8:18", "sdb2", "8:16")]
    text = "1 0 9:0 / / rw - ext4 /dev/md0 rw\n2 1 8:18 / /mnt/two rw - ext4 /dev/sdb2 rw\n"
    system = System(read_mounts(text), {b.number: b for b in blocks})
    assert lies("/x", system).disks == {"sda", "sdb"}
    assert on_different_disks(lies("/x", system), lies("/mnt/two", system), False) == Answer.NO


def test_another_system_tells_nothing_and_that_is_no_yes() -> None:
    here, there = lies("/Users/ruth/Marigold", ELSEWHERE), lies("/Volumes/Disk", ELSEWHERE)
    assert here == Lies() and here.encrypted == Answer.UNKNOWN
    assert on_different_disks(here, there, False) == Answer.UNKNOWN


def test_devices_that_lie_on_each_other_come_to_an_end() -> None:
    system = System(read_mounts("1 0 253:0 / / rw - ext4 /dev/dm-0 rw"), {"253:0": Block("253:0", "dm-0", on=("253:1",)), "253:1": Block("253:1", "dm-1", on=("253:0",))})
    assert lies("/x", system) == Lies()


@given(st.text(max_size=300))
def test_no_text_is_too_odd(text: str) -> None:
    assert lies("/x", System(read_mounts(text), {})).encrypted == Answer.UNKNOWN


def test_this_computer_is_read_without_a_fault() -> None:
    """Only that it can be read: what it tells is this machine's own affair."""
    lies("/", look())


@pytest.mark.parametrize(
    ("folder", "wanted"),
    [
        (PurePosixPath("/home/ruth/Dropbox/Marigold"), "/home/ruth/Dropbox"),
        (PurePosixPath("/Users/ruth/Library/Mobile Documents/com~apple~CloudDocs/M"), "/Users/ruth/Library/Mobile Documents"),
        (PurePosixPath("/Users/ruth/Library/CloudStorage/Any/M"), "/Users/ruth/Library/CloudStorage"),
        (PureWindowsPath(r"C:\Users\Ruth\OneDrive - Town Museum\M"), r"C:\Users\Ruth\OneDrive - Town Museum"),
        (PureWindowsPath(r"C:\Users\Ruth\Box\M"), r"C:\Users\Ruth\Box"),
        (PurePosixPath("/srv/Box/Marigold"), ""),
        (PurePosixPath("/home/ruth/Marigold"), ""),
        (PurePosixPath("/home/ruth/dropboxes/M"), ""),
    ],
)
def test_folders_that_are_uploaded(folder: PurePath, wanted: str) -> None:
    assert folder.parts[: uploaded_at(folder.parts)] == type(folder)(wanted).parts


def test_a_mark_in_a_folder_counts_whatever_its_name() -> None:
    assert uploaded_at(PurePosixPath("/data/things/M").parts, {3}) == 3
