"""Capsules that the tests build, whole and broken (layouts: edk2 UefiSpec.h and FmpCapsule.h)."""

from __future__ import annotations

import pytest

from firmware import images
from nopost.firmware.image.image_reader import read_image

FILES = (images.file(b"abc"), images.file(bytes(100), kind=0xF0))


@pytest.mark.parametrize(("guid", "header"), [(images.INVENTED, 28), (images.INVENTED, 4096), (images.VARIABLES, 80)])
def test_capsule(guid: str, header: int) -> None:
    """Any GUID, any length of header; what it carries is found, and what would go into the chip is measured."""
    image = read_image(images.capsule(images.volume(FILES), guid=guid, header=header))
    (capsule,) = image.capsules
    assert (capsule.guid, capsule.header_size, capsule.size, capsule.faults) == (guid, header, header + 0x4000, ())
    assert capsule.flag_words == ("kept across a reset", "starts a reset")
    assert (image.volumes[0].offset, image.raw_size) == (header, 0x4000)


def test_capsules_in_a_row() -> None:
    """Several of these: two capsules, one with a whole chip inside."""
    chip = images.flash([images.volume(FILES)])
    image = read_image(images.capsule(images.volume()) + images.capsule(chip))
    assert [capsule.offset for capsule in image.capsules] == [0, 28 + 0x4000]
    assert image.descriptor is not None
    assert (image.descriptor.offset, len(image.volumes)) == (0x4000 + 56, 2)


@pytest.mark.parametrize("version", [1, 2, 3])
def test_management_capsule(version: int) -> None:
    """Drivers are stepped over; payload headers of the three published versions."""
    volume = images.volume(FILES)
    data = images.management([volume, b"second"], drivers=[b"driver"], version=version)
    image = read_image(data)
    first, second = image.capsules[0].payloads
    assert (first.index, first.size, first.target, first.whole) == (1, 0x4000, images.INVENTED, True)
    assert data[second.offset : second.offset + second.size] == b"second"
    assert (image.volumes[0].offset, image.raw_size) == (first.offset, 0x4000)


def test_capsule_broken() -> None:
    """Cut short, an offset that leads out, a count that cannot be; flags and sizes that no capsule has."""
    whole = images.management([bytes(64)])
    assert read_image(whole[:-8]).capsules[0].faults[0].startswith("it is cut short")
    assert read_image(whole[:-8]).capsules[0].payloads[0].whole is False
    out = whole[:36] + b"\xff" * 8 + whole[44:]
    assert "lies outside" in read_image(out).capsules[0].faults[0]
    many = whole[:34] + b"\xff\xff" + whole[36:]
    assert read_image(many).capsules[0].faults[0] == "it claims 65535 payloads"
    body = images.volume()
    for bad in (images.capsule(body, flags=0x80000), images.capsule(body, header=28)[:16] + bytes(8) + body, body[:27]):
        assert read_image(bad).capsules == ()
