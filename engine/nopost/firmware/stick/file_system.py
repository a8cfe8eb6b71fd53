"""Which file system begins here, where things lie in it, and the cluster chains of FAT and exFAT.

FAT is told by the cluster-count rule and not by its label, the others by signature. Facts: edk2 FatPkg (mount code
and structures) for the FAT fields and the rule; exFAT file system specification, section 3.1; NTFS signature, ext
magic number (at 1080) and ISO 9660 identifier (ECMA-119, at 32769): from memory. Every walk along a chain is bounded
by what is asked for and by the budget, so a loop ends.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nopost.firmware.bounded_bytes import ByteWindow, number
from nopost.firmware.stick.partition_table import UNKNOWN, FileSystem, ReadBudget

FAT12_BELOW = 4085
FAT16_BELOW = 65525


def fat_kind(clusters: int) -> str:
    """The rule: nothing but the number of clusters decides."""
    return "FAT12" if clusters < FAT12_BELOW else "FAT16" if clusters < FAT16_BELOW else "FAT32"


@dataclass(frozen=True, slots=True)
class VolumeLayout:
    """Where things lie in a FAT or exFAT volume, in bytes. `width`: bits of one link in the table."""

    kind: str
    width: int
    table: int
    heap: int
    cluster: int
    clusters: int
    root: int
    root_cluster: int
    root_size: int
    table_size: int = 0


def file_system(window: ByteWindow) -> tuple[FileSystem, VolumeLayout | None]:
    """The file system at the start of this window, and its layout when it can be listed."""
    sector = window.read(0, 512)
    if sector[3:11] == b"EXFAT   ":
        return _exfat(window, sector)
    if sector[3:11] == b"NTFS    ":
        size = number(sector, 40, 8) * number(sector, 11, 2)
        return FileSystem("NTFS", "NTFS", size, number(sector, 11, 2)), None
    found = _fat(window, sector)
    if found is not None:
        return found
    if window.read(1080, 2) == b"\x53\xef":
        return FileSystem("ext", size=window.size), None
    if window.read(32769, 5) == b"CD001":
        return FileSystem("ISO 9660", size=window.size), None
    return FileSystem(UNKNOWN, size=window.size), None


def _power_of_two(value: int) -> bool:
    return value > 0 and value & (value - 1) == 0


def _fat(window: ByteWindow, sector: bytes) -> tuple[FileSystem, VolumeLayout] | None:
    unit, per_cluster, reserved = number(sector, 11, 2), number(sector, 13, 1), number(sector, 14, 2)
    tables, roots, media = number(sector, 16, 1), number(sector, 17, 2), number(sector, 21, 1)
    size16 = number(sector, 22, 2)
    total = number(sector, 19, 2) or number(sector, 32, 4)
    per_table = size16 or number(sector, 36, 4)
    if not (_power_of_two(unit) and 512 <= unit <= 4096 and _power_of_two(per_cluster) and reserved and 1 <= tables <= 4):
        return None
    if not (media == 0xF0 or media >= 0xF8) or not per_table:
        return None
    root_sectors = -(-roots * 32 // unit)
    heap = reserved + tables * per_table + root_sectors
    clusters = (total - heap) // per_cluster
    if clusters < 1:
        return None
    kind = fat_kind(clusters)
    wide = size16 == 0
    says = sector[82:90] if wide else sector[54:62]
    text = says.decode("ascii", "replace").strip() if says.startswith(b"FAT") else ""
    width = 32 if wide else 12 if kind == "FAT12" else 16
    root = (reserved + tables * per_table) * unit
    layout = VolumeLayout(
        kind,
        width,
        reserved * unit,
        heap * unit,
        unit * per_cluster,
        clusters,
        0 if wide else root,
        number(sector, 44, 4) if wide else 0,
        roots * 32,
        per_table * unit,
    )
    problems = _fat_problems(window, sector, layout, total * unit)
    return FileSystem(kind, text, total * unit, unit, layout.cluster, clusters, _fat_dirty(window, layout), problems), layout


def _fat_problems(window: ByteWindow, sector: bytes, layout: VolumeLayout, size: int) -> tuple[str, ...]:
    problems = []
    if number(sector, 510, 2) != 0xAA55:
        problems.append("the boot sector does not end in 55 AA")
    if (layout.width == 32) != (layout.kind == "FAT32"):
        laid = "FAT32" if layout.width == 32 else "FAT12 or FAT16"
        problems.append(f"it is laid out as {laid}, but {layout.clusters} clusters make it {layout.kind}; firmware refuses that")
    if layout.table_size * 8 < (layout.clusters + 2) * layout.width:
        problems.append("the allocation table is too small for the clusters")
    if size > window.size:
        problems.append("it claims to be larger than the place it lies in")
    return tuple(problems)


def _fat_dirty(window: ByteWindow, layout: VolumeLayout) -> bool:
    """The second link of the table holds a bit that is cleared while the volume is in use (FAT specification 1.03)."""
    if layout.width == 12:
        return False
    link = window.read(layout.table + layout.width // 8, layout.width // 8)
    bit = 27 if layout.width == 32 else 15
    return len(link) == layout.width // 8 and not number(link, 0, 4) >> bit & 1


def _exfat(window: ByteWindow, sector: bytes) -> tuple[FileSystem, VolumeLayout | None]:
    shift, more = number(sector, 108, 1), number(sector, 109, 1)
    problems = []
    if sector[:3] != b"\xeb\x76\x90" or any(sector[11:64]) or number(sector, 510, 2) != 0xAA55:
        problems.append("the boot sector breaks the rules of exFAT")
    if not 9 <= shift <= 12 or more > 25 - shift:
        return FileSystem("exFAT", "EXFAT", problems=(*problems, "the boot sector gives sizes that cannot be")), None
    unit, size = 1 << shift, number(sector, 72, 8) << shift
    clusters = number(sector, 92, 4)
    if size > window.size:
        problems.append("it claims to be larger than the place it lies in")
    if not _exfat_checked(window, unit):
        problems.append("the check value of the boot sectors is wrong")
    layout = VolumeLayout(
        "exFAT",
        32,
        number(sector, 80, 4) * unit,
        number(sector, 88, 4) * unit,
        unit << more,
        clusters,
        0,
        number(sector, 96, 4),
        0,
        number(sector, 84, 4) * unit,
    )
    dirty = bool(number(sector, 106, 2) & 2)
    return FileSystem("exFAT", "EXFAT", size, unit, layout.cluster, clusters, dirty, tuple(problems)), layout


def _exfat_checked(window: ByteWindow, unit: int) -> bool:
    """Section 3.4: the twelfth sector repeats the sum of the eleven before it, without VolumeFlags and PercentInUse."""
    data = window.read(0, 11 * unit)
    total = 0
    for index, value in enumerate(data):
        if index not in (106, 107, 112):
            total = ((total << 31 | total >> 1) + value) & 0xFFFFFFFF
    return len(data) == 11 * unit and window.read(11 * unit, 4) == total.to_bytes(4, "little")


FOLDER_LIMIT = 2 << 20
"""A FAT folder cannot be longer than 65,536 entries of 32 bytes; longer exFAT folders are cut here."""


def next_cluster(window: ByteWindow, layout: VolumeLayout, cluster: int) -> int:
    """What the table says follows this cluster; 0 when that is no cluster: the end, a free or a bad one."""
    offset = cluster * layout.width // 8
    link = number(window.read(layout.table + offset, 4), 0, 4)
    if layout.width == 12:
        link = (link >> 4 if cluster & 1 else link) & 0xFFF
    elif layout.width == 16:
        link &= 0xFFFF
    elif layout.kind != "exFAT":
        link &= 0x0FFFFFFF
    return link if valid(layout, link) else 0


def valid(layout: VolumeLayout, cluster: int) -> bool:
    """Whether a cluster of this number exists."""
    return 2 <= cluster < layout.clusters + 2


def read_cluster(window: ByteWindow, layout: VolumeLayout, cluster: int, limit: int) -> Iterator[bytes]:
    """The bytes of one cluster in blocks, at most `limit`."""
    start, done = layout.heap + (cluster - 2) * layout.cluster, 0
    while done < min(layout.cluster, limit):
        block = window.read(start + done, min(layout.cluster, limit) - done)
        if not block:
            return
        done += len(block)
        yield block


def read_folder(window: ByteWindow, layout: VolumeLayout, first: int, budget: ReadBudget, run: int = 0) -> Iterator[bytes]:
    """The bytes of a folder, block by block. `run`: so many bytes in a row without links (exFAT); 0 follows the table."""
    cluster, left, seen = first, min(run or FOLDER_LIMIT, FOLDER_LIMIT), set[int]()
    while valid(layout, cluster) and cluster not in seen and left > 0:
        seen.add(cluster)
        if not budget.take("links"):
            return
        for block in read_cluster(window, layout, cluster, left):
            if not budget.take("folder_bytes", len(block)):
                return
            left -= len(block)
            yield block
        cluster = cluster + 1 if run else next_cluster(window, layout, cluster)


def covers(window: ByteWindow, layout: VolumeLayout, first: int, size: int, budget: ReadBudget) -> bool | None:
    """Whether the chain has exactly the clusters that the size needs; None when the budget does not reach."""
    needed = -(-size // layout.cluster)
    if needed == 0:
        return True
    if needed > layout.clusters:
        return False
    if not budget.take("links", needed):
        return None
    cluster = first
    for _ in range(needed):
        if not valid(layout, cluster):
            return False
        cluster = next_cluster(window, layout, cluster)
    return cluster == 0
