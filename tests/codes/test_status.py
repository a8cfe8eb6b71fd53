"""Status values taken apart, against published examples (facts, section 1 and 13: PI 1.8 volume 3; edk2 PiStatusCode.h)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.codes.status_value import CLASSES, SUBCLASSES, decode_status


@pytest.mark.parametrize(
    ("value", "klass", "subclass", "operation", "words"),
    [
        # edk2-platforms, PostCodeDebugFeaturePkg and its headers, worked by hand there.
        (0x00051009, 0x00, 0x05, 0x1009, "computing unit, memory, operation 1009 of this subclass"),
        (0x030F100B, 0x03, 0x0F, 0x100B, "software, PEI service, operation 100B of this subclass"),
        (0x02011000, 0x02, 0x01, 0x1000, "I/O bus, PCI, operation 1000 of this subclass"),
        (0x01030003, 0x01, 0x03, 0x0003, "peripheral, local console, operation 0003 of this class"),
        # Two decoded server records, section 13: exit of the boot services; a boot entry that could not be loaded.
        (0x03101019, 0x03, 0x10, 0x1019, "software, boot service, operation 1019 of this subclass"),
        (0x03051002, 0x03, 0x05, 0x1002, "software, boot services driver, operation 1002 of this subclass"),
    ],
)
def test_published_examples(value: int, klass: int, subclass: int, operation: int, words: str) -> None:
    status = decode_status(value)
    assert (status.klass, status.subclass, status.operation, status.words) == (klass, subclass, operation, words)


def test_bounds_of_the_operation() -> None:
    """Section 1: from 1000 the operation is specific to the subclass, from 8000 it is the maker's."""
    assert decode_status(0x00050FFF).words.endswith("of this class")
    assert decode_status(0x00051000).words.endswith("of this subclass")
    assert decode_status(0x00057FFF).words.endswith("of this subclass")
    assert decode_status(0x00058000).words.endswith("of the board's maker")


def test_unnamed_parts_are_shown_as_numbers() -> None:
    assert decode_status(0x7FEE0001).words == (
        "class 7F that the specification does not name, subclass EE of the board's maker, operation 0001 of this class"
    )
    assert "subclass 40" in decode_status(0x00401000).words


@pytest.mark.parametrize("value", [-1, 1 << 32])
def test_no_32_bit_value(value: int) -> None:
    with pytest.raises(ValueError, match="32-bit"):
        decode_status(value)


@given(st.integers(0, 0xFFFFFFFF))
def test_parts_make_up_the_value(value: int) -> None:
    status = decode_status(value)
    assert status.klass << 24 | status.subclass << 16 | status.operation == value
    assert status.words.count(", ") >= 2


def test_every_class_has_its_subclasses() -> None:
    assert SUBCLASSES.keys() == CLASSES.keys()
    assert all(len(set(names)) == len(names) and names[0] == "unspecified" for names in SUBCLASSES.values())
