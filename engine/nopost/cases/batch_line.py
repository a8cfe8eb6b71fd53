"""One line of a JSONL file as a log.

A line is a string, or an object with the text under `log`, `text` or `codes` and a name under `id` or `name`, or an object of the
Redfish standard as it is. The text may be a list: strings are lines of the log, whole numbers are codes by their value (33 is 21
in hexadecimal; digits as a display shows them are written as strings).
"""

from __future__ import annotations

import json
from typing import Any

from nopost.cases.batch_log import Log

TEXTS = ("log", "text", "codes")
NAMES = ("id", "name", "Id")
REDFISH = frozenset(("@odata.id", "@odata.type", "Members", "MessageId", "MessageArgs", "BootProgress", "LastState"))
WIDTHS = (2, 4, 8, 16)
"""Digits of a code that was given as a number."""


def log_of_line(number: int, line: bytes) -> Log:
    """The log that a line holds, or its problem. `number`: of the line, from 1; its name when it has none."""
    name = f"line {number}"
    try:
        value = json.loads(line.decode("utf-8-sig"))
    except UnicodeDecodeError:
        return Log(name, b"", f"line {number} is not UTF-8")
    except RecursionError:
        return Log(name, b"", f"line {number} is nested too deep")
    except ValueError as error:
        return Log(name, b"", f"line {number} is no JSON: {error}")
    if isinstance(value, str):
        return Log(name, value)
    if not isinstance(value, dict):
        return Log(name, b"", f"line {number} is neither a string nor an object")
    name = _name(value) or name
    key = next((key for key in TEXTS if value.get(key) is not None), "")
    if key:
        content = _content(value[key])
        return Log(name, content) if content is not None else Log(name, b"", f"line {number}: {key} is neither text nor codes")
    if REDFISH & value.keys():
        return Log(name, line)
    return Log(name, b"", f"line {number} has none of {', '.join(TEXTS)}")


def _name(value: dict[str, Any]) -> str:
    found = (value[key] for key in NAMES if isinstance(value.get(key), str | int) and not isinstance(value[key], bool))
    return next((str(each) for each in found if each != ""), "")


def _content(value: Any) -> str | None:
    """The text of a log; None when it is nothing to read."""
    if isinstance(value, str):
        return value
    if isinstance(value, dict):
        return json.dumps(value)
    items = value if isinstance(value, list) else [value]
    if any(isinstance(item, dict) for item in items):
        return json.dumps(items)
    parts = [item if isinstance(item, str) else _code(item) for item in items]
    return None if None in parts else "\n".join(map(str, parts))


def _code(value: Any) -> str | None:
    """A number as a code; None when it cannot be one."""
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 16 ** WIDTHS[-1]:
        return None
    digits = f"{value:X}"
    return f"0x{digits.zfill(next(width for width in WIDTHS if width >= len(digits)))}"
