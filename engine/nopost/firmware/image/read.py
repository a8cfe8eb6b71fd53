"""An image from a file or from bytes: every structure that is recognised, and what lies between. Any bytes give an image."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from nopost.errors import ImageError
from nopost.files import open_plain
from nopost.firmware.image.bounded import ONES, ZEROS, run_from, run_to
from nopost.firmware.image.capsule import read_capsules
from nopost.firmware.image.descriptor import SIZE, read_descriptor
from nopost.firmware.image.model import Capsule, Descriptor, Fill, Image, Stretch, Volume
from nopost.firmware.image.volume import find_volumes

MAX_BYTES = 64 * 1024 * 1024
LEAST_RUN = 1024
"""A shorter run of one byte beside data counts as data (judgement)."""
OTHER_FORMS = {
    b"PK\x03\x04": "a ZIP archive",
    b"7z\xbc\xaf\x27\x1c": "a 7z archive",
    b"\x1f\x8b": "a gzip archive",
    b"MZ": "a program",
    b"<!doctype": "a web page",
    b"<html": "a web page",
}
"""First bytes, small letters or as they are (PKWARE APPNOTE, 7z format text, RFC 1952, PE/COFF, HTML; from memory)."""


def load(path: Path) -> tuple[bytes, int]:
    """The first 64 MiB of a file, and the size of all of it. Raises ImageError."""
    try:
        with open_plain(path) as stream:
            data = stream.read(MAX_BYTES)
            size = max(os.fstat(stream.fileno()).st_size, len(data))
    except OSError as error:
        raise ImageError(f"{path}: cannot be read: {error.strerror}") from None
    if not data:
        raise ImageError(f"{path}: the file is empty")
    return data, size


def read_image(data: bytes, size: int | None = None) -> Image:
    """What these bytes are; `size` is that of the file when they are only its beginning."""
    whole = size is None or size <= len(data)
    capsules = read_capsules(data)
    descriptor = _descriptor(data, capsules)
    found = find_volumes(data)
    stretches = _stretches(data, capsules, descriptor, found.volumes)
    known = bool(capsules or descriptor or found.volumes)
    return Image(
        size=len(data) if size is None else size,
        looked_at=len(data),
        sha256=hashlib.sha256(data).hexdigest() if whole else "",
        capsules=tuple(capsules),
        descriptor=descriptor,
        volumes=found.volumes,
        stretches=stretches,
        other_form="" if known and not data.startswith(b"PK") else _other_form(data),
        left_out=found.left_out or not whole,
    )


def _other_form(data: bytes) -> str:
    head = data[:16].lstrip()
    return next((name for start, name in OTHER_FORMS.items() if head.startswith(start) or head.lower().startswith(start)), "")


def _descriptor(data: bytes, capsules: list[Capsule]) -> Descriptor | None:
    """The first descriptor at a place where a flash image can begin."""
    starts = [0]
    for capsule in capsules:
        starts += [capsule.body, *(payload.offset for payload in capsule.payloads)]
    return next((found for at in starts if (found := read_descriptor(data, at)) is not None), None)


def _stretches(
    data: bytes, capsules: list[Capsule], descriptor: Descriptor | None, volumes: tuple[Volume, ...]
) -> tuple[Stretch, ...]:
    """What lies between the structures."""
    taken = [(capsule.offset, capsule.payloads[0].offset if capsule.payloads else capsule.body) for capsule in capsules]
    taken += [(volume.offset, volume.offset + volume.size) for volume in volumes]
    if descriptor is not None:
        taken.append((descriptor.offset, descriptor.offset + SIZE))
    found: list[Stretch] = []
    at = 0
    for start, end in [*sorted(taken), (len(data), len(data))]:
        if start > at:
            found += _gap(data, at, min(start, len(data)))
        at = max(at, end)
    return tuple(found)


def _gap(data: bytes, start: int, end: int) -> list[Stretch]:
    """A gap: filled evenly, or data with filled ends."""
    parts: list[Stretch] = []
    head, fill = max((run_from(data, start, end, byte), kind) for byte, kind in ((ONES, Fill.ONES), (ZEROS, Fill.ZEROS)))
    if head == end - start or head >= LEAST_RUN:
        parts.append(Stretch(start, head, fill))
        start += head
    tail, fill = max((run_to(data, start, end, byte), kind) for byte, kind in ((ONES, Fill.ONES), (ZEROS, Fill.ZEROS)))
    if start < end:
        cut = tail if tail >= LEAST_RUN else 0
        parts.append(Stretch(start, end - start - cut, Fill.DATA))
        if cut:
            parts.append(Stretch(end - cut, cut, fill))
    return parts
