"""An SMBIOS table from a file or from standard input."""

from __future__ import annotations

import sys

from nopost.errors import DumpError
from nopost.files import open_plain
from nopost.firmware.smbios.dump import MAX_BYTES, Dump, read_dump


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
