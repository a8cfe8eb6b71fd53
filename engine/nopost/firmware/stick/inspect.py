"""Look at a stick: an image, a device opened read only, or a mounted folder. Whatever the bytes are, there is an answer."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import BinaryIO

from nopost.errors import NopostError
from nopost.firmware.stick.boot_sector import file_system
from nopost.firmware.stick.exfat_listing import list_exfat
from nopost.firmware.stick.fat_listing import list_fat
from nopost.firmware.stick.folder import inspect_folder
from nopost.firmware.stick.model import FAT_KINDS, UNKNOWN, Entry, Partition, Stick, Table, Volume
from nopost.firmware.stick.partitions import read_table
from nopost.firmware.stick.source import Budget, Source, Window

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
    source, budget = Source(stream, size), Budget()
    whole = Window(source, 0, size)
    table = read_table(source)
    bare = file_system(whole)[0].kind in (*FAT_KINDS, "exFAT", "NTFS")
    if bare and table.partitions and not table.problems:
        note = "the first sector still holds the start of an older file system that filled the whole stick"
        table = Table(table.kind, table.partitions, (note,), table.doubts)
    elif bare:
        table = Table("none")
    volumes = [
        _volume(Window(source, p.start, min(p.size, max(0, size - p.start))), p, budget) for p in table.partitions[:MOST_VOLUMES]
    ]
    if part:
        table, volumes = Table(UNKNOWN), [_volume(whole, None, budget)]
    elif table.kind == "none":
        volumes = [_volume(whole, None, budget)]
    return Stick(path, form, size, table, tuple(volumes), unreadable=source.unreadable)


def _volume(window: Window, partition: Partition | None, budget: Budget) -> Volume:
    system, layout = file_system(window)
    budget.spent.clear()
    entries, label, problems, listed = list[Entry](), "", tuple[str, ...](), layout is not None
    if layout is not None and system.kind == "exFAT":
        entries, label, problems = list_exfat(window, layout, budget)
    elif layout is not None:
        entries, label = list_fat(window, layout, budget)
    problems += tuple(text for what, text in CUT.items() if what in budget.spent)
    return Volume(system, tuple(entries), label, listed and system.kind != UNKNOWN, partition, problems)
