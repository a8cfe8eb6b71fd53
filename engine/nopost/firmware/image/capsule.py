"""UEFI capsules: the header, and the payloads of the firmware management protocol.

Layouts: UEFI specification 2.10, 8.5.3 and 23; edk2 UefiSpec.h and FmpCapsule.h.
"""

from __future__ import annotations

from nopost.firmware.image.bounded import guid, number
from nopost.firmware.image.descriptor import has_descriptor
from nopost.firmware.image.model import FLAGS, Capsule, Payload
from nopost.firmware.image.volume import has_volume

HEADER = 28
LONGEST_HEADER = 1 << 16
"""No published capsule header comes near (judgement)."""
MANAGEMENT = "6dcbd5ed-e82d-4c44-bda1-7194199ad92a"
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
    if rest < HEADER:
        return None
    name, header, flags, size = guid(data, at), *(number(data, at + offset, 4) for offset in (16, 20, 24))
    if not HEADER <= header <= min(size, LONGEST_HEADER) or flags >> 16 & ~(sum(FLAGS) >> 16):
        return None
    management = name == MANAGEMENT
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
