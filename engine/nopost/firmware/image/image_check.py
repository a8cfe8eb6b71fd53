"""Whether an image fits a board: names, size, SHA-256 and file name against the record, and what is to be said of the
image itself.

A file's name proves nothing, but the wrong one is worth a look.
"""

from __future__ import annotations

import enum
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nopost.firmware.check_result import CheckResult, Level, byte_count
from nopost.firmware.image.board_names import Mention, NameOwner
from nopost.firmware.image.image_parts import FirmwareImage
from nopost.firmware.record_facts import release_index
from nopost.knowledge.reference_records import Board, Release


def check_file_name(file: str, board: Board, release: Release | None) -> Iterator[CheckResult]:
    """What the name says. `release`: the one that it should be, or that it is by its SHA-256."""
    if not file:
        return
    button = board.recovery.get("button_file", "")
    named = next((each for each in board.releases if each.file and each.file.casefold() == file.casefold()), None)
    if button and file == button:
        yield CheckResult(Level.GOOD, "file-name", f"Its name is the one that the board's button wants, {button}.")
    elif named is not None and release is not None and named.file.casefold() != release.file.casefold():
        text = f"Its name, {file}, is that of release {named.version}, not of {release.version}: see that it is the right file."
        yield CheckResult(Level.CHECK, "file-name", text)
    elif named is not None and release is not None:
        yield CheckResult(Level.GOOD, "file-name", f"Its name is that of release {release.version} in the record.")
    elif named is not None:
        yield CheckResult(Level.NOTE, "file-name", f"By its name it is release {named.version}; a name proves nothing.")
    elif button and file.casefold() == button.casefold():
        yield CheckResult(Level.CHECK, "file-name", f"The button wants the name {button}, letter for letter; it is {file}.")
    elif release is not None and release.file:
        text = f"In the archive release {release.version} is called {release.file}; this file has another name."
        yield CheckResult(Level.NOTE, "file-name", text)


FEW = 4


class Fit(enum.StrEnum):
    """Whether the image was made for the board."""

    FITS = "fits"
    OTHER = "made for another variant"
    UNKNOWN = "cannot tell"


@dataclass(frozen=True, slots=True)
class ImageVerdict:
    """The fit, why, and the results. `release`: the one whose SHA-256 it has."""

    fit: Fit
    why: str
    results: tuple[CheckResult, ...]
    release: str = ""


def check_image(
    image: FirmwareImage, board: Board | None = None, mentions: Sequence[Mention] = (), release: str = "", file: str = ""
) -> ImageVerdict:
    """All that can be said; `file`: the file's name. Raises UnknownNameError for a release that the board does not have."""
    results = list(_check_structures(image))
    if board is None:
        return ImageVerdict(Fit.UNKNOWN, "no board record was named", tuple(results))
    wanted = board.releases[release_index(board, release)] if release else None
    same = next((each for each in board.releases if image.sha256 and each.sha256 == image.sha256), None)
    results += [*_check_size(image, board, wanted), *_check_sha256(image, wanted, same)]
    results += check_file_name(file, board, wanted or same)
    fit, why = _fit(board, mentions, same)
    return ImageVerdict(fit, why, tuple(results), same.version if same else "")


def _fit(board: Board, mentions: Sequence[Mention], same: Release | None) -> tuple[Fit, str]:
    if same is not None:
        return Fit.FITS, f"its SHA-256 is that of release {same.version} in the record"
    own, other, unsure = (
        [m for m in mentions if m.whose is whose] for whose in (NameOwner.OWN, NameOwner.OTHER, NameOwner.UNSURE)
    )
    if own and other:
        return Fit.UNKNOWN, f"it names {_names(own)}, but {_names(other)} too"
    if own:
        return Fit.FITS, f"it names {_names(own)}"
    if other:
        return Fit.OTHER, f"it names {_names(other)}, and nowhere {board.variant}"
    if unsure:
        return Fit.UNKNOWN, f"it names {_names(unsure)}, which does not tell {board.variant} from its look-alikes"
    return Fit.UNKNOWN, "it names neither this board nor a look-alike in plain text; what is compressed was not looked into"


def _names(mentions: Sequence[Mention]) -> str:
    ordered = sorted(mentions, key=lambda mention: not mention.listed)
    told = ", ".join(f"“{mention.text}”" for mention in ordered[:FEW])
    return told + (f" and {len(ordered) - FEW} more" if len(ordered) > FEW else "")


def _check_structures(image: FirmwareImage) -> Iterator[CheckResult]:
    if image.looked_at < image.size:
        text = (
            f"Only the first {byte_count(image.looked_at)} of {byte_count(image.size)} were read; the SHA-256 was not computed."
        )
        yield CheckResult(Level.NOTE, "not-all-read", text)
    elif image.left_out:
        yield CheckResult(Level.NOTE, "left-out", "It has more volumes or files than are looked at; the rest is left out.")
    if not image.known or image.other_form:
        yield _unknown(image)
    for capsule in image.capsules:
        for fault in capsule.faults:
            yield CheckResult(Level.FIX, "capsule", f"The capsule at {capsule.offset:#x}: {fault}.")
    for volume in image.volumes:
        for fault in volume.faults:
            cut = "cut short" in fault
            yield CheckResult(Level.FIX if cut else Level.CHECK, "volume", f"The volume at {volume.offset:#x}: {fault}.")
    packed = sum(volume.packed for volume in image.volumes)
    if packed:
        text = (
            f"{packed} section{'s are' if packed > 1 else ' is'} compressed or packed in another way (GUID-defined); "
            f"the inside of {'them' if packed > 1 else 'it'} is not read, so names in there are not seen."
        )
        yield CheckResult(Level.NOTE, "packed", text)
    if image.descriptor is None:
        return
    beyond = [region.name for region in image.descriptor.regions if not region.inside]
    if beyond and image.looked_at == image.size:
        yield CheckResult(
            Level.CHECK, "region", f"By its flash descriptor it should go on: {', '.join(beyond)} ends behind the file."
        )


def _unknown(image: FirmwareImage) -> CheckResult:
    if image.other_form:
        archive = "archive" in image.other_form
        hint = "unpack it and look at what is inside" if archive else "this is no image for the chip"
        return CheckResult(Level.FIX, "other-form", f"It is {image.other_form}: {hint}.")
    if image.padding == image.looked_at:
        return CheckResult(Level.FIX, "blank", "It is blank: nothing but ones or zeros.")
    text = "No structure of firmware is known in it; it may be encrypted, of an older kind, or no image at all."
    return CheckResult(Level.CHECK, "unknown", text)


def _check_size(image: FirmwareImage, board: Board, wanted: Release | None) -> Iterator[CheckResult]:
    chip = int(board.recovery.get("chip_size", 0))
    raw = image.raw_size
    if chip and raw > chip:
        yield CheckResult(Level.FIX, "chip-size", f"It is larger than the chip: {byte_count(raw)} for {byte_count(chip)}.")
    elif chip and raw < chip:
        text = f"It is smaller than the chip, {byte_count(raw)} for {byte_count(chip)}: an update of a part, or not all of it."
        yield CheckResult(Level.NOTE, "chip-size", text)
    elif chip:
        yield CheckResult(Level.GOOD, "chip-size", f"It is as large as the chip: {byte_count(chip)}.")
    described = image.descriptor.chip_size if image.descriptor else 0
    if chip and described and described != chip:
        text = f"Its flash descriptor is for {byte_count(described)} of flash, the board's chip has {byte_count(chip)}."
        yield CheckResult(Level.CHECK, "descriptor-size", text)
    if wanted is not None and wanted.size and wanted.size != image.size:
        text = f"Release {wanted.version} has {wanted.size} bytes, this file has {image.size}."
        yield CheckResult(Level.FIX, "release-size", text)


def _check_sha256(image: FirmwareImage, wanted: Release | None, same: Release | None) -> Iterator[CheckResult]:
    if same is not None and wanted is not None and same != wanted:
        yield CheckResult(Level.FIX, "sha256", f"By its SHA-256 it is release {same.version}, not {wanted.version}.")
    elif same is not None:
        yield CheckResult(Level.GOOD, "sha256", f"Its SHA-256 is that of release {same.version}.")
    elif wanted is not None and wanted.sha256 and image.sha256:
        text = (
            f"Its SHA-256 is not that of release {wanted.version}: another file, or damaged. Get it again from the board's maker."
        )
        yield CheckResult(Level.FIX, "sha256", text)
    elif wanted is not None:
        yield CheckResult(Level.NOTE, "sha256", f"The record has no SHA-256 of release {wanted.version} to compare with.")
