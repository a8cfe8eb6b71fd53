"""32-bit status values of the UEFI Platform Initialization (PI) specification 1.8, volume 3, taken apart.

A value is class, subclass and operation; their names are those of the specification's open header PiStatusCode.h (those
that the shipped tables do not use: from memory). What an operation means depends on the code type too, so only its kind is
said here; a table's row says the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

CLASSES = {0x00: "computing unit", 0x01: "peripheral", 0x02: "I/O bus", 0x03: "software"}
SUBCLASSES: dict[int, tuple[str, ...]] = {
    0x00: ("unspecified", "host processor", "firmware processor", "I/O processor", "cache", "memory", "chipset"),
    0x01: (
        "unspecified",
        "keyboard",
        "mouse",
        "local console",
        "remote console",
        "serial port",
        "parallel port",
        "fixed media",
        "removable media",
        "audio input",
        "audio output",
        "LCD panel",
        "network",
        "docking station",
        "security chip",
    ),
    0x02: (
        "unspecified",
        "PCI",
        "USB",
        "InfiniBand",
        "AGP",
        "PC card",
        "LPC",
        "SCSI",
        "ATA",
        "Fibre Channel",
        "IP network",
        "SMBus",
        "I2C",
    ),
    0x03: (
        "unspecified",
        "SEC",
        "PEI core",
        "PEI module",
        "DXE core",
        "boot services driver",
        "runtime driver",
        "SMM driver",
        "application",
        "system loader",
        "runtime",
        "abstraction layer",
        "EBC exception",
        "32-bit exception",
        "64-bit exception",
        "PEI service",
        "boot service",
        "runtime service",
        "DXE service",
    ),
}
SPECIFIC = 0x1000
"""Operations from here on belong to the subclass."""
OEM = 0x8000
"""Operations from here on belong to the maker of the board, and so do subclasses from 80 and classes that have no name here."""


@dataclass(frozen=True, slots=True)
class StatusValue:
    """Class (bits 31:24), subclass (23:16) and operation (15:0) of a value, and all three in words."""

    klass: int
    subclass: int
    operation: int
    words: str


def decode_status(value: int) -> StatusValue:
    """The parts of a 32-bit status value; ValueError when it has more bits."""
    if not 0 <= value <= 0xFFFFFFFF:
        raise ValueError(f"{value} is no 32-bit status value")
    klass, subclass, operation = value >> 24, value >> 16 & 0xFF, value & 0xFFFF
    return StatusValue(klass, subclass, operation, f"{_class(klass)}, {_subclass(klass, subclass)}, {_operation(operation)}")


def _class(klass: int) -> str:
    return CLASSES.get(klass, f"class {klass:02X} that the specification does not name")


def _subclass(klass: int, subclass: int) -> str:
    names = SUBCLASSES.get(klass, ())
    if subclass < len(names):
        return names[subclass]
    return f"subclass {subclass:02X} of the board's maker" if subclass >= 0x80 else f"subclass {subclass:02X}"


def _operation(operation: int) -> str:
    if operation >= OEM:
        return f"operation {operation:04X} of the board's maker"
    if operation >= SPECIFIC:
        return f"operation {operation:04X} of this subclass"
    return f"operation {operation:04X} of this class"
