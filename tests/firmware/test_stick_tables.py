"""Partition tables on images that the tests build: MBR, logical partitions, GPT, and tables that cannot be."""

from __future__ import annotations

import io
from pathlib import Path

from nopost.firmware.check_result import Level
from nopost.firmware.stick.partition_table import ButtonRequirements, Stick
from nopost.firmware.stick.stick_check import check_stick
from nopost.firmware.stick.stick_reader import inspect_stream, is_partition
from stick_images import BASIC_DATA, EFI_SYSTEM, SECTOR, fat, gpt, mbr, short

PART = 64


def look(image: bytes) -> Stick:
    """What is found on an image."""
    return inspect_stream(io.BytesIO(image), len(image))


def test_mbr_with_logical_partitions() -> None:
    """Primary and logical ones in order, a chain that loops ends (fields: edk2 Mbr.h)."""
    volume = fat(100)
    count = len(volume) // SECTOR
    image = bytearray(1200 * SECTOR)

    def put(sector: int, data: bytes) -> None:
        image[sector * SECTOR : sector * SECTOR + len(data)] = data

    put(0, mbr((0x01, PART, count), (0x0F, 400, 800)))
    put(PART, volume)
    put(400, mbr((0x01, 1, count), (0x05, 300, 400)))
    put(401, volume)
    put(700, mbr((0x11, 1, count), (0x05, 0, 400)))
    put(701, volume)
    stick = look(bytes(image))
    assert [(p.number, p.kind, p.start // SECTOR, p.logical, p.hidden) for p in stick.table.partitions] == [
        (1, "01", PART, False, False),
        (5, "01", 401, True, False),
        (6, "11", 701, True, True),
    ]
    assert [v.file_system.kind for v in stick.volumes] == ["FAT12"] * 3


def test_gpt() -> None:
    """Entries, their bounds, and the check value of the header."""
    stick = look(gpt(400, (EFI_SYSTEM, 40, 139), (BASIC_DATA, 140, 300)))
    assert (stick.table.kind, stick.table.problems) == ("GPT", ())
    assert [(p.kind, p.start, p.size, p.title) for p in stick.table.partitions] == [
        (EFI_SYSTEM, 40 * SECTOR, 100 * SECTOR, "data"),
        (BASIC_DATA, 140 * SECTOR, 161 * SECTOR, "data"),
    ]
    assert look(gpt(400, (EFI_SYSTEM, 40, 139), damaged=True)).table.problems == ("the check value of the GPT header is wrong",)
    assert look(gpt(400)[:SECTOR]).table.problems == ("the MBR announces a GPT, but there is none that can be read",)


def test_gpt_backup() -> None:
    """A backup that is damaged, missing, of another table or not at the end (UEFI specification 2.10, section 5.3.2)."""
    whole = gpt(400, (EFI_SYSTEM, 40, 139))
    assert look(whole).table.doubts == ()
    other = gpt(400, (EFI_SYSTEM, 40, 140))
    for changed, told in (
        (whole[:-SECTOR] + bytes(SECTOR), "is missing"),
        (whole[: 300 * SECTOR], "behind the end of the medium"),
        (whole[: -SECTOR + 72] + b"\1" + whole[-SECTOR + 73 :], "check value of the backup"),
        (whole[: -33 * SECTOR] + other[-33 * SECTOR :], "lists other partitions"),
        (whole[: -33 * SECTOR] + b"\1" + whole[-33 * SECTOR + 1 :], "lists other partitions"),
        (whole[:-SECTOR] + whole[SECTOR : 2 * SECTOR], "belongs to another table"),
        (whole + bytes(100 * SECTOR), "not lie at the end"),
    ):
        table = look(changed).table
        assert (table.kind, table.problems, len(table.partitions)) == ("GPT", (), 1)
        assert len(table.doubts) == 1
        assert told in table.doubts[0]
        (remark,) = [each for each in check_stick(look(changed), ButtonRequirements()).results if each.code == "gpt-backup"]
        assert remark.level is Level.CHECK


def test_gpt_from_its_backup() -> None:
    """With the start gone the partitions are those of the backup, and it has to be mended."""
    whole = gpt(400, (EFI_SYSTEM, 40, 139))
    gone = whole[:SECTOR] + bytes(33 * SECTOR) + whole[34 * SECTOR :]
    table = look(gone).table
    assert [p.start for p in table.partitions] == [40 * SECTOR]
    assert table.problems == ("the GPT at the start is gone, only its backup at the end is left",)
    entries = whole[: 2 * SECTOR] + b"\1" + whole[2 * SECTOR + 1 :]
    assert look(entries).table.problems == ("the check value of the GPT entries is wrong",)


def test_partitions_that_cannot_be() -> None:
    """Beyond the end, and over each other."""
    image = (mbr((0x0C, 10, 100), (0x0C, 50, 5000))).ljust(200 * SECTOR, b"\0")
    assert look(image).table.problems == ("partition 2 goes beyond the end of the medium", "partitions 1 and 2 overlap")


def test_partitioned_over_an_older_whole_stick() -> None:
    """A partitioning program leaves the first 446 bytes alone: the old boot sector is still there, but the table counts."""
    volume = fat(100)
    image = mbr((0x01, PART, 150), first=fat(500)).ljust(PART * SECTOR, b"\0") + volume.ljust(200 * SECTOR, b"\0")
    stick = look(image)
    assert stick.table.kind == "MBR"
    assert "older file system" in stick.table.problems[0]
    assert stick.volumes[0].file_system.clusters == 100


def test_the_device_of_one_partition(tmp_path: Path) -> None:
    """The table of the stick cannot be seen from one of its partitions, so nothing is said of it."""
    image = fat(300, short("BOARD   ROM"))
    stick = inspect_stream(io.BytesIO(image), len(image), "stick1", "device", part=True)
    assert (stick.table.kind, [entry.name for entry in stick.volumes[0].entries]) == ("unknown", ["BOARD.ROM"])
    (tmp_path / "stick1").mkdir()
    (tmp_path / "stick1" / "partition").write_text("1")
    assert is_partition(Path("/dev/stick1"), tmp_path)
    assert not is_partition(Path("/dev/stick"), tmp_path)
