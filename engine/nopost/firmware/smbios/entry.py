"""The two entry points (DSP0134: 2.1, 32 bits, and 3.0, 64 bits): where the table lies, and how long it is."""

from __future__ import annotations

from dataclasses import dataclass

ANCHOR_21 = b"_SM_"
ANCHOR_30 = b"_SM3_"
MIDDLE_21 = b"_DMI_"
SIZE_21 = 0x1F
SIZE_30 = 0x18


@dataclass(frozen=True, slots=True)
class EntryPoint:
    """`size` is the table's length (2.1) or its limit (3.0); `count` is the number of structures, 0 when it is not told."""

    form: str
    version: tuple[int, int]
    length: int
    address: int
    size: int
    count: int
    sums_right: bool


def read_entry(data: bytes) -> EntryPoint | None:
    """The entry point that these bytes begin with, or None."""
    if data.startswith(ANCHOR_30) and len(data) >= SIZE_30:
        return EntryPoint(
            form="3.0",
            version=(data[0x07], data[0x08]),
            length=max(data[0x06], SIZE_30),
            address=_number(data, 0x10, 8),
            size=_number(data, 0x0C, 4),
            count=0,
            sums_right=_adds_up(data[: max(data[0x06], SIZE_30)]),
        )
    if data.startswith(ANCHOR_21) and len(data) >= SIZE_21 and data[0x10:0x15] == MIDDLE_21:
        return EntryPoint(
            form="2.1",
            version=(data[0x06], data[0x07]),
            length=max(data[0x05], SIZE_21),
            address=_number(data, 0x18, 4),
            size=_number(data, 0x16, 2),
            count=_number(data, 0x1C, 2),
            sums_right=_adds_up(data[: max(data[0x05], SIZE_21)]) and _adds_up(data[0x10:SIZE_21]),
        )
    return None


def _number(data: bytes, offset: int, size: int) -> int:
    return int.from_bytes(data[offset : offset + size], "little")


def _adds_up(part: bytes) -> bool:
    return sum(part) & 0xFF == 0
