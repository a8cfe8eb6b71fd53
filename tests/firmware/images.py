"""Firmware images for tests, packed by the published layouts and not by the parser's."""

from __future__ import annotations

import struct
import uuid
from collections.abc import Sequence

FFS2 = "8c8ce578-8a3d-4f1c-9935-896185c32dd3"
FFS3 = "5473c07a-3dcb-4dca-bd6f-1e9689e7349a"
"""edk2 FirmwareFileSystem2.h and FirmwareFileSystem3.h."""
VARIABLES = "fff12b8d-7696-4c8b-a985-2747075b4f50"
"""edk2 SystemNvDataGuid.h."""
MANAGEMENT = "6dcbd5ed-e82d-4c44-bda1-7194199ad92a"
"""edk2 FmpCapsule.h."""
INVENTED = "7d1de000-0000-4000-8000-00000000b0a7"
BLOCK = 0x1000


def packed(guid: str) -> bytes:
    """A GUID as it lies on disk."""
    return uuid.UUID(guid).bytes_le


def file(content: bytes, *, kind: int = 0x02, guid: str = INVENTED, large: bool = False) -> bytes:
    """A file: header of 24 or 32 bytes with right check sums (Pi/PiFirmwareFile.h), padded to eight."""
    size = len(content) + (32 if large else 24)
    sizes = b"\0\0\0" if large else size.to_bytes(3, "little")
    tail = struct.pack("<Q", size) if large else b""
    head = bytearray(packed(guid) + bytes((0, 0, kind, 1 if large else 0)) + sizes + b"\0" + tail)
    head[16] = -sum(head) & 0xFF
    head[17], head[23] = 0xAA, 0xF8
    return bytes(head) + content + b"\xff" * (-size % 8)


def section(kind: int, content: bytes) -> bytes:
    """A section (Pi/PiFirmwareFile.h), padded to four."""
    size = len(content) + 4
    return size.to_bytes(3, "little") + bytes((kind,)) + content + bytes(-size % 4)


def guided(content: bytes, *, processing: bool = True) -> bytes:
    """A GUID-defined section: GUID, where the data begins, attributes."""
    return section(0x02, packed(INVENTED) + struct.pack("<HH", 24, 0x01 if processing else 0x02) + content)


def compressed(content: bytes, *, kind: int = 1) -> bytes:
    """A compressed section: length when unpacked, kind of compression (0: none)."""
    return section(0x01, struct.pack("<IB", 2 * len(content), kind) + content)


def volume(files: Sequence[bytes] = (), *, blocks: int = 4, guid: str = FFS2, extended: bool = False) -> bytes:
    """A volume (Pi/PiFirmwareVolume.h) of so many blocks of 4 KiB, its free space erased to ones."""
    size, header = blocks * BLOCK, 72
    fields = struct.pack("<IHHHBBIIII", 0x800, header, 0, header if extended else 0, 0, 2, blocks, BLOCK, 0, 0)
    raw = bytearray(bytes(16) + packed(guid) + struct.pack("<Q", size) + b"_FVH" + fields)
    total = sum(struct.unpack(f"<{header // 2}H", raw))
    raw[50:52] = struct.pack("<H", -total & 0xFFFF)
    more = packed(INVENTED) + struct.pack("<I", 20) + b"\xff" * 4 if extended else b""
    body = bytes(raw) + more + b"".join(files)
    assert len(body) <= size
    return body.ljust(size, b"\xff")


def capsule(body: bytes, *, guid: str = INVENTED, header: int = 28, flags: int = 0x50000) -> bytes:
    """A capsule header (UefiSpec.h) and its body."""
    start = packed(guid) + struct.pack("<III", header, flags, header + len(body))
    return start.ljust(header, b"\0") + body


def management(payloads: Sequence[bytes], *, drivers: Sequence[bytes] = (), version: int = 3) -> bytes:
    """A capsule of the firmware management protocol (FmpCapsule.h)."""
    extra = {1: b"", 2: bytes(8), 3: bytes(16)}[version]
    items = list(drivers)
    for index, payload in enumerate(payloads, 1):
        items.append(struct.pack("<I16sB3sII", version, packed(INVENTED), index, bytes(3), len(payload), 0) + extra + payload)
    at, offsets = 8 + 8 * len(items), []
    for item in items:
        offsets.append(at)
        at += len(item)
    head = struct.pack(f"<IHH{len(items)}Q", 1, len(drivers), len(payloads), *offsets)
    return capsule(head + b"".join(items), guid=MANAGEMENT)


def descriptor(regions: dict[int, tuple[int, int]], *, code: int = 1, oldest: bool = False) -> bytes:
    """A flash descriptor of 4 KiB (coreboot util/ifdtool). Regions: index -> first and last page of 4 KiB."""
    raw = bytearray(b"\xff" * BLOCK)
    at = 0 if oldest else 0x10
    struct.pack_into("<4sI", raw, at, b"\x5a\xa5\xf0\x0f", 0x04 << 16 | 0x03)
    struct.pack_into("<I", raw, 0x30, code | 4 << 17)
    for index in range(16):
        base, limit = regions.get(index, (0x7FFF, 0))
        struct.pack_into("<HH", raw, 0x40 + index * 4, base, limit)
    return bytes(raw)


def flash(inside: Sequence[bytes], *, code: int = 1) -> bytes:
    """A whole chip of 512 KiB doubled `code` times: descriptor, erased engine region, firmware region from the middle on."""
    size = 0x80000 << code
    pages, half = size // BLOCK, size // 2
    head = descriptor({0: (0, 0), 1: (pages // 2, pages - 1), 2: (1, pages // 2 - 1)}, code=code)
    return (head.ljust(half, b"\xff") + b"".join(inside)).ljust(size, b"\xff")


def text(name: str, *, wide: bool = False) -> bytes:
    """A string with an end before and behind it."""
    return b"\0\0" + name.encode("utf-16-le" if wide else "utf-8") + b"\0\0"
