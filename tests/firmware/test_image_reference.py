"""Images that the tests build, read by nopost and by the open `uefi-firmware` package: both see the same."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware import images
from nopost.firmware.image.image_reader import read_image

uefi = pytest.importorskip("uefi_firmware.uefi")
flash = pytest.importorskip("uefi_firmware.flash")
structs = pytest.importorskip("uefi_firmware.structs.uefi_structs")
utils = pytest.importorskip("uefi_firmware.utils")

ONE_FILE = st.builds(images.file, st.integers(0, 600).map(lambda size: b"\x05" * size), kind=st.sampled_from((0x02, 0x07, 0xF0)))
SOME_FILES = st.lists(ONE_FILE, max_size=6)


@pytest.mark.slow
@given(files=SOME_FILES, blocks=st.integers(2, 8), guid=st.sampled_from((images.FFS2, images.FFS3)))
def test_volumes(files: list[bytes], blocks: int, guid: str) -> None:
    """Size, file system, revision, check sum, and number of files, padding files among them."""
    data = images.volume(files, blocks=blocks, guid=guid)
    theirs = uefi.FirmwareVolume(data)
    assert theirs.valid_header
    theirs.process()
    (ours,) = read_image(data).volumes
    assert (ours.size, ours.guid, ours.revision) == (
        theirs.size,
        utils.sguid(theirs.guid),
        theirs.revision,
    )
    found = [file for system in theirs.firmware_filesystems for file in system.files]
    assert ours.files + ours.padding_files == len(found) == len(files)
    assert ours.padding_files == sum(file.type == 0xF0 for file in found)
    blank = data[:50] + b"\0\0" + data[52:72]
    assert uefi.calculate_checksum16(blank) == int.from_bytes(data[50:52], "little")
    assert ours.faults == ()


@pytest.mark.slow
@given(sizes=st.lists(st.integers(1, 4), min_size=1, max_size=6), gaps=st.lists(st.integers(0, 3), min_size=6, max_size=6))
def test_places(sizes: list[int], gaps: list[int]) -> None:
    """Volumes among padding: the same places are found."""
    parts = [b"\xff" * (gap * 64) + images.volume(blocks=size) for size, gap in zip(sizes, gaps, strict=False)]
    data = b"".join(parts)
    theirs = [at - 40 for at in utils.search_firmware_volumes(data)]
    assert [volume.offset for volume in read_image(data).volumes] == theirs


def test_file_systems() -> None:
    """The GUIDs are those that the package knows by the same names."""
    assert structs.FIRMWARE_VOLUME_GUIDS["FFS2"] == images.FFS2
    assert structs.FIRMWARE_VOLUME_GUIDS["FFS3"] == images.FFS3
    assert structs.FIRMWARE_VOLUME_GUIDS["NVRAM_EVSA"] == images.VARIABLES
    assert images.MANAGEMENT in structs.FIRMWARE_CAPSULE_GUIDS


@pytest.mark.slow
@given(header=st.integers(7, 1024).map(lambda words: words * 4), flags=st.integers(0, 7).map(lambda bits: bits << 16))
def test_capsules(header: int, flags: int) -> None:
    """Header, flags, size, and the volume inside, for a kind that the package knows."""
    data = images.capsule(images.volume(), guid=structs.FIRMWARE_CAPSULE_GUIDS[2], header=header, flags=flags)
    theirs = uefi.FirmwareCapsule(data)
    assert theirs.valid_header
    image = read_image(data)
    (ours,) = image.capsules
    assert (ours.header_size, ours.flags, ours.size) == (theirs.header_size, theirs.flags, theirs.image_size)
    assert theirs.process()
    assert theirs.capsule_body.size == image.volumes[0].size


@pytest.mark.slow
@given(first=st.integers(1, 40), firmware=st.integers(1, 40), code=st.sampled_from((0, 1)))
def test_regions(first: int, firmware: int, code: int) -> None:
    """Bounds of the regions that the package names."""
    pages = {0: (0, 0), 2: (1, first), 1: (first + 1, first + firmware)}
    data = images.descriptor(pages, code=code).ljust((first + firmware + 1) * images.BLOCK, b"\xff")
    theirs = flash.FlashDescriptor(data)
    assert theirs.valid_header
    theirs.process()
    named = {region.name: region for region in theirs.regions}
    found = read_image(data).descriptor
    assert found is not None
    ours = {region.index: region for region in found.regions}
    for index, name in ((1, "bios"), (2, "me")):
        assert ours[index].offset == named[name].attrs["base"] * images.BLOCK
        assert ours[index].end == (named[name].attrs["limit"] + 1) * images.BLOCK
        assert ours[index].end - ours[index].offset == len(named[name].data)


SECTIONS = st.lists(
    st.one_of(
        st.binary(max_size=40).map(images.guided),
        st.binary(max_size=40).map(lambda content: images.section(0x19, content)),
        st.binary(max_size=40).map(lambda content: images.guided(content, processing=False)),
    ),
    min_size=1,
    max_size=5,
)


@pytest.mark.slow
@given(sections=SECTIONS)
def test_packed_sections(sections: list[bytes]) -> None:
    """GUID-defined sections that ask for processing, as the package lists them."""
    data = images.volume([images.file(b"".join(sections), kind=0x07)])
    theirs = uefi.FirmwareVolume(data)
    theirs.process()
    found = [s for system in theirs.firmware_filesystems for file in system.files for s in file.sections]
    assert len(found) == len(sections)
    packed = [s for s in found if s.type == 0x02 and s.parsed_object.attr_mask & 0x01]
    assert read_image(data).volumes[0].packed == len(packed)
