"""PI firmware volumes. Layout: PI specification 1.8, volume 3, 3.2.1.1; edk2 Pi/PiFirmwareVolume.h."""

from __future__ import annotations

import struct
from dataclasses import dataclass

from nopost.firmware.image.bounded import guid, number
from nopost.firmware.image.files import Budget, Count, count_files
from nopost.firmware.image.model import Volume

SIGNATURE = b"_FVH"
BEFORE_SIGNATURE = 40
FIXED = 56
LEAST_HEADER = 72
MOST_BLOCKS = 64
LONGEST_HEADER = FIXED + 8 * (MOST_BLOCKS + 1)
"""Real maps have one or two entries (judgement); a bound keeps the time linear."""
FILE_SYSTEMS = {
    "8c8ce578-8a3d-4f1c-9935-896185c32dd3": "FFS2",
    "5473c07a-3dcb-4dca-bd6f-1e9689e7349a": "FFS3",
    "fff12b8d-7696-4c8b-a985-2747075b4f50": "variables",
}
MOST_VOLUMES = 256
MOST_CANDIDATES = 4096


@dataclass(frozen=True, slots=True)
class Found:
    """Volumes in the order of the file; `left_out`: a bound was met before its end."""

    volumes: tuple[Volume, ...]
    left_out: bool


def has_volume(data: bytes, at: int) -> bool:
    """Whether a volume's signature stands where it should when a volume begins at `at`."""
    return data[at + BEFORE_SIGNATURE : at + BEFORE_SIGNATURE + 4] == SIGNATURE


def find_volumes(data: bytes) -> Found:
    """All volumes that do not lie in another one."""
    volumes: list[Volume] = []
    budget = Budget()
    at = free = 0
    for _ in range(MOST_CANDIDATES):
        at = data.find(SIGNATURE, at)
        if at < 0:
            return Found(tuple(volumes), budget.spent)
        if len(volumes) == MOST_VOLUMES:
            break
        start = at - BEFORE_SIGNATURE
        volume = read_volume(data, start, budget) if start >= free else None
        at += len(SIGNATURE)
        if volume is not None:
            volumes.append(volume)
            free = at
            if not volume.faults:
                at = free = start + volume.size
    return Found(tuple(volumes), True)


def read_volume(data: bytes, at: int, budget: Budget | None = None) -> Volume | None:
    """The volume here, with what is wrong with it; None when these four letters do not begin a volume."""
    if at + LEAST_HEADER > len(data) or not has_volume(data, at):
        return None
    size, header = number(data, at + 32, 8), number(data, at + 48, 2)
    revision, name = data[at + 55], guid(data, at + 16)
    system = FILE_SYSTEMS.get(name, "")
    if header % 2 or not LEAST_HEADER <= header <= LONGEST_HEADER or data[at + 54]:
        return None
    if (not system and revision not in (1, 2)) or size < header:
        return None
    faults = _faults(data, at, size, header)
    end = min(at + size, len(data))
    count = Count()
    if system in ("FFS2", "FFS3"):
        count = count_files(data, _first_file(data, at, header), end, at, budget or Budget())
    if count.bad:
        faults.append(f"the header of {count.bad} file{'s' if count.bad > 1 else ''} does not add up")
    inside = count.files, count.padding, count.bad
    return Volume(at, size, name, system or "another", revision, *inside, tuple(faults), count.packed)


def _faults(data: bytes, at: int, size: int, header: int) -> list[str]:
    faults = []
    raw = data[at : at + header]
    total = sum(word for (word,) in struct.iter_unpack("<H", raw)) & 0xFFFF if len(raw) == header else -1
    if total:
        faults.append("the check sum of its header is wrong")
    mapped = _mapped(raw)
    if mapped is None:
        faults.append("its block map has no end")
    elif mapped != size:
        faults.append(f"its block map covers {mapped} bytes, its length is {size}")
    if at + size > len(data):
        faults.append(f"it is cut short: {len(data) - at} of {size} bytes")
    return faults


def _mapped(header: bytes) -> int | None:
    """Bytes that the block map covers."""
    total = 0
    for offset in range(FIXED, len(header) - 7, 8):
        count, length = struct.unpack_from("<II", header, offset)
        if not count and not length:
            return total
        total += count * length
    return None


def _first_file(data: bytes, at: int, header: int) -> int:
    """Where the files begin: behind the header, or behind the extended one, at the next step of eight."""
    extended = number(data, at + 52, 2)
    if extended < header:
        return at + header
    length = extended + number(data, at + extended + 16, 4)
    return at + (length + 7 & ~7)
