"""The flash descriptor and its regions. Layout: coreboot, util/ifdtool."""

from __future__ import annotations

from nopost.firmware.image.bounded import number
from nopost.firmware.image.model import Descriptor, Region

SIGNATURE = b"\x5a\xa5\xf0\x0f"
SIZE = 0x1000
UNUSED_BASE = 0x7FFF
REGIONS = (
    "flash descriptor",
    "firmware",
    "management engine",
    "gigabit ethernet",
    "platform data",
    "device expansion 1",
    "second firmware region",
    "reserved (7)",
    "embedded controller",
    "device expansion 2",
    "innovation engine",
    "10 gigabit ethernet 0",
    "10 gigabit ethernet 1",
    "reserved (13)",
    "reserved (14)",
    "platform trust",
)
FIRST_REGIONS = 5
"""So many regions had the first generation, which is told by its read clock (ifdtool, from memory)."""


def has_descriptor(data: bytes, at: int) -> bool:
    """Whether a descriptor's signature stands where it should when the flash begins at `at`."""
    return SIGNATURE in (data[at + 0x10 : at + 0x14], data[at : at + 4])


def read_descriptor(data: bytes, at: int) -> Descriptor | None:
    """The descriptor of a flash that begins at `at`; the oldest chipsets have the signature at its very start."""
    if not has_descriptor(data, at):
        return None
    shift = 0x10 if data[at + 0x10 : at + 0x14] == SIGNATURE else 0
    map_word = number(data, at + shift + 4, 4)
    component = number(data, at + ((map_word & 0xFF) << 4), 4)
    regions_at = at + ((map_word >> 16 & 0xFF) << 4)
    chips = min(2, (map_word >> 8 & 3) + 1)
    first = not component >> 17 & 7
    count = FIRST_REGIONS if first else len(REGIONS)
    regions = [_region(data, at, regions_at, index) for index in range(count)]
    return Descriptor(at, chips, _chip_size(component, chips, first), tuple(r for r in regions if r is not None))


def _chip_size(component: int, chips: int, first: bool) -> int:
    """Size of all chips by their codes: 512 KiB doubled, up to 64 MiB (coreboot, util/ifdtool); 0 for a code beyond.

    That a code has three bits in the first generation and four since is from memory.
    """
    width = 3 if first else 4
    codes = [component >> (width * chip) & (1 << width) - 1 for chip in range(chips)]
    return 0 if any(code > 7 for code in codes) else sum(0x80000 << code for code in codes)


def _region(data: bytes, at: int, table: int, index: int) -> Region | None:
    if table + index * 4 + 4 > min(len(data), at + SIZE):
        return None
    word = number(data, table + index * 4, 4)
    base, limit = word & 0x7FFF, word >> 16 & 0x7FFF
    if base == UNUSED_BASE or base > limit or (limit == 0 and index > 0):
        return None
    start, end = at + (base << 12), at + (limit + 1 << 12)
    return Region(index, REGIONS[index], start, end, end <= len(data))
