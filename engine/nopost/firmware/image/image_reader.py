"""An image from a file or from bytes: UEFI capsules with their payloads, the flash descriptor with its regions, the
firmware volumes, and what lies between. Any bytes give an image.

Layouts: UEFI specification 2.10, 8.5.3 and 23 (capsules, payloads of the firmware management protocol); edk2
UefiSpec.h and FmpCapsule.h; coreboot, util/ifdtool (flash descriptor).
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from nopost.errors import ImageError
from nopost.files import open_plain
from nopost.firmware.bounded_bytes import guid, number, run_from, run_to
from nopost.firmware.image.firmware_volumes import find_volumes, has_volume
from nopost.firmware.image.image_parts import (
    FLAGS,
    ONES,
    ZEROS,
    Capsule,
    Fill,
    FirmwareImage,
    FirmwareVolume,
    FlashDescriptor,
    FlashRegion,
    Payload,
    UnparsedRange,
)

DESCRIPTOR_SIGNATURE = b"\x5a\xa5\xf0\x0f"
DESCRIPTOR_SIZE = 0x1000
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
    return DESCRIPTOR_SIGNATURE in (data[at + 0x10 : at + 0x14], data[at : at + 4])


def read_descriptor(data: bytes, at: int) -> FlashDescriptor | None:
    """The descriptor of a flash that begins at `at`; the oldest chipsets have the signature at its very start."""
    if not has_descriptor(data, at):
        return None
    shift = 0x10 if data[at + 0x10 : at + 0x14] == DESCRIPTOR_SIGNATURE else 0
    map_word = number(data, at + shift + 4, 4)
    component = number(data, at + ((map_word & 0xFF) << 4), 4)
    regions_at = at + ((map_word >> 16 & 0xFF) << 4)
    chips = min(2, (map_word >> 8 & 3) + 1)
    first = not component >> 17 & 7
    count = FIRST_REGIONS if first else len(REGIONS)
    regions = [_region(data, at, regions_at, index) for index in range(count)]
    return FlashDescriptor(at, chips, _chip_size(component, chips, first), tuple(r for r in regions if r is not None))


def _chip_size(component: int, chips: int, first: bool) -> int:
    """Size of all chips by their codes: 512 KiB doubled, up to 64 MiB (coreboot, util/ifdtool); 0 for a code beyond.

    That a code has three bits in the first generation and four since is from memory.
    """
    width = 3 if first else 4
    codes = [component >> (width * chip) & (1 << width) - 1 for chip in range(chips)]
    return 0 if any(code > 7 for code in codes) else sum(0x80000 << code for code in codes)


def _region(data: bytes, at: int, table: int, index: int) -> FlashRegion | None:
    if table + index * 4 + 4 > min(len(data), at + DESCRIPTOR_SIZE):
        return None
    word = number(data, table + index * 4, 4)
    base, limit = word & 0x7FFF, word >> 16 & 0x7FFF
    if base == UNUSED_BASE or base > limit or (limit == 0 and index > 0):
        return None
    start, end = at + (base << 12), at + (limit + 1 << 12)
    return FlashRegion(index, REGIONS[index], start, end, end <= len(data))


CAPSULE_HEADER = 28
LONGEST_HEADER = 1 << 16
"""No published capsule header comes near (judgement)."""
FIRMWARE_MANAGEMENT = "6dcbd5ed-e82d-4c44-bda1-7194199ad92a"
MOST_CAPSULES = 16
MOST_PAYLOADS = 64
PAYLOAD_HEADERS = {1: 32, 2: 40, 3: 48}
"""Version of a payload header -> its size; 2 adds the hardware instance, 3 the supported features (1 and 2 from memory)."""


def read_capsules(data: bytes) -> list[Capsule]:
    """Capsules one behind the other from the start of the file."""
    found: list[Capsule] = []
    at = 0
    while len(found) < MOST_CAPSULES and (capsule := read_capsule(data, at)) is not None:
        found.append(capsule)
        at += capsule.size
    return found


def read_capsule(data: bytes, at: int) -> Capsule | None:
    """The capsule here, if there is one. A GUID that is not known is believed when the rest of the header fits what follows."""
    rest = len(data) - at
    if rest < CAPSULE_HEADER:
        return None
    name, header, flags, size = guid(data, at), *(number(data, at + offset, 4) for offset in (16, 20, 24))
    if not CAPSULE_HEADER <= header <= min(size, LONGEST_HEADER) or flags >> 16 & ~(sum(FLAGS) >> 16):
        return None
    management = name == FIRMWARE_MANAGEMENT
    body = at + header
    if not management and (size != rest or not any(data[at : at + 16])) and not _known_start(data, body):
        return None
    faults = [] if size <= rest else [f"it is cut short: {rest} of {size} bytes"]
    payloads: list[Payload] = []
    if management:
        payloads = _payloads(data, body, min(at + size, len(data)), faults)
    return Capsule(at, name, management, header, flags, size, tuple(payloads), tuple(faults))


def _known_start(data: bytes, at: int) -> bool:
    return has_volume(data, at) or has_descriptor(data, at)


def _payloads(data: bytes, start: int, end: int, faults: list[str]) -> list[Payload]:
    """Payloads after the drivers; offsets count from `start`."""
    if end - start < 8 or number(data, start, 4) != 1:
        faults.append("its list of payloads is of an unknown version, or missing")
        return []
    drivers, count = number(data, start + 4, 2), number(data, start + 6, 2)
    if count > MOST_PAYLOADS:
        faults.append(f"it claims {count} payloads")
        count = MOST_PAYLOADS
    found = []
    for item in range(drivers, drivers + count):
        entry = start + 8 + item * 8
        at = start + number(data, entry, 8)
        version = number(data, at, 4)
        length = PAYLOAD_HEADERS.get(version)
        if entry + 8 > end or length is None or at + length > end:
            faults.append(f"payload {item - drivers + 1} lies outside it, or its header is of an unknown version")
            continue
        size = number(data, at + 24, 4)
        whole = at + length + size + number(data, at + 28, 4) <= end
        if not whole:
            faults.append(f"payload {item - drivers + 1} reaches over its end")
        found.append(Payload(at + length, size, guid(data, at + 4), data[at + 20], version, whole))
    return found


MAX_BYTES = 64 * 1024 * 1024
LEAST_RUN = 1024
"""A shorter run of one byte beside data counts as data (judgement)."""
OTHER_FORMS = {
    b"PK\x03\x04": "a ZIP archive",
    b"7z\xbc\xaf\x27\x1c": "a 7z archive",
    b"\x1f\x8b": "a gzip archive",
    b"MZ": "a program",
    b"<!doctype": "a web page",
    b"<html": "a web page",
}
"""First bytes, small letters or as they are (PKWARE APPNOTE, 7z format text, RFC 1952, PE/COFF, HTML; from memory)."""


def load(path: Path) -> tuple[bytes, int]:
    """The first 64 MiB of a file, and the size of all of it. Raises ImageError."""
    try:
        with open_plain(path) as stream:
            data = stream.read(MAX_BYTES)
            size = max(os.fstat(stream.fileno()).st_size, len(data))
    except OSError as error:
        raise ImageError(f"{path}: cannot be read: {error.strerror}") from None
    if not data:
        raise ImageError(f"{path}: the file is empty")
    return data, size


def read_image(data: bytes, size: int | None = None) -> FirmwareImage:
    """What these bytes are; `size` is that of the file when they are only its beginning."""
    whole = size is None or size <= len(data)
    capsules = read_capsules(data)
    descriptor = _descriptor(data, capsules)
    found = find_volumes(data)
    unparsed = _unparsed(data, capsules, descriptor, found.volumes)
    known = bool(capsules or descriptor or found.volumes)
    return FirmwareImage(
        size=len(data) if size is None else size,
        looked_at=len(data),
        sha256=hashlib.sha256(data).hexdigest() if whole else "",
        capsules=tuple(capsules),
        descriptor=descriptor,
        volumes=found.volumes,
        unparsed=unparsed,
        other_form="" if known and not data.startswith(b"PK") else _other_form(data),
        left_out=found.left_out or not whole,
    )


def _other_form(data: bytes) -> str:
    head = data[:16].lstrip()
    return next((name for start, name in OTHER_FORMS.items() if head.startswith(start) or head.lower().startswith(start)), "")


def _descriptor(data: bytes, capsules: list[Capsule]) -> FlashDescriptor | None:
    """The first descriptor at a place where a flash image can begin."""
    starts = [0]
    for capsule in capsules:
        starts += [capsule.body, *(payload.offset for payload in capsule.payloads)]
    return next((found for at in starts if (found := read_descriptor(data, at)) is not None), None)


def _unparsed(
    data: bytes, capsules: list[Capsule], descriptor: FlashDescriptor | None, volumes: tuple[FirmwareVolume, ...]
) -> tuple[UnparsedRange, ...]:
    """The ranges between the structures, each with what fills it."""
    taken = [(capsule.offset, capsule.payloads[0].offset if capsule.payloads else capsule.body) for capsule in capsules]
    taken += [(volume.offset, volume.offset + volume.size) for volume in volumes]
    if descriptor is not None:
        taken.append((descriptor.offset, descriptor.offset + DESCRIPTOR_SIZE))
    found: list[UnparsedRange] = []
    at = 0
    for start, end in [*sorted(taken), (len(data), len(data))]:
        if start > at:
            found += _gap(data, at, min(start, len(data)))
        at = max(at, end)
    return tuple(found)


def _gap(data: bytes, start: int, end: int) -> list[UnparsedRange]:
    """A gap: filled evenly, or data with filled ends."""
    parts: list[UnparsedRange] = []
    head, fill = max((run_from(data, start, end, byte), kind) for byte, kind in ((ONES, Fill.ONES), (ZEROS, Fill.ZEROS)))
    if head == end - start or head >= LEAST_RUN:
        parts.append(UnparsedRange(start, head, fill))
        start += head
    tail, fill = max((run_to(data, start, end, byte), kind) for byte, kind in ((ONES, Fill.ONES), (ZEROS, Fill.ZEROS)))
    if start < end:
        cut = tail if tail >= LEAST_RUN else 0
        parts.append(UnparsedRange(start, end - start - cut, Fill.DATA))
        if cut:
            parts.append(UnparsedRange(end - cut, cut, fill))
    return parts
