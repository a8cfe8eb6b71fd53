"""`nopost stick`: what is on a stick, and what to fix before the button is pressed."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING

import click

from nopost_cli.shared.options import json_option, kb_option, knowledge_of
from nopost_cli.shared.terminal import make_console, print_json

if TYPE_CHECKING:
    from rich.console import Console

    from nopost.firmware.stick.partition_table import Stick, StickVolume
    from nopost.firmware.stick.stick_check import StickVerdict

SHOWN = 12


@click.command("stick", short_help="Check a stick before the firmware button reads it.")
@click.argument("path", type=click.Path(exists=True, path_type=Path))
@click.option("--board", metavar="NAME|FILE", default="", help="Record of the board whose button shall read it.")
@click.option("--file", "wanted", metavar="NAME", default="", help="Name that the button wants, from the manual.")
@json_option
@kb_option
def command(path: Path, board: str, wanted: str, as_json: bool, kb: Path | None) -> None:
    """Look at PATH, a mounted folder, a stick's device or an image of it, and say what to fix. Nothing is ever written.

    A device (such as /dev/sdX, the whole stick and not a partition of it) shows most: partition table, file system by its
    clusters, names letter for letter. It often needs the rights of an administrator.
    """
    from nopost.firmware.check_result import check_result_data
    from nopost.firmware.records import find_board
    from nopost.firmware.stick.stick_check import button_requirements, check_stick
    from nopost.firmware.stick.stick_reader import inspect_path

    record = find_board(board, knowledge_of(kb)) if board else None
    stick = inspect_path(path)
    found = check_stick(stick, button_requirements(record, wanted))
    if as_json:
        results = [check_result_data(result) for result in found.results]
        print_json("stick", {"verdict": found.verdict.value, "remarks": results, "stick": dataclasses.asdict(stick)})
        return
    _show(make_console(), stick, found)


def _show(console: Console, stick: Stick, found: StickVerdict) -> None:
    from nopost.firmware.check_result import Level, byte_count
    from nopost.firmware.stick.partition_table import UNKNOWN
    from nopost_cli.shared.screens import line, result_line

    size = f", {byte_count(stick.size)}" if stick.size else ""
    console.print(line("Stick", f"{stick.path} ({stick.form}{size})"))
    if stick.table.kind != UNKNOWN:
        count = len(stick.table.partitions)
        parts = "" if stick.table.kind == "none" else f", {count} partition{'' if count == 1 else 's'}"
        console.print(line("Table", f"{stick.table.kind}{parts}"))
    for volume in stick.volumes:
        console.print(line(f"Part {volume.partition.number}" if volume.partition else "Whole", _volume(volume)))
    console.print()
    for result in found.results:
        console.print(result_line(result))
    console.print()
    fixes, checks = len(found.of(Level.FIX)), len(found.of(Level.CHECK))
    if fixes:
        console.print(f"Not ready: {fixes} to fix{f', {checks} to check' if checks else ''}.")
    elif checks:
        console.print(f"Nothing that must be fixed; {checks} to check.")
    else:
        console.print("Nothing is found that would keep the button from reading it.")


def _volume(volume: StickVolume) -> str:
    from nopost.firmware.check_result import byte_count
    from nopost.firmware.stick.partition_table import UNKNOWN

    system = volume.file_system
    parts = ["file system not known" if system.kind == UNKNOWN else system.kind]
    if system.size:
        parts.append(byte_count(system.size))
    if volume.label:
        parts.append(f"named “{volume.label}”")
    if volume.listed:
        names = [entry.name + ("/" if entry.is_folder else "") for entry in volume.top]
        more = f" … {len(names) - SHOWN} more" if len(names) > SHOWN else ""
        parts.append(f"at its top: {', '.join(names[:SHOWN])}{more}" if names else "nothing at its top")
    return ", ".join(parts)
