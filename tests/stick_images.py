"""Images of sticks, built by the tests' own code from the published layouts: FAT, exFAT, MBR, GPT."""

from __future__ import annotations

import struct
import uuid
import zlib

SECTOR = 512
EFI_SYSTEM = "C12A7328-F81F-11D2-BA4B-00A0C93EC93B"
BASIC_DATA = "EBD0A0A2-B9E5-4433-87C0-68B6B72699C7"


def fat(
    clusters: int,
    folder: bytes = b"",
    links: dict[int, int] | None = None,
    *,
    wide: bool | None = None,
    says: bytes = b"",
) -> bytes:
    """A FAT volume with clusters of one sector. `links`: what the table holds; `wide`: lay out as FAT32."""
    wide = clusters >= 65525 if wide is None else wide
    width = 32 if wide else 12 if clusters < 4085 else 16
    per_table = -(-(clusters + 2) * width // 8 // SECTOR) + 1
    roots, reserved = (0, 32) if wide else (512, 1)
    root_sectors = roots * 32 // SECTOR
    total = reserved + per_table + root_sectors + clusters
    boot = bytearray(SECTOR)
    struct.pack_into("<3s8sHBHBHHBHHHII", boot, 0, b"\xeb\x58\x90", b"invented", SECTOR, 1, reserved, 1, roots, 0, 0xF8,
                     0 if wide else per_table, 63, 255, 0, total)  # fmt: skip
    if wide:
        struct.pack_into("<IHHI", boot, 36, per_table, 0, 0, 2)
    text = says or (b"FAT32   " if wide else b"FAT16   ")
    at = 82 if wide else 54
    boot[at : at + 8] = text
    boot[510:] = b"\x55\xaa"
    table = _table(width, per_table, {0: 0x0FFFFFF8, 1: 0x0FFFFFFF, **({2: 0x0FFFFFFF} if wide else {}), **(links or {})})
    root = b"" if wide else folder.ljust(roots * 32, b"\0")
    data = folder.ljust(SECTOR, b"\0") if wide else b""
    image = bytes(boot) + bytes((reserved - 1) * SECTOR) + table + root + data
    return image.ljust(total * SECTOR, b"\0")


def _table(width: int, sectors: int, links: dict[int, int]) -> bytes:
    table = bytearray(sectors * SECTOR)
    for cluster, link in links.items():
        if width == 12:
            offset = cluster * 3 // 2
            pair = int.from_bytes(table[offset : offset + 2], "little")
            link &= 0xFFF
            pair = (pair & 0x000F) | (link << 4) if cluster & 1 else (pair & 0xF000) | link
            table[offset : offset + 2] = pair.to_bytes(2, "little")
        else:
            size = width // 8
            link &= (1 << width) - 1
            table[cluster * size : (cluster + 1) * size] = link.to_bytes(size, "little")
    return bytes(table)


def short(name: str, *, size: int = 0, cluster: int = 0, attributes: int = 0x20, case: int = 0) -> bytes:
    """One 8.3 entry; `name` as eleven characters with blanks."""
    raw = name.encode("cp437")
    return struct.pack("<11sBB7xHHHHI", raw, attributes, case, cluster >> 16, 0, 0, cluster & 0xFFFF, size)


def long(name: str, alias: str, **more: int) -> bytes:
    """A long name in its parts, then the 8.3 entry that it belongs to."""
    check = 0
    for value in alias.encode("cp437"):
        check = (((check & 1) << 7 | check >> 1) + value) & 0xFF
    text = name.encode("utf-16-le") + b"\0\0"
    parts = [text[i : i + 26].ljust(26, b"\xff") for i in range(0, len(text), 26)]
    made = [
        bytes([order | (0x40 if order == len(parts) else 0)]) + p[:10] + b"\x0f\0" + bytes([check]) + p[10:22] + b"\0\0" + p[22:]
        for order, p in enumerate(parts, 1)
    ]
    return b"".join(reversed(made)) + short(alias, **more)


def exfat_entry(name: str, size: int = 0, cluster: int = 0, *, valid: int | None = None, attributes: int = 0x20) -> bytes:
    """One file of an exFAT folder in a row of clusters (exFAT specification, sections 6.3 and 7.4 to 7.7)."""
    text = name.encode("utf-16-le")
    names = [b"\xc1\0" + text[i : i + 30].ljust(30, b"\0") for i in range(0, len(text), 30)]
    hashed = 0
    for value in name.upper().encode("utf-16-le"):
        hashed = ((hashed & 1) << 15 | hashed >> 1) + value & 0xFFFF
    flags = 3 if size else 1
    stream = struct.pack("<BBBBHHQIIQ", 0xC0, flags, 0, len(name), hashed, 0, size if valid is None else valid, 0, cluster, size)
    head = struct.pack("<BBHHH", 0x85, 1 + len(names), 0, attributes, 0) + struct.pack("<III", *[0x5A210000] * 3) + bytes(12)
    entries = bytearray(head + stream + b"".join(names))
    total = 0
    for index, value in enumerate(entries):
        if index not in (2, 3):
            total = ((total & 1) << 15 | total >> 1) + value & 0xFFFF
    entries[2:4] = total.to_bytes(2, "little")
    return bytes(entries)


def exfat(folder: bytes, clusters: int = 100) -> bytes:
    """An exFAT volume with clusters of one sector and only a root folder, at cluster 2."""
    boot = bytearray(SECTOR)
    boot[:11] = b"\xeb\x76\x90EXFAT   "
    struct.pack_into("<QQIIIIII", boot, 64, 0, 25 + clusters, 24, 1, 25, clusters, 2, 1)
    struct.pack_into("<HHBBBB", boot, 104, 0x100, 0, 9, 0, 1, 0x80)
    boot[510:] = b"\x55\xaa"
    region = bytes(boot) + bytes(10 * SECTOR)
    total = 0
    for index, value in enumerate(region):
        if index not in (106, 107, 112):
            total = (((total & 1) << 31 | total >> 1) + value) & 0xFFFFFFFF
    region += total.to_bytes(4, "little") * (SECTOR // 4)
    table = struct.pack("<III", 0xFFFFFFF8, 0xFFFFFFFF, 0xFFFFFFFF).ljust(SECTOR, b"\0")
    return (region * 2 + table + folder).ljust((25 + clusters) * SECTOR, b"\0")


def mbr(*entries: tuple[int, int, int], first: bytes = b"") -> bytes:
    """A partition sector from (type, start, sectors); `first`: what stands before the table."""
    rows = [struct.pack("<BxxxBxxxII", 0, kind, start, sectors) for kind, start, sectors in entries]
    return first[:446].ljust(446, b"\0") + b"".join(rows).ljust(64, b"\0") + b"\x55\xaa"


def gpt(sectors: int, *entries: tuple[str, int, int], damaged: bool = False) -> bytes:
    """Protective MBR, header and entries (UEFI specification 2.10, section 5.3); entries from (type, first, last)."""
    rows = b"".join(
        uuid.UUID(kind).bytes_le + uuid.uuid5(uuid.NAMESPACE_DNS, str(first)).bytes_le + struct.pack("<QQQ", first, last, 0)
        + "data".encode("utf-16-le").ljust(72, b"\0")
        for kind, first, last in entries
    ).ljust(128 * 128, b"\0")  # fmt: skip

    def head(mine: int, other: int, at: int, wrong: bool) -> bytes:
        numbers = (0x10000, 92, 0, 0, mine, other, 34, sectors - 34, bytes(16), at, 128, 128, zlib.crc32(rows))
        raw = bytearray(struct.pack("<8sIIIIQQQQ16sQIII", b"EFI PART", *numbers))
        raw[16:20] = (zlib.crc32(raw) ^ wrong).to_bytes(4, "little")
        return bytes(raw).ljust(SECTOR, b"\0")

    last = sectors - 1
    start = mbr((0xEE, 1, last)) + head(1, last, 2, damaged) + rows
    return start.ljust((sectors - 33) * SECTOR, b"\0") + rows + head(last, 1, sectors - 33, False)
