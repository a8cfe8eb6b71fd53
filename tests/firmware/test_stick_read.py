"""File systems and names on images that the tests build."""

from __future__ import annotations

import io

import pytest

from nopost.firmware.stick.directory import short_check
from nopost.firmware.stick.partition_table import DirectoryEntry, Stick, StickVolume
from nopost.firmware.stick.stick_reader import inspect_stream
from stick_images import SECTOR, exfat, exfat_entry, fat, long, short


def look(image: bytes) -> Stick:
    """What is found on an image."""
    return inspect_stream(io.BytesIO(image), len(image))


def only(image: bytes) -> StickVolume:
    """The one volume of an image without partitions."""
    stick = look(image)
    assert stick.table.kind == "none"
    (volume,) = stick.volumes
    return volume


def names(volume: StickVolume) -> list[str]:
    """Paths of everything listed."""
    return [entry.path for entry in volume.entries]


# Rule and limits: edk2 FatPkg; FAT specification 1.03 through restatements.
@pytest.mark.parametrize(
    ("clusters", "kind"), [(1, "FAT12"), (4084, "FAT12"), (4085, "FAT16"), (65524, "FAT16"), (65525, "FAT32"), (70000, "FAT32")]
)
@pytest.mark.parametrize("says", [b"FAT12   ", b"FAT16   ", b"FAT32   ", b"anything"])
def test_clusters_decide_and_not_the_label(clusters: int, kind: str, says: bytes) -> None:
    """The kind at both sides of each limit, whatever text the boot sector carries."""
    system = only(fat(clusters, says=says)).file_system
    assert (system.kind, system.clusters, system.problems) == (kind, clusters, ())


@pytest.mark.parametrize(("clusters", "wide"), [(4000, True), (5000, True), (65525, False)])
def test_layout_against_the_rule(clusters: int, wide: bool) -> None:
    """edk2 FatPkg refuses a volume whose layout and count contradict each other."""
    system = only(fat(clusters, wide=wide)).file_system
    assert len(system.problems) == 1
    assert "firmware refuses that" in system.problems[0]


@pytest.mark.parametrize("clusters", [300, 5000, 66000])
def test_names_and_chains(clusters: int) -> None:
    """Long and short names, case bits (from memory), deleted entries, folders, and chains against sizes."""
    folder = (
        short("STICK      ", attributes=8)
        + short("BOARD   ROM", size=1000, cluster=10)
        + b"\xe5"
        + short("GONE    ROM", size=1000, cluster=10)[1:]
        + short("SMALL   ROM", size=512, cluster=20, case=0x18)
        + long("A long name (1).rom.txt", "ALONGN~1TXT", size=1025, cluster=30)
        + short("LOOP    BIN", size=4096, cluster=40)
        + short("SUB        ", attributes=0x10, cluster=50)
    )
    end = 0x0FFFFFFF
    volume = only(fat(clusters, folder, {10: 11, 11: end, 20: end, 30: 31, 31: end, 40: 41, 41: 40, 50: end}))
    assert volume.label == "STICK"
    assert volume.entries == (
        DirectoryEntry("BOARD.ROM", 1000, short="BOARD.ROM", whole=True),
        DirectoryEntry("small.rom", 512, short="SMALL.ROM", whole=True),
        DirectoryEntry("A long name (1).rom.txt", 1025, short="ALONGN~1.TXT", whole=False),
        DirectoryEntry("LOOP.BIN", 4096, short="LOOP.BIN", whole=False),
        DirectoryEntry("SUB", is_folder=True, short="SUB"),
    )


def test_folder_one_level_down() -> None:
    """A folder's cluster is read, its dots left out; a folder that leads to itself ends."""
    image = bytearray(fat(300, short("SUB        ", attributes=0x10, cluster=5), {5: 5}))
    heap = len(image) - 300 * SECTOR
    inner = short(".          ", attributes=0x10, cluster=5) + short("IN      ROM", size=0)
    image[heap + 3 * SECTOR : heap + 3 * SECTOR + len(inner)] = inner
    assert names(only(bytes(image))) == ["SUB", "SUB/IN.ROM"]


def test_long_name_of_another_entry_is_not_taken() -> None:
    """The check value of each part must fit the 8.3 name after it."""
    parts = long("Some other name.rom", "SOMEOT~1ROM")[:-32]
    assert names(only(fat(300, parts + short("MINE    ROM")))) == ["MINE.ROM"]


def test_short_check_worked_by_hand() -> None:
    """The published algorithm on one letter and ten blanks, worked by hand: rotate right by one, add."""
    total = 0
    for value in b"A" + b" " * 10:
        total = ((total >> 1) | (total << 7)) & 0xFF
        total = (total + value) % 256
    assert short_check(b"A" + b" " * 10) == total


@pytest.mark.parametrize(("clusters", "bit"), [(5000, 15), (66000, 27)])
def test_not_ejected(clusters: int, bit: int) -> None:
    """FAT specification 1.03: this bit of the second link is cleared while the volume is in use."""
    assert only(fat(clusters)).file_system.dirty is False
    assert only(fat(clusters, links={1: 0x0FFFFFFF & ~(1 << bit)})).file_system.dirty is True


def test_exfat() -> None:
    """Names, sizes, the valid length, the label; a damaged set is told and left out."""
    bad = bytearray(exfat_entry("bad.rom", 512, 8))
    bad[70] ^= 1
    label = b"\x83\x05" + "Stick".encode("utf-16-le").ljust(30, b"\0")
    good = exfat_entry("A name longer than fifteen.ROM", 1024, 5) + exfat_entry("cut.rom", 1024, 7, valid=100)
    volume = only(exfat(label + good + bytes(bad)))
    assert (volume.file_system.kind, volume.file_system.problems, volume.label) == ("exFAT", (), "Stick")
    assert volume.entries == (
        DirectoryEntry("A name longer than fifteen.ROM", 1024, whole=True),
        DirectoryEntry("cut.rom", 1024, whole=False),
    )
    assert volume.problems == ("1 entries at the top are damaged",)


@pytest.mark.parametrize("at", [11, 70, 511, 3 * SECTOR])
def test_exfat_boot_sectors_are_checked(at: int) -> None:
    """Section 3.4: one changed byte of the eleven sectors is seen."""
    image = bytearray(exfat(b""))
    image[at] ^= 0x10
    assert only(bytes(image)).file_system.problems


@pytest.mark.parametrize(
    ("offset", "mark", "kind"),
    [(3, b"NTFS    ", "NTFS"), (1080, b"\x53\xef", "ext"), (32769, b"CD001", "ISO 9660"), (0, b"", "unknown")],
)
def test_others_by_signature(offset: int, mark: bytes, kind: str) -> None:
    """Signatures, from memory; their contents are not read."""
    volume = only((bytes(offset) + mark).ljust(40000, b"\0"))
    assert (volume.file_system.kind, volume.listed) == (kind, False)


def test_a_medium_that_cannot_be_read() -> None:
    """A read error is told and no crash."""

    class Broken(io.BytesIO):
        def read(self, size: int | None = -1, /) -> bytes:
            raise OSError(5, "input/output error")

    stick = inspect_stream(Broken(), 1 << 20)
    assert (stick.unreadable, stick.table.kind) == (True, "none")
