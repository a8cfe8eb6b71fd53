"""Questions about the ways to write firmware when the machine does not start."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nopost.firmware.notes.cells import size_of
from nopost_cli.board.telling import agreed, asked
from nopost_cli.guided import choose_several, tell

FILE_SYSTEMS = ("FAT12", "FAT16", "FAT32", "exFAT", "NTFS")


def _at_most(most: int) -> Callable[[str], str]:
    return lambda text: "" if len(text) <= most else f"at most {most} characters, here {len(text)}"


def ask_recovery() -> dict[str, Any]:
    """The `recovery` of a record."""
    found: dict[str, Any] = {
        "button": agreed("Firmware button? (writes firmware without a CPU: at the back, manual)", default=False)
    }
    if found["button"]:
        found |= _button()
    found["recovery_block"] = agreed(
        "Recovery block? (a protected part that writes a new image from a stick by itself: manual)", default=False
    )
    found["second_chip"] = agreed("A second firmware chip? (manual, or two alike chips on the board)", default=False)
    if size := asked("Size of the firmware chip (manual, such as 16 MB; Enter: not known)", check=_chip):
        found["chip_size"] = size_of(size)[0]
    found["socketed_chip"] = agreed("Does the firmware chip sit in a socket?", default=False)
    return found


def _button() -> dict[str, Any]:
    told = {
        "button_file": asked("  Name that the file must have on the stick (manual; Enter: not known)", check=_at_most(60)),
        "button_socket": asked("  USB socket that it reads (as printed, or its place; Enter: not known)", check=_at_most(120)),
    }
    minutes = asked("  How many minutes it writes (manual; Enter: not known)", check=_minutes)
    tell("  File systems that it reads (parted by commas; Enter: not known)")
    systems = choose_several("  file systems", dict.fromkeys(FILE_SYSTEMS, ""))
    tell("  Plugs that must be on (manual; Enter: not known)")
    needs = choose_several("  plugs", {"main": "main power plug", "cpu": "CPU power plug"})
    lists = {"button_file_systems": list(systems), "button_needs": list(needs)}
    return {k: v for k, v in {**told, **({"button_minutes": float(minutes)} if minutes else {}), **lists}.items() if v}


def _chip(text: str) -> str:
    return "" if not text or 65536 <= size_of(text)[0] <= 1 << 30 else "a size of a chip, such as 16 MB or 16777216"


def _minutes(text: str) -> str:
    try:
        return "" if not text or 0 < float(text) <= 120 else "more than 0, at most 120"
    except ValueError:
        return "a number, such as 6"
