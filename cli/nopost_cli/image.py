"""`nopost image`: what a firmware image is, and whether it was made for this board."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import RecordError
from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.terminal import make_console, print_json

if TYPE_CHECKING:
    from rich.console import Console

    from nopost.firmware.image.board_names import Mention
    from nopost.firmware.image.image_check import ImageVerdict
    from nopost.firmware.image.image_parts import Capsule, FirmwareImage, FirmwareVolume
    from nopost.knowledge.reference_records import Board

SHOWN = 12


@click.command("image", short_help="See what a firmware image is, and which board it is for.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--board", metavar="NAME|FILE", default="", help="Record of the board that it is meant for.")
@click.option("--release", metavar="VERSION", default="", help="Release of the record that it should be.")
@json_option
@kb_option
def command(file: Path, board: str, release: str, as_json: bool, kb: Path | None) -> None:
    """Say what FILE is from its bytes, and whether it was made for the board. Nothing is written.

    Names that an image holds only in compressed form cannot be seen; the SHA-256 in the record tells more than they do.
    """
    from nopost.firmware.image.image_check import check_image
    from nopost.firmware.records import find_board

    record = find_board(board, knowledge_of(kb)) if board else None
    if release and record is None:
        raise RecordError("--release needs --board: releases belong to a board record")
    image, mentions = _looked(file, record)
    found = check_image(image, record, mentions, release, file.name)
    if as_json:
        print_json("image", {"file": str(file), **_data(image, mentions, found)})
        return
    _show(make_console(), file, image, found, record is not None)


def _looked(file: Path, board: Board | None) -> tuple[FirmwareImage, tuple[Mention, ...]]:
    """Structures and names, with a bar on a terminal: a large file takes more than a second."""
    from rich.progress import BarColumn, Progress, TextColumn

    from nopost.firmware.image.board_names import find_mentions
    from nopost.firmware.image.image_reader import load, read_image

    console = make_console(stderr=True)
    columns = (TextColumn("Looking at the image"), BarColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("", total=3 if board else 2)
        data, size = load(file)
        progress.advance(task)
        image = read_image(data, size)
        progress.advance(task)
        return image, find_mentions(data, board) if board else ()


def _data(image: FirmwareImage, mentions: tuple[Mention, ...], found: ImageVerdict) -> dict[str, Any]:
    from nopost.firmware.check_result import check_result_data
    from nopost.firmware.image.image_parts import image_data

    return {
        "fit": found.fit.value,
        "why": found.why,
        "release": found.release or None,
        "names": [dataclasses.asdict(mention) for mention in mentions],
        "remarks": [check_result_data(result) for result in found.results],
        "image": image_data(image),
    }


def _show(console: Console, file: Path, image: FirmwareImage, found: ImageVerdict, judged: bool) -> None:
    from nopost.firmware.check_result import byte_count
    from nopost.firmware.image.image_check import Fit
    from nopost_cli.shared.screens import line, result_line

    console.print(line("Image", f"{file}, {byte_count(image.size)}"))
    if image.sha256:
        console.print(line("SHA-256", image.sha256))
    for capsule in image.capsules:
        console.print(line("Capsule", _capsule(capsule)))
    if image.descriptor is not None:
        chips, size = image.descriptor.chips, image.descriptor.chip_size
        told = f"for {byte_count(size)} of flash" if size else "size of the flash not told"
        console.print(line("Flash", f"descriptor at {image.descriptor.offset:#x}, {told} in {chips} chip{'s' * (chips > 1)}"))
        for region in image.descriptor.regions:
            beyond = "" if region.inside else ", ends behind the file"
            console.print(line("Region", f"{region.name}: {region.offset:#x} to {region.end - 1:#x}{beyond}"))
    for volume in image.volumes[:SHOWN]:
        console.print(line("Volume", _volume(volume)))
    if len(image.volumes) > SHOWN:
        console.print(line("", f"… {len(image.volumes) - SHOWN} more volumes; --json lists them"))
    if image.padding:
        console.print(line("Padding", f"{byte_count(image.padding)} of ones or zeros outside of these"))
    console.print()
    for result in found.results:
        console.print(result_line(result))
    if judged:
        console.print(line("Verdict", f"{found.fit.value}: {found.why}.", "" if found.fit is Fit.UNKNOWN else "bold"))
    else:
        console.print(line("Verdict", "with --board it is compared with a board record."))


def _capsule(capsule: Capsule) -> str:
    from nopost.firmware.check_result import byte_count

    kind = "of firmware management" if capsule.management else f"of kind {capsule.guid}"
    parts = [f"{kind} at {capsule.offset:#x}, header {capsule.header_size} of {byte_count(capsule.size)}", *capsule.flag_words]
    parts += [f"payload {p.index} of {byte_count(p.size)} for {p.target}" for p in capsule.payloads[:SHOWN]]
    return ", ".join(parts)


def _volume(volume: FirmwareVolume) -> str:
    from nopost.firmware.check_result import byte_count

    system = volume.guid if volume.file_system == "another" else volume.file_system
    files = f", {volume.files} file{'' if volume.files == 1 else 's'}" if volume.files or volume.padding_files else ""
    packed = f", {volume.packed} packed section{'' if volume.packed == 1 else 's'}" if volume.packed else ""
    return f"{byte_count(volume.size)} at {volume.offset:#x}, {system}{files}{packed}{', damaged' if volume.faults else ''}"
