"""What comes in from a named file or standard input, and how results go out.

`print_json` gives every `--json` its one shape: what it is, its version, and the data. Files are never written over one
that is there unless asked, and whole or not at all. An SMBIOS table is read from a file or from standard input.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from nopost.errors import DumpError, OutputError
from nopost.files import open_plain, write_atomically
from nopost.firmware.verify.smbios_dump import MAX_BYTES, Dump, read_dump


def dump_of(file: str) -> Dump:
    """The table in this file; - is standard input. Raises DumpError."""
    try:
        return read_dump(_bytes(file))
    except DumpError as error:
        name = "standard input" if file == "-" else file
        raise DumpError(str(error) if str(error).startswith(name) else f"{name}: {error}") from None


def _bytes(file: str) -> bytes:
    """One byte more than is allowed at most, so that a file that is too large is told."""
    if file == "-":
        return sys.stdin.buffer.read(MAX_BYTES + 1) if sys.stdin is not None else b""
    try:
        with open_plain(file) as stream:
            return stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise DumpError(f"{file or 'no file is named'}: cannot be read: {error.strerror}") from None


VERSION = 1


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
