"""Bytes from a hex dump: rows of hexadecimal digits, with or without addresses in front and letters behind."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from contextlib import suppress

LONGEST_LINE = 4096
"""Characters of a row of a dump at most."""
ROW_BYTES = 16
LEAST_BYTES = 8
"""A first row of fewer bytes is no row of a dump but a list of codes."""
_TOKEN = re.compile(r"[^\s,;]{1,80}")
_BYTES = re.compile(r"(?:0[xX])?((?:[0-9A-Fa-f]{2}){1,40})[hH]?")
_DUMP = re.compile(r"[0-9A-Fa-f]{8}\s{1,4}(?:[0-9A-Fa-f]{2}\s{1,4}){15}")
"""A row of a dump with an address, which a plain reading would take for data."""
_ADDRESS = re.compile(r"(?:0[xX])?[0-9A-Fa-f]{2,16}:|[0-9A-Fa-f]{8}")


def byte_rows(lines: Iterable[tuple[int, str]]) -> list[tuple[int, bytes]] | None:
    """(line, bytes) of each row; None when more than a tenth of the lines are no such rows. Given up early on other texts."""
    rows: list[tuple[int, bytes]] = []
    bad = 0
    for seen, (number, line) in enumerate(lines):
        data = row_bytes(line)
        if data:
            if not rows and len(data) < LEAST_BYTES:
                return None
            rows.append((number, data))
        else:
            bad += 1
            if bad > 2 + seen // 10:
                return None
    return rows or None


def row_bytes(line: str) -> bytes:
    """The bytes of one row, empty when it has anything else. An address is left out, and after it all that follows 16 bytes."""
    if not _DUMP.match(line):
        with suppress(ValueError):
            return bytes.fromhex(line)
    if len(line) > LONGEST_LINE:
        return b""
    tokens = _TOKEN.findall(line.strip("[](){} \t"))
    addressed = len(tokens) > 1 and bool(_ADDRESS.fullmatch(tokens[0])) and (tokens[0].endswith(":") or len(tokens) > ROW_BYTES)
    data = bytearray()
    for token in tokens[addressed:]:
        if addressed and (len(data) >= ROW_BYTES or (data and token[0] == "|")):
            break
        found = _BYTES.fullmatch(token)
        if not found:
            return b""
        data += bytes.fromhex(found[1])
    return bytes(data)


def records(rows: Sequence[tuple[int, bytes]], size: int) -> list[tuple[int, bytes]]:
    """(line, bytes) of each record of this size: one a row when every row holds whole records, else as one run."""
    result: list[tuple[int, bytes]] = []
    if all(len(data) % size == 0 for _, data in rows):
        for number, data in rows:
            result += [(number, data[k : k + size]) for k in range(0, len(data), size)]
        return result
    joined = bytearray()
    starts: list[int] = []
    for number, data in rows:
        joined += data
        starts += [number] * len(data)
    return [(starts[k], bytes(joined[k : k + size])) for k in range(0, len(joined) - size + 1, size)]
