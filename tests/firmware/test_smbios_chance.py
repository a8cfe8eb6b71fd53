"""Bytes that are no SMBIOS table: refused, however many there are; a table that is damaged is still read as far as it goes."""

from __future__ import annotations

import random

import pytest

from firmware import dumps
from nopost.errors import DumpError
from nopost.firmware.verify.smbios_dump import LEAST, read_dump
from nopost.firmware.verify.smbios_structures import walk_structures

LENGTHS = {
    0: ("BIOSCharacteristicsExtensionBytes", 0x12),
    1: ("Uuid", 0x08),
    2: ("AssetTag", 0x08),
    4: ("L1CacheHandle", 0x1A),
    16: ("ExtendedMaximumCapacity", 0x0F),
    17: ("Speed", 0x15),
}
"""Type -> first field after those of the version of DSP0134 that brought it (2.0; 16 and 17: 2.1), and its offset (DSP0134 from
memory, offsets from facts/smbios_offsets.csv)."""


def looks(data: bytes) -> bool:
    """Whether a walk alone finds a structure that is compared: all that chance has to bring about."""
    return any(s.type in LEAST for s in walk_structures(data).structures)


@pytest.mark.slow
def test_chance_bytes_are_no_table() -> None:
    """Of 200 files of random bytes some hold what looks like a structure; none is a table."""
    rng = random.Random(2031)
    alike = 0
    for _ in range(200):
        data = rng.randbytes(300_000)
        alike += looks(data)
        with pytest.raises(DumpError, match="no SMBIOS table"):
            read_dump(data)
    assert alike > 5


@pytest.mark.parametrize("kind", sorted(LEAST))
def test_shortest_structures(kind: int) -> None:
    """As short as in the first version is a table, one byte less is none; the lengths are those where the later fields begin."""
    name, offset = LENGTHS[kind]
    assert LEAST[kind] == offset
    assert dumps.fields(str(kind))[name][0] == offset
    whole = bytes((kind, offset, 0, 1)).ljust(offset, b"\0") + b"\0\0"
    assert read_dump(whole).notes == ()
    with pytest.raises(DumpError):
        read_dump(bytes((kind, offset - 1, 0, 1)).ljust(offset - 1, b"\0") + b"\0\0")


def test_damaged_tables_are_still_read() -> None:
    """Cut anywhere behind its first structures, or with a control in one string of several structures."""
    table = dumps.table()
    for cut in range(len(table) // 2, len(table), 7):
        assert read_dump(table[:cut]).board is not None
    odd = dumps.table(product="TB\x1bHarbour")
    assert read_dump(odd).board is not None


def test_entry_point_vouches() -> None:
    """Behind an entry point whose sum is right a table is one whatever its strings hold; with a wrong one it must look so."""
    table = dumps.structure(0, {"BiosVersion": "a\x1b[31m", "Vendor": "x"}) + dumps.END
    whole = dumps.entry_30(table) + table
    assert read_dump(whole).firmware is not None
    with pytest.raises(DumpError):
        read_dump(table)
    with pytest.raises(DumpError):
        read_dump(whole[:7] + b"\x07" + whole[8:])
