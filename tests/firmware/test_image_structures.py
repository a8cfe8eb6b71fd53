"""Volumes, descriptors and padding in images that the tests build, whole and broken."""

from __future__ import annotations

import csv
import struct
import tracemalloc
from pathlib import Path

import pytest

from firmware import images
from nopost.errors import ImageError
from nopost.firmware.image.firmware_volumes import MOST_VOLUMES
from nopost.firmware.image.image_parts import Fill
from nopost.firmware.image.image_reader import REGIONS, load, read_image

FILES = (images.file(b"abc"), images.file(bytes(100), kind=0xF0), images.file(b"\x90" * 333, kind=0x07))


def test_volume() -> None:
    """Header, file system and files; free space is not padding outside of it."""
    image = read_image(images.volume(FILES))
    (volume,) = image.volumes
    assert (volume.offset, volume.size, volume.file_system, volume.revision) == (0, 0x4000, "FFS2", 2)
    assert (volume.files, volume.padding_files, volume.bad_files, volume.faults) == (2, 1, 0, ())
    assert (image.unparsed, image.padding, image.known, image.other_form) == ((), 0, True, "")


def test_bytes_on_disk() -> None:
    """The GUIDs as edk2's headers have them, byte by byte (FirmwareFileSystem2.h, FirmwareFileSystem3.h, FmpCapsule.h)."""
    assert images.packed(images.FFS2).hex() == "78e58c8c3d8a1c4f9935896185c32dd3"
    assert images.packed(images.FFS3).hex() == "7ac07354cb3dca4dbd6f1e9689e7349a"
    assert images.packed(images.MANAGEMENT).hex() == "edd5cb6d2de8444cbda17194199ad92a"


def test_volume_by_hand() -> None:
    """A header written out by the table of PI specification 1.8, volume 3, 3.2.1.1, its check sum worked out by hand."""
    head = bytes(16) + bytes.fromhex("78e58c8c3d8a1c4f9935896185c32dd3" + "0010000000000000" + "5f465648" + "00080000")
    rest = bytes.fromhex("4800" + "0000" + "0000" + "00" + "02" + "0100000000100000" + "0000000000000000")
    words = struct.unpack("<36H", head + rest)
    right = 0x10000 - sum(words) % 0x10000
    data = (head + rest[:2] + right.to_bytes(2, "little") + rest[4:]).ljust(0x1000, b"\xff")
    assert read_image(data).volumes[0].faults == ()
    wrong = data[:50] + bytes((data[50] ^ 1,)) + data[51:]
    assert read_image(wrong).volumes[0].faults == ("the check sum of its header is wrong",)


def test_large_files_and_extended_header() -> None:
    """FFS3 with a 64-bit size; files begin behind the extended header."""
    image = read_image(images.volume((images.file(bytes(5000), large=True), FILES[0]), guid=images.FFS3, extended=True))
    assert (image.volumes[0].file_system, image.volumes[0].files, image.volumes[0].faults) == ("FFS3", 2, ())


def test_other_file_systems() -> None:
    """The variable store by its name, an unknown one by its GUID; their files are not counted."""
    image = read_image(images.volume(guid=images.VARIABLES) + images.volume(guid=images.INVENTED))
    assert [(v.file_system, v.offset, v.files) for v in image.volumes] == [("variables", 0, 0), ("another", 0x4000, 0)]


def test_volume_broken() -> None:
    """Cut short, a length that the block map does not cover, a file that leads nowhere; a stray signature is none."""
    whole = images.volume(FILES)
    (cut,) = read_image(whole[:0x3000]).volumes
    assert cut.faults == ("it is cut short: 12288 of 16384 bytes",)
    longer = whole[:56] + struct.pack("<I", 5) + whole[60:]
    assert "its block map covers 20480 bytes, its length is 16384" in read_image(longer).volumes[0].faults
    file = whole[: 72 + 20] + b"\xff\xff\xff" + whole[72 + 23 :]
    assert read_image(file).volumes[0].faults == ("the header of 1 file does not add up",)
    assert read_image(bytes(100) + b"_FVH" + bytes(100)).volumes == ()
    assert read_image(b"_FVH").volumes == ()


def test_volume_in_volume() -> None:
    """One that lies inside another is not counted again; one behind a damaged header is found."""
    inner = images.volume((FILES[0],), blocks=1)
    outer = images.volume((images.file(inner),))
    assert len(read_image(outer).volumes) == 1
    damaged = outer[:50] + b"\0\0" + outer[52:]
    assert len(read_image(damaged + inner).volumes) == 3


def test_many_volumes() -> None:
    """Only so many are listed, and it says that more are there."""
    image = read_image(images.volume(blocks=1) * (MOST_VOLUMES + 1))
    assert (len(image.volumes), image.left_out) == (MOST_VOLUMES, True)
    assert not read_image(images.volume(blocks=1) * MOST_VOLUMES).left_out


def test_flash() -> None:
    """Descriptor, regions with their bounds, size by the component code (ifdtool), padding between."""
    image = read_image(images.flash([images.volume(FILES)], code=1))
    found = image.descriptor
    assert found is not None
    assert (found.offset, found.chips, found.chip_size) == (0, 1, 0x100000)
    assert [(r.index, r.name, r.offset, r.end, r.inside) for r in found.regions] == [
        (0, "flash descriptor", 0, 0x1000, True),
        (1, "firmware", 0x80000, 0x100000, True),
        (2, "management engine", 0x1000, 0x80000, True),
    ]
    assert [part.fill for part in image.unparsed] == [Fill.ONES, Fill.ONES]
    assert image.padding == 0x100000 - 0x1000 - 0x4000


@pytest.mark.parametrize("code", range(8))
def test_chip_codes(code: int) -> None:
    """512 KiB doubled, up to 64 MiB (ifdtool)."""
    found = read_image(images.descriptor({}, code=code)).descriptor
    assert found is not None
    assert found.chip_size == 512 * 1024 * 2**code


def test_oldest_descriptor_and_regions_outside() -> None:
    """Signature at the very start; a region that ends behind the file; unused ones by each of their marks (ifdtool)."""
    data = images.descriptor({0: (0, 0), 1: (2, 9), 2: (5, 4), 3: (0, 0)}, oldest=True)
    found = read_image(data).descriptor
    assert found is not None
    assert [(region.index, region.inside) for region in found.regions] == [(0, True), (1, False)]


def test_padding() -> None:
    """Nothing but ones or zeros is blank; short runs beside data belong to it."""
    for fill in (b"\xff", b"\0"):
        image = read_image(fill * 200_000)
        assert (image.padding, image.known, len(image.unparsed)) == (200_000, False, 1)
    image = read_image(b"\xff" * 70_000 + b"data" + b"\0" * 100 + b"x" + b"\0" * 70_000)
    assert [(s.offset, s.size) for s in image.unparsed] == [(0, 70_000), (70_000, 105), (70_105, 70_000)]


@pytest.mark.parametrize(
    ("start", "form"),
    [
        (b"PK\x03\x04", "a ZIP archive"),
        (b"\x1f\x8b", "a gzip archive"),
        (b"MZ", "a program"),
        (b"\n<!DOCTYPE html>", "a web page"),
    ],
)
def test_other_forms(start: bytes, form: str) -> None:
    """What people take for an image. First bytes by PKWARE APPNOTE, RFC 1952, PE/COFF and HTML, from memory."""
    assert read_image(start + b"\x01" * 50).other_form == form


def test_load(tmp_path: Path) -> None:
    """At most 64 MiB are read, and memory stays below 256 MB; what cannot be read is one line."""
    path = tmp_path / "large.bin"
    with path.open("wb") as stream:
        stream.truncate((64 << 20) + 5)
    tracemalloc.start()
    data, size = load(path)
    image = read_image(data, size)
    assert tracemalloc.get_traced_memory()[1] < 256_000_000
    tracemalloc.stop()
    assert (len(data), image.size, image.looked_at, image.sha256, image.left_out) == (
        64 << 20,
        (64 << 20) + 5,
        64 << 20,
        "",
        True,
    )
    (tmp_path / "empty").touch()
    for name in ("empty", "none", "."):
        with pytest.raises(ImageError):
            load(tmp_path / name)


def test_region_names() -> None:
    """One name for each index of the published list, the well-known ones in its words (coreboot, ifdtool)."""
    path = Path(__file__).parent / "facts" / "flash_regions.csv"
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()[1:]))
    assert [int(row["index"]) for row in rows] == list(range(len(REGIONS)))
    for index in (0, 2, 3, 4, 5, 6, 8, 9, 10):
        assert rows[index]["region"] == REGIONS[index]
