"""Any bytes and any damage: there is always an answer, within bounds of time and reading."""

from __future__ import annotations

import io

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from nopost.firmware.check_result import Level
from nopost.firmware.stick.file_check import Slip, fits_83, slip
from nopost.firmware.stick.partition_table import ButtonRequirements
from nopost.firmware.stick.stick_check import check_stick
from nopost.firmware.stick.stick_reader import inspect_stream
from stick_images import BASIC_DATA, SECTOR, exfat, exfat_entry, fat, gpt, long, mbr, short

WANTED = ButtonRequirements("BOARD.ROM", ("FAT32",), "the marked one", (1 << 20,), 1 << 20, True, ("B-12.bin",))
FOLDER = short("BOARD   ROM", size=1000, cluster=10) + long("Board (1).rom.txt", "BOARD~1 TXT", size=5, cluster=9)
FOLDER += short("SUB        ", attributes=0x10, cluster=5)
LINKS = {5: 6, 6: 5, 9: 0xFFFFFFF, 10: 11, 11: 0xFFFFFFF}
FAT12 = fat(60, FOLDER, LINKS)
WIDE = fat(60, FOLDER, LINKS, wide=True)
EXFAT = exfat(exfat_entry("BOARD.ROM", 1024, 5) + exfat_entry("sub", 512, 9, attributes=0x10), 60)
LOGICAL = mbr((0x01, 64, 100), (0x0F, 2, 50)) + bytes(SECTOR) + mbr((0x01, 1, 9), (0x05, 0, 9))
IMAGES = (
    FAT12,
    WIDE,
    EXFAT,
    LOGICAL.ljust(64 * SECTOR, b"\0") + FAT12,
    gpt(300, (BASIC_DATA, 40, 200))[: 40 * SECTOR] + EXFAT,
)


class Counted(io.BytesIO):
    """Counts what is read."""

    reads = 0
    total = 0

    def read(self, size: int | None = -1, /) -> bytes:
        data = super().read(size)
        self.reads += 1
        self.total += len(data)
        return data


def answer(image: bytes, size: int | None = None) -> None:
    """Look and judge; every line is one line, and the reading is bounded."""
    stream = Counted(image)
    stick = inspect_stream(stream, len(image) if size is None else size)
    assert stream.reads < 1_000_000
    assert stream.total < 64 << 20
    for wanted in (WANTED, ButtonRequirements()):
        for remark in check_stick(stick, wanted).results:
            assert remark.text
            assert remark.code
    assert stream.getvalue() == image


@given(st.binary(max_size=4096))
def test_any_bytes(data: bytes) -> None:
    """Bytes that are no stick."""
    answer(data)


@pytest.mark.slow
@given(st.sampled_from(IMAGES), st.lists(st.tuples(st.integers(0, 1 << 20), st.integers(0, 255)), max_size=12), st.data())
def test_damaged_images(image: bytes, changes: list[tuple[int, int]], data: st.DataObject) -> None:
    """Bytes changed anywhere, most of them where the numbers stand, and the end cut off."""
    damaged = bytearray(image)
    for place, value in changes:
        head = place % (3 * SECTOR) if place & 1 else place
        damaged[head % len(damaged)] = value
    answer(bytes(damaged[: data.draw(st.integers(0, len(damaged)) | st.just(len(damaged)))]))


@pytest.mark.slow
@given(st.binary(min_size=30, max_size=100), st.sampled_from((FAT12, WIDE, EXFAT)))
def test_any_numbers_in_the_boot_sector(fields: bytes, image: bytes) -> None:
    """The numbers of a boot sector replaced, on a medium that claims to be huge."""
    at = 64 if image is EXFAT else 11
    answer(image[:at] + fields + image[at + len(fields) :], 1 << 44)


@pytest.mark.slow
@given(st.binary(max_size=640), st.sampled_from((12, 32)))
def test_any_bytes_as_folder(folder: bytes, width: int) -> None:
    """A folder of any bytes, in FAT and in exFAT."""
    answer(fat(60, folder[: 512 if width == 32 else 640], LINKS, wide=width == 32))
    answer(exfat(folder, 60))


def test_longest_loops_end() -> None:
    """Hundreds of folders that all lead in a ring over the whole table stay within the budget."""
    ring = {cluster: cluster + 1 for cluster in range(2, 4000)} | {4000: 2}
    folder = b"".join(short(f"D{n:07d}   ", attributes=0x10, cluster=2 + n) for n in range(500))
    answer(fat(4080, folder, ring))


@pytest.mark.slow
@given(st.text(max_size=30), st.text(max_size=30))
@example("TBBX1.ROM", "tbbx1.rom")
def test_names_compare_for_any_text(name: str, wanted: str) -> None:
    """Comparing always says something, and says "same" for the same and only for it."""
    assert (slip(name, wanted) is Slip.SAME) == (name == wanted)
    fits_83(name)


@pytest.mark.slow
@given(st.text(alphabet="ABCxyz09.() _", min_size=1, max_size=14))
def test_an_exact_file_is_never_missed(name: str) -> None:
    """A file of the wanted name at the top of exFAT is found under that name, whatever it is."""
    image = exfat(exfat_entry(name, 1024, 5))
    found = check_stick(inspect_stream(io.BytesIO(image), len(image)), ButtonRequirements(name)).of(Level.GOOD)
    assert [remark.code for remark in found] == ["name"]
