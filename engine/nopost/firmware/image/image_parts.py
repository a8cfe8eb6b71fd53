"""The parts of a firmware image, as values. All offsets count from the start of the file."""

from __future__ import annotations

import enum
from dataclasses import asdict, dataclass
from typing import Any

ONES, ZEROS = b"\xff", b"\0"


@dataclass(frozen=True, slots=True)
class Payload:
    """One image in a capsule of the firmware management protocol. `target`: GUID of the device that it is for."""

    offset: int
    size: int
    target: str
    index: int
    version: int
    whole: bool


@dataclass(frozen=True, slots=True)
class Capsule:
    """A UEFI capsule. `size` is what its header says, header included."""

    offset: int
    guid: str
    management: bool
    header_size: int
    flags: int
    size: int
    payloads: tuple[Payload, ...] = ()
    faults: tuple[str, ...] = ()

    @property
    def body(self) -> int:
        """Offset at which the content behind the header begins."""
        return self.offset + self.header_size

    @property
    def flag_words(self) -> tuple[str, ...]:
        """What its flags ask the firmware to do, in words."""
        return tuple(word for bit, word in FLAGS.items() if self.flags & bit)


FLAGS = {0x10000: "kept across a reset", 0x20000: "put in the system table", 0x40000: "starts a reset"}
"""UefiSpec.h, CAPSULE_FLAGS_*."""


@dataclass(frozen=True, slots=True)
class FirmwareVolume:
    """A PI firmware volume. `files`: without padding files; `bad_files`: those whose header does not add up;
    `packed`: sections that are compressed or otherwise not plain, whose inside is not read."""

    offset: int
    size: int
    guid: str
    file_system: str
    revision: int
    files: int = 0
    padding_files: int = 0
    bad_files: int = 0
    faults: tuple[str, ...] = ()
    packed: int = 0


@dataclass(frozen=True, slots=True)
class FlashRegion:
    """A region by the flash descriptor; `end` is exclusive. `inside`: whether all of it lies in the file."""

    index: int
    name: str
    offset: int
    end: int
    inside: bool


@dataclass(frozen=True, slots=True)
class FlashDescriptor:
    """A flash descriptor. `chip_size`: of all chips together, 0 when it does not say."""

    offset: int
    chips: int
    chip_size: int
    regions: tuple[FlashRegion, ...] = ()


class Fill(enum.StrEnum):
    """What a part that no structure explains is filled with."""

    ONES = "ones"
    ZEROS = "zeros"
    DATA = "data"


@dataclass(frozen=True, slots=True)
class UnparsedRange:
    """Bytes that belong to no capsule header, descriptor or volume."""

    offset: int
    size: int
    fill: Fill


@dataclass(frozen=True, slots=True)
class FirmwareImage:
    """All that was recognised. `size`: of the file; `looked_at`: how much of it was read; `sha256`: empty unless all was."""

    size: int
    looked_at: int
    sha256: str
    capsules: tuple[Capsule, ...]
    descriptor: FlashDescriptor | None
    volumes: tuple[FirmwareVolume, ...]
    unparsed: tuple[UnparsedRange, ...]
    other_form: str
    left_out: bool

    @property
    def padding(self) -> int:
        """Bytes of ones or zeros outside every structure."""
        return sum(part.size for part in self.unparsed if part.fill is not Fill.DATA)

    @property
    def known(self) -> bool:
        """Whether any structure of firmware was recognised."""
        return bool(self.capsules or self.descriptor or self.volumes)

    @property
    def raw_size(self) -> int:
        """Size of what would go into the chip: without capsule headers."""
        if not self.capsules:
            return self.size
        first = self.capsules[0]
        if first.payloads:
            return max(payload.size for payload in first.payloads)
        return max(0, min(first.size, self.size) - first.header_size)


def image_data(image: FirmwareImage) -> dict[str, Any]:
    """The image as JSON, whose first version calls the unparsed ranges `stretches`."""
    return {"stretches" if name == "unparsed" else name: value for name, value in asdict(image).items()}
