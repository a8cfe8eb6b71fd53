"""The reader against dmidecode, the reference program for DSP0134, on the same files. Skipped where that is not installed."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware import dumps
from nopost.firmware.verify.machine import machine_of
from nopost.firmware.verify.smbios_dump import Dump, read_dump

PROGRAM = shutil.which("dmidecode", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin")
pytestmark = pytest.mark.skipif(PROGRAM is None, reason="dmidecode is not installed")
UNITS = {"bytes": 1, "kB": 1 << 10, "MB": 1 << 20, "GB": 1 << 30, "TB": 1 << 40}
Told = dict[str, str]


def reference(path: Path) -> dict[int, list[Told]]:
    """Type -> what dmidecode says of each structure, label -> value."""
    done = subprocess.run([str(PROGRAM), "--from-dump", str(path)], capture_output=True, encoding="utf-8", errors="replace")
    assert done.returncode == 0, done.stderr
    found: dict[int, list[Told]] = {}
    for block in done.stdout.split("\n\n"):
        head = re.search(r"DMI type (\d+),", block)
        if head:
            pairs = re.findall(r"^\t([^\t:]+): (.*)$", block, re.MULTILINE)
            found.setdefault(int(head[1]), []).append(dict(pairs))
    return found


def size(text: str) -> int | None:
    """A size of dmidecode's in bytes."""
    if text == "No Module Installed":
        return 0
    number, _, unit = text.partition(" ")
    return int(number) * UNITS[unit] if number.isdecimal() and unit in UNITS else None


def rate(text: str) -> int | None:
    """A rate in MT/s."""
    number = re.match(r"(\d+) M", text)
    return int(number[1]) if number else None


def string(text: str) -> str:
    """A string, nothing when there is none."""
    return "" if text in ("Not Specified", "<BAD INDEX>") else text.strip()


def same(dump: Dump, told: dict[int, list[Told]]) -> None:
    """Every field that both know."""
    assert dump.firmware is not None
    assert dump.board is not None
    bios, board = told[0][0], told[2][0]
    assert (dump.firmware.vendor, dump.firmware.version) == (string(bios["Vendor"]), string(bios["Version"]))
    assert (dump.firmware.date, dump.firmware.rom_bytes) == (string(bios["Release Date"]), size(bios["ROM Size"]))
    assert (dump.board.product, dump.board.version) == (string(board["Product Name"]), string(board["Version"]))
    for cpu, cpu_told in zip(dump.processors, told[4], strict=True):
        assert cpu.name == string(cpu_told["Version"])
        assert cpu.populated == cpu_told["Status"].startswith("Populated")
        counts = [cpu_told.get(name) for name in ("Core Count", "Core Enabled", "Thread Count")]
        assert [cpu.cores, cpu.cores_enabled, cpu.threads] == [int(c) if c else None for c in counts]
    for array, array_told in zip(dump.arrays, told[16], strict=True):
        assert (array.most_bytes, str(array.slots)) == (size(array_told["Maximum Capacity"]), array_told["Number Of Devices"])
    for device, device_told in zip(dump.devices, told[17], strict=True):
        assert (device.locator, device.bank) == (string(device_told["Locator"]), string(device_told["Bank Locator"]))
        assert device.size == size(device_told["Size"])
        if device.size:
            assert device.type == device_told["Type"]
            assert device.rated == rate(device_told["Speed"])
            assert device.configured == rate(device_told["Configured Memory Speed"])
            assert device.part == string(device_told["Part Number"])
            assert device.rank == (int(device_told["Rank"]) if device_told.get("Rank", "Unknown") != "Unknown" else None)


@pytest.mark.parametrize("form", ["2.1", "3.0"])
def test_whole_table(tmp_path: Path, form: str) -> None:
    """A usual machine, behind both entry points."""
    table, path = dumps.table(), tmp_path / "dump.bin"
    path.write_bytes((dumps.entry_30(table) if form == "3.0" else dumps.entry_21(table, 10)) + table)
    same(read_dump(path.read_bytes()), reference(path))


def test_two_sockets_and_mixed_modules(tmp_path: Path) -> None:
    """Both processors with their sockets' names, and ranks, types and rates of modules that are not alike."""
    sockets = dumps.cpu(Socket="CPU0") + dumps.cpu(Socket="CPU1", CoreCount=6, EnabledCoreCount=6, ThreadCount=12)
    modules = [
        dumps.module("DIMM_A2", 8192, 3200, 3200, Attributes=1),
        dumps.module("DIMM_B2", 16384, 3600, 3200, Attributes=2, MemoryType=0x22),
    ]
    table, path = dumps.table(processor=sockets, modules=modules), tmp_path / "dump.bin"
    path.write_bytes(dumps.entry_30(table) + table)
    dump, told = read_dump(path.read_bytes()), reference(path)
    same(dump, told)
    machine = machine_of(dump)
    assert [socket.name for socket in machine.sockets] == [each["Socket Designation"] for each in told[4]]
    assert [socket.cores for socket in machine.sockets] == [int(each["Core Count"]) for each in told[4]]
    assert [module.rank for module in machine.modules or ()] == [int(each["Rank"]) for each in told[17]]
    assert [module.type for module in machine.modules or ()] == [each["Type"] for each in told[17]]


LETTERS = st.text("ABCdef 0129-_/.", min_size=1, max_size=20).map(lambda text: f"x{text}y")


@settings(max_examples=60)
@given(
    texts=st.tuples(LETTERS, LETTERS, LETTERS, LETTERS),
    cores=st.integers(0, 600),
    status=st.sampled_from((0x00, 0x41, 0x42, 0x43, 0x44)),
    sizes=st.lists(st.sampled_from((0, 512, 1024, 8192, 16384, 32767, 0xFFFF, 0x8000 | 512)), min_size=1, max_size=4),
    rates=st.tuples(st.sampled_from((0, 2133, 3200, 0xFFFF)), st.sampled_from((0, 1600, 2400, 0xFFFF))),
    kind=st.sampled_from((0x18, 0x1A, 0x1E, 0x22, 0x23)),
    attributes=st.integers(0, 255),
)
@pytest.mark.slow
def test_random_tables(
    tmp_path: Path,
    texts: tuple[str, str, str, str],
    cores: int,
    status: int,
    sizes: list[int],
    rates: tuple[int, int],
    kind: int,
    attributes: int,
) -> None:
    """Sizes, rates, counts and strings of all kinds."""
    short = min(cores, 0xFF)
    cpu = dumps.cpu(
        ProcessorVersion=texts[2],
        Status=status,
        CoreCount=short,
        CoreCount2=cores,
        EnabledCoreCount=min(cores // 2, 0xFF),
        EnabledCoreCount2=cores // 2,
    )
    wide = {
        "ExtendedSize": 65536,
        "ExtendedSpeed": 70000,
        "ExtendedConfiguredMemorySpeed": 66000,
        "MemoryType": kind,
        "Attributes": attributes,
    }
    modules = [
        dumps.module(f"DIMM_A{k}", each, *rates, **wide, PartNumber=texts[3], BankLocator="BANK 0")
        for k, each in enumerate(sizes)
    ]
    table = dumps.table(product=texts[0], version=texts[1], processor=cpu, modules=modules)
    path = tmp_path / "dump.bin"
    path.write_bytes(dumps.entry_30(table) + table)
    same(read_dump(path.read_bytes()), reference(path))
