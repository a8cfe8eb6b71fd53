"""Cluster chains of FAT and exFAT. Every walk is bounded by what is asked for and by the budget, so a loop ends."""

from __future__ import annotations

from collections.abc import Iterator

from nopost.firmware.stick.boot_sector import Layout
from nopost.firmware.stick.source import Budget, Window, number

FOLDER_LIMIT = 2 << 20
"""A FAT folder cannot be longer than 65,536 entries of 32 bytes; longer exFAT folders are cut here."""


def next_cluster(window: Window, layout: Layout, cluster: int) -> int:
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


def valid(layout: Layout, cluster: int) -> bool:
    """Whether a cluster of this number exists."""
    return 2 <= cluster < layout.clusters + 2


def read_cluster(window: Window, layout: Layout, cluster: int, limit: int) -> Iterator[bytes]:
    """The bytes of one cluster in blocks, at most `limit`."""
    start, done = layout.heap + (cluster - 2) * layout.cluster, 0
    while done < min(layout.cluster, limit):
        block = window.read(start + done, min(layout.cluster, limit) - done)
        if not block:
            return
        done += len(block)
        yield block


def read_folder(window: Window, layout: Layout, first: int, budget: Budget, run: int = 0) -> Iterator[bytes]:
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


def covers(window: Window, layout: Layout, first: int, size: int, budget: Budget) -> bool | None:
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
