"""What is said about a stick: names letter for letter, place, size, leftovers, file system.

The slips of names: common practice, no source.
"""

from __future__ import annotations

import dataclasses

import pytest

from nopost.firmware.check_result import Level
from nopost.firmware.records import find_board
from nopost.firmware.stick.file_check import Slip, slip
from nopost.firmware.stick.partition_table import (
    ButtonRequirements,
    DirectoryEntry,
    FileSystem,
    Partition,
    PartitionTable,
    Stick,
    StickVolume,
)
from nopost.firmware.stick.stick_check import button_requirements, check_stick
from nopost.knowledge.model import Knowledge

MIB = 1 << 20
PART = Partition(1, "0C", MIB, 4 << 30)
WANTED = ButtonRequirements("BOARD.ROM")


def stick(*entries: DirectoryEntry, kind: str = "FAT32", table: str = "MBR", parts: tuple[Partition, ...] = (PART,)) -> Stick:
    """A stick with these entries in its first volume."""
    volume = StickVolume(FileSystem(kind, clusters=100_000), entries, partition=parts[0] if parts else None)
    return Stick("stick", "device", 8 << 30, PartitionTable(table, parts), (volume,))


def file(name: str, size: int = 16 * MIB, folder: str = "", **more: bool | str) -> DirectoryEntry:
    """A file as large as firmware."""
    return dataclasses.replace(DirectoryEntry(name, size, folder, whole=True), **more)  # type: ignore[arg-type]


def said(found: Stick, wanted: ButtonRequirements = WANTED) -> dict[str, str]:
    """Code -> level of everything that is not good and not a mere note."""
    return {r.code: r.level.value for r in check_stick(found, wanted).results if r.level in (Level.FIX, Level.CHECK)}


def test_ready() -> None:
    """Nothing to fix, nothing to check."""
    found = check_stick(stick(file("BOARD.ROM")), WANTED)
    assert (found.verdict, said(stick(file("BOARD.ROM")))) == (Level.GOOD, {})
    assert {r.code for r in found.results} == {"name", "system"}


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("BOARD.ROM", Slip.SAME),
        ("board.rom", Slip.CASE),
        ("BOARD .ROM", Slip.BLANKS),
        ("BOARD.ROM\u200b", Slip.BLANKS),
        ("\uff22OARD.ROM", Slip.BLANKS),
        ("BOARD.ROM.txt", Slip.TWICE),
        ("BOARD.ROM.ROM", Slip.TWICE),
        ("BOARD (1).ROM", Slip.COPY),
        ("BOARD(12).ROM", Slip.COPY),
        ("BOARD - Copy.ROM", Slip.COPY),
        ("BOARD - Copy (2).ROM", Slip.COPY),
        ("Copy of BOARD.ROM", Slip.COPY),
        ("BOARD (1).ROM.txt", Slip.COPY),
        ("BOARD.CAP", Slip.ENDING),
        ("BOARD", Slip.ENDING),
        ("B0ARD.ROM", Slip.NEAR),
        ("BOARDS.ROM", Slip.NEAR),
        ("holiday.jpg", Slip.OTHER),
        ("PHOTOCOPY.ROM", Slip.OTHER),
    ],
)
def test_slips_of_a_name(name: str, kind: Slip) -> None:
    """Each slip is told by its kind, and what is said gives the right name."""
    assert slip(name, "BOARD.ROM") is kind
    if kind not in (Slip.SAME, Slip.OTHER):
        (remark,) = [r for r in check_stick(stick(file(name)), WANTED).results if r.code.startswith("name-")]
        assert "rename it to “BOARD.ROM”" in remark.text
        assert remark.level is (Level.CHECK if kind is Slip.CASE else Level.FIX)


@pytest.mark.parametrize(
    ("entries", "code", "level"),
    [
        ([], "missing", "fix"),
        ([file("holiday.jpg")], "missing", "fix"),
        ([file("board.zip")], "packed", "fix"),
        ([file("BOARD.ROM", folder="new")], "wrong-place", "fix"),
        ([file("BOARD.ROM", 0)], "empty", "fix"),
        ([file("BOARD.ROM", 4096)], "too-small", "fix"),
        ([file("BOARD.ROM", 300 * MIB)], "too-large", "check"),
        ([file("BOARD.ROM", whole=False)], "not-whole", "fix"),
        ([file("BOARD.ROM", hidden=True)], "hidden-file", "check"),
        ([file("BOARD.ROM", short="BOARD~1.ROM")], "short-name", "check"),
        ([DirectoryEntry("BOARD.ROM", is_folder=True)], "is-a-folder", "fix"),
        ([file("BOARD.ROM"), file("BOARD (1).ROM")], "leftovers", "check"),
        ([file("BOARD.ROM"), file("OTHER.CAP")], "leftovers", "check"),
        ([file("BOARD.ROM"), file("BOARD.ROM", folder="old")], "leftovers", "check"),
    ],
)
def test_file(entries: list[DirectoryEntry], code: str, level: str) -> None:
    """Each fault of the file alone is the one thing said."""
    assert said(stick(*entries)) == {code: level}


def test_two_that_are_nearly_right() -> None:
    """The nearer one is to be renamed, and both are told as leftovers."""
    assert said(stick(file("BOARD (1).ROM"), file("board.rom"))) == {"name-case": "check", "leftovers": "check"}


@pytest.mark.parametrize(
    ("kind", "reads", "expected"),
    [
        ("FAT32", (), {}),
        ("FAT16", (), {"system": "check"}),
        ("FAT12", (), {"system": "check"}),
        ("exFAT", (), {"system": "fix"}),
        ("NTFS", (), {"system": "fix"}),
        ("ext", (), {"system": "fix"}),
        ("unknown", (), {"no-system": "fix"}),
        ("exFAT", ("FAT32", "exFAT"), {}),
        ("FAT32", ("FAT16",), {"system": "fix"}),
        ("FAT16", ("FAT16",), {}),
    ],
)
def test_file_system_against_the_button(kind: str, reads: tuple[str, ...], expected: dict[str, str]) -> None:
    """The record decides; without one, common practice does."""
    part = dataclasses.replace(PART, kind={"FAT16": "06", "FAT12": "01", "exFAT": "07", "NTFS": "07"}.get(kind, "0C"))
    part = dataclasses.replace(part, kind="83") if kind == "ext" else part
    assert said(stick(file("BOARD.ROM"), kind=kind, parts=(part,)), ButtonRequirements("BOARD.ROM", reads)) == expected


def test_size_against_the_record() -> None:
    """A size of the releases is right, another is not; without sizes the chip's is the limit, a capsule's head apart."""
    one = stick(file("BOARD.ROM"))
    assert said(one, ButtonRequirements("BOARD.ROM", sizes=(8 * MIB, 16 * MIB))) == {}
    assert said(one, ButtonRequirements("BOARD.ROM", sizes=(32 * MIB,))) == {"size": "fix"}
    assert said(one, ButtonRequirements("BOARD.ROM", chip_size=16 * MIB)) == {}
    assert said(one, ButtonRequirements("BOARD.ROM", chip_size=8 * MIB)) == {"larger-than-chip": "check"}


def test_partitions() -> None:
    """A second one, a hidden one, a type that promises something else, GPT, none, an empty table; the file on the second."""
    second = Partition(2, "0C", 5 << 30, 1 << 30)
    right = file("BOARD.ROM")
    assert said(stick(right, parts=(PART, second))) == {"several-partitions": "check"}
    assert said(stick(right, parts=(PART, dataclasses.replace(second, kind="1C", hidden=True)))) == {
        "several-partitions": "check",
        "hidden-partition": "check",
    }
    assert said(stick(right, parts=(dataclasses.replace(PART, kind="07"),))) == {"type-differs": "check"}
    assert said(stick(right, table="GPT", parts=(dataclasses.replace(PART, kind="a GUID"),))) == {"gpt": "check"}
    assert said(stick(right, table="none", parts=())) == {"no-table": "check"}
    two = stick(parts=(PART, second))
    other = StickVolume(FileSystem("FAT32"), (right,), partition=second)
    found = dataclasses.replace(two, volumes=(*two.volumes, other))
    assert said(found) == {"several-partitions": "check", "wrong-place": "fix"}
    empty = Stick("stick", "device", 8 << 30, PartitionTable("MBR"))
    assert said(empty) == {"no-partition": "fix"}


def test_medium() -> None:
    """Large, unreadable, not ejected, damaged."""
    right = stick(file("BOARD.ROM"))
    assert said(dataclasses.replace(right, size=64 * 10**9)) == {"large": "check"}
    assert said(dataclasses.replace(right, size=32 * 10**9)) == {}
    assert said(dataclasses.replace(right, unreadable=True)) == {"unreadable": "fix"}
    system = dataclasses.replace(right.volumes[0].file_system, dirty=True, problems=("it is wrong",))
    volume = dataclasses.replace(right.volumes[0], file_system=system)
    assert said(dataclasses.replace(right, volumes=(volume,))) == {"not-ejected": "check", "system-damaged": "fix"}


def test_without_a_name() -> None:
    """The name is asked for, and what may be meant is listed."""
    found = check_stick(stick(file("A.CAP"), file("b.rom"), file("c.txt")), ButtonRequirements())
    (remark,) = found.of(Level.CHECK)
    assert (remark.code, "“A.CAP”, “b.rom”." in remark.text) == ("name-unknown", True)


def test_wanted_from_the_record(knowledge: Knowledge) -> None:
    """The record's name is used, a typed one goes before it, and no button is told."""
    board = find_board("tb-breakwater-x1", knowledge)
    assert (button_requirements(board).file, button_requirements(board, "OTHER.ROM").file) == ("TBBX1.ROM", "OTHER.ROM")
    none = button_requirements(find_board("tb-harbour-m2", knowledge))
    assert "no-button" in {r.code for r in check_stick(stick(), none).results}
    release = dataclasses.replace(board.releases[0], file="X1-14.bin", size=16 * MIB)
    named = button_requirements(dataclasses.replace(board, releases=(release,)))
    assert said(stick(file("X1-14.bin")), named) == {"not-renamed": "fix"}


def test_every_line_is_one_line(knowledge: Knowledge) -> None:
    """No remark breaks over lines, and each ends as a sentence."""
    for entries in ([], [file("BOARD.ROM.txt", 5, hidden=True, whole=False)], [file("a.zip"), file("EFI")]):
        for remark in check_stick(
            stick(*entries, kind="exFAT"), ButtonRequirements("BOARD.ROM", socket="beside the lan socket")
        ).results:
            assert "\n" not in remark.text
            assert remark.text.endswith(".")


def test_ntfs() -> None:
    """NTFS is named, and that the button cannot read it; a record that lists it is believed."""
    found = stick(kind="NTFS")
    found = dataclasses.replace(found, volumes=(dataclasses.replace(found.volumes[0], listed=False),))
    texts = {r.code: r for r in check_stick(found, ButtonRequirements("BOARD.ROM", ("FAT16", "FAT32"))).results}
    assert texts["system"].level is Level.FIX
    assert "is NTFS: the button cannot read it, it reads FAT16, FAT32. Format it as FAT32." in texts["system"].text
    assert "NTFS" in texts["not-listed"].text
    assert {r.code: r.level for r in check_stick(found, ButtonRequirements("BOARD.ROM", ("NTFS",))).results}[
        "system"
    ] is Level.GOOD
