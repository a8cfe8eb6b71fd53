"""What a cell or a short line can be: a version, a size, a check sum, a file name."""

from __future__ import annotations

import re

from nopost.firmware.notes.dates import whole_date

MOST_VERSION = 40
_SIZE = re.compile(
    r"(?P<n>\d{1,3}(?:[ ,.']\d{3}){1,3}|\d{1,12}(?:[.,]\d{1,4})?)\s*(?P<unit>bytes?|[kmg]i?b|[kmg]bytes|b)?", re.IGNORECASE
)
_UNITS = {
    "": 1,
    "b": 1,
    "byte": 1,
    "bytes": 1,
    "kb": 1 << 10,
    "kib": 1 << 10,
    "mb": 1 << 20,
    "mib": 1 << 20,
    "gb": 1 << 30,
    "gib": 1 << 30,
    "kbytes": 1 << 10,
    "mbytes": 1 << 20,
    "gbytes": 1 << 30,
}
_SHA = re.compile(r"(?<![0-9a-fA-F])[0-9a-fA-F]{64}(?![0-9a-fA-F])")
_FILE = re.compile(r"[^\s/\\|<>\"']{1,100}\.(?:cap|rom|bin|fd|zip|img|efi|exe|hex|7z|rar|upd|flash)", re.IGNORECASE)
_CALLED = re.compile(
    r"(?:(?:firmware|bios|uefi|system|board|version|release|ver|rev|revision|build)\b\.?[\s:#]*){1,4}", re.IGNORECASE
)
_DECOR = " \t*_#`[]()<>:,"


def bare_version(text: str) -> str:
    """A version as published, without what stands around it: "Version 1.12:" is 1.12."""
    text = text.strip(_DECOR)
    called = _CALLED.match(text)
    rest = text[called.end() :].strip(_DECOR) if called else text
    return rest or text


def is_version(text: str) -> bool:
    """Whether it can be a version: short, with a digit, and nothing else that is known."""
    text = bare_version(text)
    if not 1 <= len(text) <= MOST_VERSION or not any(c.isdigit() for c in text) or len(text.split()) > 3:
        return False
    return not (whole_date(text) or is_file(text) or _SHA.search(text) or has_unit(text))


def has_unit(text: str) -> bool:
    """Whether it is a number with a unit of size."""
    found = _SIZE.fullmatch(text.strip())
    return bool(found and found["unit"])


def is_size(text: str) -> bool:
    """Whether it is a size: a number with a unit, or the bytes of a chip."""
    text = text.strip()
    return has_unit(text) or (text.isdecimal() and 5 <= len(text) <= 10 and int(text) & (int(text) - 1) == 0)


def size_of(text: str) -> tuple[int, bool]:
    """Bytes, and whether that is exact; 0 for what is no size. Chips hold powers of two, so "16 MB" is taken as 16 MiB."""
    found = _SIZE.fullmatch(text.strip())
    if not found:
        return 0, False
    number, unit = found["n"], _UNITS[(found["unit"] or "").lower()]
    if unit == 1:
        digits = re.sub(r"\D", "", number)
        return int(digits), "." not in number or bool(re.fullmatch(r"\d{1,3}(?:\.\d{3})+", number))
    value = number.replace("'", "").replace(" ", "").replace(",", ".")
    size = float(value) * unit if value.count(".") < 2 else 0.0
    whole = size.is_integer() and size > 0 and int(size) & (int(size) - 1) == 0
    return (int(size), False) if whole else (0, False)


def sha_of(text: str) -> str:
    """The SHA-256 in a text, in small letters."""
    found = _SHA.search(text)
    return found[0].lower() if found else ""


def is_file(text: str) -> bool:
    """Whether it is the name of an image or an archive."""
    return bool(_FILE.fullmatch(text.strip()))


def version_key(text: str) -> str:
    """What two writings of one version have in common: letter case and a "v" before it do not count."""
    key = " ".join(bare_version(text).casefold().split())
    return key[1:].lstrip(".") if key.startswith("v") and key[1:].lstrip(".")[:1].isdigit() else key


def shape(text: str) -> str:
    """How a version is built: digits as 9, letters as a."""
    return re.sub(r"[a-z]+", "a", re.sub(r"\d+", "9", text.casefold()))
