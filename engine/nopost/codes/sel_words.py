"""Firmware events of IPMI table 42-3, sensor type 0Fh, from their bytes and from the words a listing uses for them.

The words are matched by their stems, all of a row's at once, since listings differ in how they put them.
"""

from __future__ import annotations

import re

_ERRORS: tuple[tuple[str, str], ...] = (
    ("01", "no memory|no system memory|memory not installed"),
    ("02", "usable memory|memory usable|no usable"),
    ("06", "hard disk controller|hard-disk controller"),
    ("03", "hard disk|hard-disk|ata device|atapi"),
    ("04", "system board|system-board|motherboard fail|mainboard"),
    ("05", "diskette|floppy"),
    ("07", "keyboard"),
    ("08", "removable"),
    ("0A", "no video"),
    ("09", "video"),
    ("0B", "firmware corrupt|rom corrupt|bios corrupt|corruption"),
    ("0C", "voltage"),
    ("0D", "speed"),
    ("00", "unspecified"),
)
_PROGRESS: tuple[tuple[str, str], ...] = (
    ("12", "wake-up|wake up|wakeup|wake vector"),
    ("0C", "keyboard controller"),
    ("17", "keyboard"),
    ("18", "pointing|mouse"),
    ("0D", "embedded controller|management controller"),
    ("10", "ejection|eject"),
    ("11", "disabling docking"),
    ("0F", "enabling docking"),
    ("0E", "dock"),
    ("03", "secondary|further processor"),
    ("19", "primary"),
    ("04", "authentication"),
    ("05", "setup|set-up"),
    ("06", "usb"),
    ("07", "pci"),
    ("08", "option rom"),
    ("09", "video"),
    ("0A", "cache"),
    ("0B", "sm bus|smbus"),
    ("02", "hard disk|hard-disk"),
    ("13", "operating system|os boot"),
    ("14", "baseboard|motherboard|base board"),
    ("16", "floppy|diskette"),
    ("01", "memory init|memory"),
    ("00", "unspecified"),
)
_BAD = ("fail", "no ", "not ", "corrupt", "mismatch", "usable", "unrecover")
"""Stems that tell an error where the row does not name the offset."""
_DATA = re.compile(
    r"(?<![0-9a-z])(?:0x)?([0-9a-f]{6})(?![0-9a-z])|(?<![0-9a-z])([0-9a-f]{2}) ([0-9a-f]{2}) ([0-9a-f]{2})(?![0-9a-z])"
)


def event_data(data: bytes, *, ended: bool) -> str:
    """The code "offset:extension" of three bytes of event data, or the word for why there is none."""
    offset = data[0] & 0x0F
    if offset > 2:
        return "reserved"
    if data[0] >> 6 != 0b11:
        return "bare"
    return "ended" if ended else f"{offset:02X}:{data[1]:02X}"


def event_code(words: str) -> str:
    """The code of a listing's row in small letters: from its event data when they are there, else from its words."""
    for found in _DATA.finditer(words):
        data = bytes.fromhex(found[1] or "".join(found.groups()[1:]))
        if data[0] >> 6 == 0b11 and data[0] & 0x0F <= 2:
            return event_data(data, ended=False)
    offset = _offset(words)
    code = _match(_ERRORS if offset == "00" else _PROGRESS, words)
    return f"{offset}:{code}" if code else "untold"


def _offset(words: str) -> str:
    """Offset that the row names, or that its words make likely."""
    if "hang" in words:
        return "01"
    if "firmware error" in words or "post error" in words:
        return "00"
    named = "firmware progress" in words
    return "00" if not named and any(stem in words for stem in _BAD) else "02"


def _match(rows: tuple[tuple[str, str], ...], words: str) -> str:
    return next((code for code, stems in rows if any(stem in words for stem in stems.split("|"))), "")
