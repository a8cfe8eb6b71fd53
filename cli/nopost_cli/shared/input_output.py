"""What comes in from a named file or standard input, and how results go out.

`print_json` gives every `--json` its one shape: what it is, its version, and the data. Files are never written over one
that is there unless asked, and whole or not at all. An SMBIOS table is read from a file or from standard input.
"""

from __future__ import annotations

import json
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nopost.errors import DumpError, InputError, OutputError
from nopost.files import open_plain, write_atomically

if TYPE_CHECKING:
    from nopost.firmware.verify.smbios_dump import Dump

STDIN = "-"
"""The name that stands for standard input."""


def shown_name(name: str) -> str:
    """The name as messages tell it."""
    return "standard input" if name == STDIN else name


def read_bytes(name: str, most: int, folder: str = "") -> bytes:
    """At most `most` bytes of a plain file, or of standard input for `-`; of closed standard input none.

    Who must tell that there is too much asks for one byte more than is allowed. `folder`: what to do when it is a folder.
    Raises InputError.
    """
    if name == STDIN:
        return sys.stdin.buffer.read(most) if sys.stdin is not None else b""
    if folder and Path(name).is_dir():
        raise InputError(f"{name}: this is a folder; {folder}")
    try:
        with open_plain(name) as stream:
            return stream.read(most)
    except OSError as error:
        raise InputError(f"{name or 'no file is named'}: cannot be read: {error.strerror}") from None


MOST_CODE_BYTES = 64 * 1024 * 1024
"""Of a file with codes so much is read."""
NO_CODES = "no codes were found; write digits such as 53 or 0x53, lamps such as 'memory lamp on', or beeps such as '1-3-1'"


def read_codes(file: str) -> bytes:
    """What a file with codes holds; - is standard input. Raises InputError."""
    return read_bytes(file, MOST_CODE_BYTES, f"all logs in it: nopost decode --batch {shlex.quote(file)} --out FILE.csv")


def dump_of(file: str) -> Dump:
    """The SMBIOS table in this file; - is standard input. Raises InputError, and DumpError when it holds none."""
    from nopost.firmware.verify.smbios_dump import MAX_BYTES, read_dump

    data = read_bytes(file, MAX_BYTES + 1)
    try:
        return read_dump(data)
    except DumpError as error:
        name = shown_name(file)
        raise DumpError(str(error) if str(error).startswith(name) else f"{name}: {error}") from None


VERSION = 1
"""Of what `--json` prints: higher once a key goes or means something else."""


def print_json(what: str, data: dict[str, Any], version: int = VERSION) -> None:
    """Print `{"format": "nopost-<what>", "version": ..., ...}`, in ASCII so that it is right in every encoding."""
    click.echo(json.dumps({"format": f"nopost-{what}", "version": version, **data}, indent=2))


def refuse_existing(out: Path | str, force: bool = False) -> None:
    """Raise OutputError when the file is there already; before the work, so that none is done in vain."""
    if not force and Path(out).exists():
        raise OutputError(f"{out}: is there already; name another file, or say --force")


def write_result(out: Path | str, content: str | bytes) -> None:
    """Write it. Raises OutputError when the disk refuses; then what was there still stands."""
    try:
        write_atomically(Path(out), content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise OutputError(f"{out}: cannot be written: {error.strerror}") from None
