"""The reader of SMBIOS tables. Tables are built from the offsets of DSP0134 that `facts/smbios_offsets.csv` keeps."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from firmware import dumps
from nopost.errors import DumpError
from nopost.firmware.verify import smbios_structures
from nopost.firmware.verify.smbios_dump import read_dump, read_entry
from nopost.firmware.verify.smbios_structures import Structure, walk_structures

SHARED = Path(__file__).resolve().parents[3] / "shared" / "facts" / "smbios_offsets.csv"


def only(data: bytes) -> Structure:
    """The one structure of these bytes."""
    (found,) = walk_structures(data).structures
    return found


def test_kept_offsets_are_the_fuller_ones() -> None:
    """Source: DSP0134, by way of the fuller facts file where it lies beside the checkout."""
    if not SHARED.is_file():
        pytest.skip("the fuller facts files do not lie beside this checkout")
    with SHARED.open(encoding="utf-8", newline="") as stream:
        fuller = [
            {key: row[key] for key in ("structure", "field", "offset", "size_bytes", "kind")} for row in csv.DictReader(stream)
        ]
    assert dumps.rows("smbios_offsets.csv") == fuller


@pytest.mark.parametrize("kind", [0, 1, 2, 4, 16, 17])
def test_every_string_stands_where_the_standard_puts_it(kind: int) -> None:
    """Source: DSP0134, offsets of string numbers."""
    texts = {name: f"text of {name}" for name, (_, _, what) in dumps.fields(str(kind)).items() if what == "string number"}
    found = only(dumps.structure(kind, texts))
    for name, (offset, _, _) in dumps.fields(str(kind)).items():
        if name in texts:
            assert found.text(offset) == texts[name]


def test_firmware() -> None:
    """Source: DSP0134, type 0; size 64 KiB times n + 1, FFh: the extended field with its unit."""
    texts = {"Vendor": "V", "BiosVersion": "0.98", "BiosReleaseDate": "08/20/2029"}
    assert smbios_structures.firmware(only(dumps.structure(0, {**texts, "BiosSize": 0x3F}))) == smbios_structures.FirmwareInfo(
        "V", "0.98", "08/20/2029", 4 << 20
    )
    for extended, size in ((32, 32 << 20), (0x4001, 1 << 30), (0x8001, None)):
        found = smbios_structures.firmware(only(dumps.structure(0, {**texts, "BiosSize": 0xFF, "ExtendedBiosSize": extended})))
        assert found.rom_bytes == size
    assert smbios_structures.firmware(only(dumps.structure(0, {**texts, "BiosSize": 0xFF}, length=0x18))).rom_bytes == 16 << 20


def test_system_and_board() -> None:
    """Source: DSP0134, types 1 and 2."""
    texts = {"Manufacturer": "M", "ProductName": "P", "Version": "1", "SKUNumber": "K", "Family": "F"}
    assert smbios_structures.system(only(dumps.structure(1, texts))) == smbios_structures.SystemInfo("M", "P", "1", "K", "F")
    old = {"Manufacturer": "M", "ProductName": "P", "Version": "1"}
    assert smbios_structures.system(only(dumps.structure(1, old, length=0x08))) == smbios_structures.SystemInfo(
        "M", "P", "1", "", ""
    )
    assert smbios_structures.baseboard(only(dumps.structure(2, {**old, "BoardType": 10}))) == smbios_structures.Baseboard(
        "M", "P", "1", 10
    )


def test_processor() -> None:
    """Source: DSP0134, type 4: status bits 6 and 2:0, counts of FFh and more in the wide fields, 0 for unknown."""
    found = smbios_structures.processor(only(dumps.cpu()))
    assert (found.populated, found.state, found.cores, found.cores_enabled, found.threads) == (True, 1, 8, 8, 16)
    wide = {"CoreCount": 0xFF, "CoreCount2": 300, "ThreadCount": 0xFF, "ThreadCount2": 0xFFFF, "EnabledCoreCount": 0}
    found = smbios_structures.processor(only(dumps.cpu(**wide, Status=0)))
    assert (found.populated, found.state, found.cores, found.cores_enabled, found.threads) == (False, 0, 300, None, None)
    short = smbios_structures.processor(only(dumps.structure(4, {"ProcessorVersion": "N"}, length=0x1A)))
    assert (short.name, short.cores, short.threads) == ("N", None, None)


@pytest.mark.parametrize(
    ("values", "size"),
    [
        ({"Size": 0}, 0),
        ({"Size": 0xFFFF}, None),
        ({"Size": 0x8000 | 512}, 512 << 10),
        ({"Size": 16384}, 16 << 30),
        ({"Size": 0x7FFF, "ExtendedSize": 65536}, 64 << 30),
    ],
)
def test_module_size(values: dict[str, int], size: int | None) -> None:
    """Source: DSP0134, type 17: size, its unit in bit 15, and the extended size."""
    assert smbios_structures.memory_device(only(dumps.structure(17, values))).size == size


def test_module_rates() -> None:
    """Source: DSP0134, type 17: speed and configured speed, 0 unknown, FFFFh: the extended field; type codes."""
    found = smbios_structures.memory_device(
        only(dumps.module("DIMM_A2", 8192, 3600, 2400, BankLocator="BANK 1", PartNumber="TW-8"))
    )
    assert (found.locator, found.bank, found.type, found.rated, found.configured) == ("DIMM_A2", "BANK 1", "DDR4", 3600, 2400)
    assert (found.part, found.millivolts) == ("TW-8", 1350)
    wide = {"Speed": 0xFFFF, "ExtendedSpeed": 70_000, "ConfiguredMemoryClockSpeed": 0, "MemoryType": 0x22}
    found = smbios_structures.memory_device(only(dumps.structure(17, wide)))
    assert (found.rated, found.configured, found.type) == (70_000, None, "DDR5")
    assert smbios_structures.memory_device(only(dumps.structure(17, {"Speed": 3200}, length=0x1C))).configured is None


def test_memory_array() -> None:
    """Source: DSP0134, type 16: KiB, or bytes in the extended field."""
    values = {"Use": 3, "MaximumCapacity": 1 << 20, "NumberOfMemoryDevices": 4}
    assert smbios_structures.memory_array(only(dumps.structure(16, values))) == smbios_structures.MemoryArray(16, 3, 1 << 30, 4)
    values |= {"MaximumCapacity": 0x80000000, "ExtendedMaximumCapacity": 4 << 40}
    assert smbios_structures.memory_array(only(dumps.structure(16, values))).most_bytes == 4 << 40


def test_entry_points() -> None:
    """Source: DSP0134, both entry points; the sum of all bytes is 0."""
    table = dumps.table()
    new, old = read_entry(dumps.entry_30(table)), read_entry(dumps.entry_21(table, 10))
    assert new is not None
    assert old is not None
    assert (new.form, new.version, new.address, new.size, new.sums_right) == ("3.0", (3, 4), 0x20, len(table), True)
    assert (old.form, old.version, old.address, old.size, old.count) == ("2.1", (2, 8), 0x20, len(table), 10)
    assert old.sums_right
    assert read_entry(table) is None


def test_forms_of_the_file_agree() -> None:
    """The table alone, behind either entry point, and behind one that holds an address in memory."""
    table = dumps.table()
    alone = read_dump(table)
    assert alone.notes == ()
    assert alone.board == smbios_structures.Baseboard("Tidewater", "TB-Harbour M2", "1.1", 10)
    assert len(alone.devices) == 4
    for entry in (dumps.entry_30(table), dumps.entry_21(table, 10)):
        behind = read_dump(entry + table)
        assert (behind.firmware, behind.board, behind.processors, behind.devices) == (
            alone.firmware,
            alone.board,
            alone.processors,
            alone.devices,
        )
        assert behind.notes == ()
    joined = read_dump(dumps.entry_30(table, 0x7A00_0000)[:0x18] + table)
    assert (joined.devices, joined.notes) == (alone.devices, ())


def test_damage_is_said() -> None:
    """What can be read is read, and the ended_early stands beside it."""
    table = dumps.table()
    entry = bytearray(dumps.entry_30(table))
    entry[0x09] ^= 1
    assert "check sum" in read_dump(bytes(entry) + table).notes[0]
    cut = read_dump(table[:-40])
    assert cut.board is not None
    assert "behind the end" in cut.notes[0]
    assert "bytes" in read_dump(dumps.entry_21(table, 10) + table[:-10]).notes[0]
    zero = read_dump(table[: -len(dumps.END)] + b"\x7e\x03\0\0\0\0")
    assert "at least 4" in zero.notes[0]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "empty"),
        (b"Handle 0x0002, DMI type 2\n\tBase Board\n", "is text"),
        (b"\0" * 64, "no SMBIOS table"),
        (dumps.END, "no SMBIOS table"),
        (dumps.entry_30(b"x")[:0x18], "entry point alone"),
        (b"_SM3_\0", "cut off"),
        (b"\0" * ((16 << 20) + 1), "too large"),
    ],
)
def test_no_table(data: bytes, told: str) -> None:
    """One clear line for what is no table."""
    with pytest.raises(DumpError, match=told):
        read_dump(data)


def test_no_serial_number_is_kept() -> None:
    """They say nothing here and belong to nobody else."""
    assert "SECRET" not in repr(read_dump(dumps.table()))
