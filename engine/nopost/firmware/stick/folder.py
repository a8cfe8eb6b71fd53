"""A mounted folder: what the operating system shows of a stick."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

from nopost.firmware.stick.boot_sector import fat_kind
from nopost.firmware.stick.model import UNKNOWN, Entry, FileSystem, Stick, Table, Volume

MOUNTS = Path("/proc/self/mounts")
KINDS = {"exfat": "exFAT", "ntfs": "NTFS", "ntfs3": "NTFS", "ext2": "ext", "ext3": "ext", "ext4": "ext", "iso9660": "ISO 9660"}
"""Name that the system gives a file system -> the one used here; vfat and msdos go by their number of clusters."""
MOST_ENTRIES = 20_000


def inspect_folder(path: Path, mounts: Path = MOUNTS) -> Stick:
    """What the folder shows. The partition table cannot be seen from here. Raises OSError when the folder cannot be read."""
    top = os.path.ismount(path)
    entries = _entries(path)
    cut = len(entries) > MOST_ENTRIES
    problems = ("it holds more files than are listed here",) if cut else ()
    volume = Volume(_file_system(path, mounts), tuple(entries[:MOST_ENTRIES]), problems=problems)
    return Stick(str(path), "folder", volume.file_system.size, Table(UNKNOWN), (volume,), top_of_medium=top)


def _file_system(path: Path, mounts: Path) -> FileSystem:
    """By the mount that the folder lies in; FAT by clusters, which the block count of a mounted FAT volume is (Linux; from
    memory)."""
    name = mount_kind(os.path.realpath(path), mounts)
    if name in ("vfat", "msdos"):
        found = os.statvfs(path)
        return FileSystem(
            fat_kind(found.f_blocks), size=found.f_blocks * found.f_frsize, cluster=found.f_frsize, clusters=found.f_blocks
        )
    return FileSystem(KINDS.get(name, UNKNOWN))


def mount_kind(path: str, mounts: Path) -> str:
    """What the system calls the file system that holds this path; empty where it does not say."""
    try:
        text = mounts.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""
    best, kind = "", ""
    for line in text.splitlines():
        fields = line.split()
        if len(fields) < 3:
            continue
        point = re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), fields[1])
        inside = path == point or path.startswith(point.rstrip("/") + "/")
        if inside and len(point) >= len(best):
            best, kind = point, fields[2]
    return kind


def _entries(path: Path) -> list[Entry]:
    found: list[Entry] = []
    for item in _scan(path):
        is_folder = item.is_dir(follow_symlinks=False)
        found.append(_entry(item, "", is_folder))
        if is_folder:
            try:
                found += [_entry(inner, item.name, inner.is_dir(follow_symlinks=False)) for inner in _scan(Path(item.path))]
            except OSError:
                continue
        if len(found) > MOST_ENTRIES:
            break
    return found


def _scan(path: Path) -> Iterator[os.DirEntry[str]]:
    with os.scandir(path) as items:
        for number, item in enumerate(items):
            if number > MOST_ENTRIES:
                return
            yield item


def _entry(item: os.DirEntry[str], folder: str, is_folder: bool) -> Entry:
    try:
        size = 0 if is_folder else item.stat(follow_symlinks=False).st_size
    except OSError:
        size = 0
    return Entry(item.name, size, folder, is_folder)
