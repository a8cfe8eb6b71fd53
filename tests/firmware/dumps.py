"""SMBIOS tables for tests, built from the offsets of DSP0134 (`facts/smbios_offsets.csv`) and not from the parser's."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path

FACTS = Path(__file__).parent / "facts"
Field = tuple[int, int, str]
GIB = 1 << 30


def rows(name: str) -> list[dict[str, str]]:
    """Rows of a kept facts file; lines that begin with # are left out."""
    lines = (FACTS / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def fields(structure: str) -> dict[str, Field]:
    """Field -> offset, size, kind."""
    found = [row for row in rows("smbios_offsets.csv") if row["structure"] == structure]
    return {row["field"]: (int(row["offset"], 16), int(row["size_bytes"]), row["kind"]) for row in found}


def structure(kind: int, values: Mapping[str, int | str], *, handle: int | None = None, length: int | None = None) -> bytes:
    """One structure; a text becomes a string with its number in the field."""
    layout = fields(str(kind))
    size = length or max(offset + width for offset, width, _ in layout.values())
    fixed, strings = bytearray(size), list[bytes]()
    for name, value in {"type": kind, "length": size, "handle": kind if handle is None else handle, **values}.items():
        offset, width, _ = layout[name]
        if isinstance(value, str):
            strings.append(value.encode())
            value = len(strings)
        fixed[offset : offset + width] = value.to_bytes(width, "little")
    return bytes(fixed[:size]) + (b"".join(text + b"\0" for text in strings) or b"\0") + b"\0"


END = bytes((127, 4, 0xFF, 0xFE, 0, 0))


def entry_30(table: bytes, address: int = 0x20) -> bytes:
    """A 3.0 entry point with right check sum, padded to the table."""
    entry = _filled("entry_3.0_(64-bit)", 0x18, {"EntryPointLength": 0x18, "MajorVersion": 3, "MinorVersion": 4})
    _put(entry, "entry_3.0_(64-bit)", {"EntryPointRevision": 1, "TableMaximumSize": len(table), "TableAddress": address})
    entry[:5] = b"_SM3_"
    entry[0x05] = -sum(entry) & 0xFF
    return bytes(entry).ljust(0x20, b"\0")


def entry_21(table: bytes, count: int, address: int = 0x20) -> bytes:
    """A 2.1 entry point with right check sums, padded to the table."""
    name = "entry_2.1_(32-bit)"
    entry = _filled(name, 0x1F, {"EntryPointLength": 0x1F, "MajorVersion": 2, "MinorVersion": 8, "SmbiosBcdRevision": 0x28})
    _put(entry, name, {"TableLength": len(table), "TableAddress": address, "NumberOfSmbiosStructures": count})
    entry[:4], entry[0x10:0x15] = b"_SM_", b"_DMI_"
    entry[0x15] = -sum(entry[0x10:]) & 0xFF
    entry[0x04] = -sum(entry) & 0xFF
    return bytes(entry).ljust(0x20, b"\0")


def _filled(name: str, size: int, values: Mapping[str, int]) -> bytearray:
    entry = bytearray(size)
    _put(entry, name, values)
    return entry


def _put(entry: bytearray, name: str, values: Mapping[str, int]) -> None:
    layout = fields(name)
    for field, value in values.items():
        offset, width, _ = layout[field]
        entry[offset : offset + width] = value.to_bytes(width, "little")


def cpu(**values: int | str) -> bytes:
    """Type 4: the invented Kelp 450 on its board, running."""
    usual: dict[str, int | str] = {
        "Socket": "CPU0",
        "ProcessorType": 3,
        "ProcessorManufacturer": "Tidewater",
        "ProcessorVersion": "Tidewater Kelp 450 with graphics",
        "Status": 0x41,
        "CoreCount": 8,
        "EnabledCoreCount": 8,
        "ThreadCount": 16,
        "ProcessorCharacteristics": 4,
    }
    return structure(4, {**usual, **values})


def module(locator: str, size_mib: int = 8192, rated: int = 3600, configured: int = 3600, **values: int | str) -> bytes:
    """Type 17: a slot with a DDR4 module; size 0: an empty slot."""
    usual: dict[str, int | str] = {
        "MemoryArrayHandle": 16,
        "Size": size_mib,
        "FormFactor": 9,
        "DeviceLocator": locator,
        "MemoryType": 0x1A if size_mib else 2,
        "Speed": rated if size_mib else 0,
        "ConfiguredMemoryClockSpeed": configured if size_mib else 0,
        "ConfiguredVoltage": 1350 if size_mib else 0,
    }
    return structure(17, {**usual, **values}, handle=0x1100 + sum(locator.encode()))


def table(
    *,
    product: str = "TB-Harbour M2",
    revision: str = "1.1",
    version: str = "0.110",
    processor: bytes | None = None,
    modules: Sequence[bytes] | None = None,
) -> bytes:
    """A whole table of the invented TB-Harbour M2 with two modules in the slots that the manual wants."""
    if modules is None:
        modules = [module("DIMM_A1", 0), module("DIMM_A2"), module("DIMM_B1", 0), module("DIMM_B2")]
    firmware: dict[str, int | str] = {
        "Vendor": "Tidewater",
        "BiosVersion": version,
        "BiosReleaseDate": "06/03/2031",
        "BiosSize": 0xFF,
    }
    parts = [
        structure(0, {**firmware, "ExtendedBiosSize": 32}),
        structure(1, {"Manufacturer": "Tidewater", "ProductName": "To Be Filled By O.E.M.", "SerialNumber": "SECRET-1"}),
        structure(
            2,
            {
                "Manufacturer": "Tidewater",
                "ProductName": product,
                "Version": revision,
                "SerialNumber": "SECRET-2",
                "BoardType": 0x0A,
            },
        ),
        cpu() if processor is None else processor,
        structure(16, {"Location": 3, "Use": 3, "MaximumCapacity": 128 << 20, "NumberOfMemoryDevices": len(modules)}, handle=16),
        *modules,
        END,
    ]
    return b"".join(parts)
