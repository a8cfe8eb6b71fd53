"""Look at a stick: an image, a device opened read only, or a mounted folder as the operating system shows it.
Whatever the bytes are, there is an answer.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from nopost.errors import NopostError
from nopost.firmware.bounded_bytes import ByteSource, ByteWindow
from nopost.firmware.stick.directory import list_exfat, list_fat
from nopost.firmware.stick.file_system import fat_kind, file_system
from nopost.firmware.stick.partition_table import (
    FAT_KINDS,
    UNKNOWN,
    DirectoryEntry,
    FileSystem,
    Partition,
    PartitionTable,
    ReadBudget,
    Stick,
    StickVolume,
    read_table,
)

MOUNTS = Path("/proc/self/mounts")
MOUNTED_KINDS = {
    "exfat": "exFAT",
    "ntfs": "NTFS",
    "ntfs3": "NTFS",
    "ext2": "ext",
    "ext3": "ext",
    "ext4": "ext",
    "iso9660": "ISO 9660",
}
"""Name that the system gives a file system -> the one used here; vfat and msdos go by their number of clusters."""
MOST_ENTRIES = 20_000


def inspect_folder(path: Path, mounts: Path = MOUNTS) -> Stick:
    """What the folder shows. The partition table cannot be seen from here. Raises OSError when the folder cannot be read."""
    top = os.path.ismount(path)
    entries = _folder_entries(path)
    cut = len(entries) > MOST_ENTRIES
    problems = ("it holds more files than are listed here",) if cut else ()
    volume = StickVolume(_mounted_file_system(path, mounts), tuple(entries[:MOST_ENTRIES]), problems=problems)
    return Stick(str(path), "folder", volume.file_system.size, PartitionTable(UNKNOWN), (volume,), top_of_medium=top)


def _mounted_file_system(path: Path, mounts: Path) -> FileSystem:
    """By the mount that the folder lies in; FAT by clusters, which the block count of a mounted FAT volume is (Linux; from
    memory)."""
    name = mount_kind(os.path.realpath(path), mounts)
    if name in ("vfat", "msdos"):
        found = os.statvfs(path)
        return FileSystem(
            fat_kind(found.f_blocks), size=found.f_blocks * found.f_frsize, cluster=found.f_frsize, clusters=found.f_blocks
        )
    return FileSystem(MOUNTED_KINDS.get(name, UNKNOWN))


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


def _folder_entries(path: Path) -> list[DirectoryEntry]:
    found: list[DirectoryEntry] = []
    for item in _scan(path):
        is_folder = item.is_dir(follow_symlinks=False)
        found.append(_folder_entry(item, "", is_folder))
        if is_folder:
            try:
                found += [
                    _folder_entry(inner, item.name, inner.is_dir(follow_symlinks=False)) for inner in _scan(Path(item.path))
                ]
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


def _folder_entry(item: os.DirEntry[str], folder: str, is_folder: bool) -> DirectoryEntry:
    try:
        size = 0 if is_folder else item.stat(follow_symlinks=False).st_size
    except OSError:
        size = 0
    return DirectoryEntry(item.name, size, folder, is_folder)


MOST_VOLUMES = 32
DEVICES = Path("/sys/class/block")
CUT = {
    "folder_bytes": "its folders are longer than is read here; the listing is not complete",
    "links": "its cluster chains are longer than is followed here; not every file was checked",
    "entries": "it holds more files than are listed here",
}


def inspect_path(path: Path) -> Stick:
    """What lies at this path. Raises OSError when it cannot be opened, NopostError when it is nothing of the kind."""
    mode = path.stat().st_mode
    if stat.S_ISDIR(mode):
        return inspect_folder(path)
    if not (stat.S_ISREG(mode) or stat.S_ISBLK(mode)):
        raise NopostError(f"{path} is neither a folder nor an image nor a block device")
    with open(path, "rb") as stream:
        size = stream.seek(0, os.SEEK_END)
        if not stat.S_ISBLK(mode):
            return inspect_stream(stream, size, str(path))
        return inspect_stream(stream, size, str(path), "device", part=is_partition(path))


def is_partition(path: Path, devices: Path = DEVICES) -> bool:
    """Whether this device is one partition of a medium (Linux says so; from memory)."""
    return (devices / os.path.basename(os.path.realpath(path)) / "partition").exists()


def inspect_stream(stream: BinaryIO, size: int, path: str = "", form: str = "image", *, part: bool = False) -> Stick:
    """What lies in a seekable stream of so many bytes; `part`: it is one partition, so its table lies elsewhere."""
    source, budget = ByteSource(stream, size), ReadBudget()
    whole = ByteWindow(source, 0, size)
    table = read_table(source)
    bare = file_system(whole)[0].kind in (*FAT_KINDS, "exFAT", "NTFS")
    if bare and table.partitions and not table.problems:
        note = "the first sector still holds the start of an older file system that filled the whole stick"
        table = PartitionTable(table.kind, table.partitions, (note,), table.doubts)
    elif bare:
        table = PartitionTable("none")
    volumes = [
        _volume(ByteWindow(source, p.start, min(p.size, max(0, size - p.start))), p, budget)
        for p in table.partitions[:MOST_VOLUMES]
    ]
    if part:
        table, volumes = PartitionTable(UNKNOWN), [_volume(whole, None, budget)]
    elif table.kind == "none":
        volumes = [_volume(whole, None, budget)]
    return Stick(path, form, size, table, tuple(volumes), unreadable=source.unreadable)


def _volume(window: ByteWindow, partition: Partition | None, budget: ReadBudget) -> StickVolume:
    system, layout = file_system(window)
    budget.spent.clear()
    entries, label, problems, listed = list[DirectoryEntry](), "", tuple[str, ...](), layout is not None
    if layout is not None and system.kind == "exFAT":
        entries, label, problems = list_exfat(window, layout, budget)
    elif layout is not None:
        entries, label = list_fat(window, layout, budget)
    problems += tuple(text for what, text in CUT.items() if what in budget.spent)
    return StickVolume(system, tuple(entries), label, listed and system.kind != UNKNOWN, partition, problems)
