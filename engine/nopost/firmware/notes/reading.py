"""Bytes of a release list as text: encoding found out, size bounded, what no record may hold taken out."""

from __future__ import annotations

import codecs
import re

from nopost.errors import RecordError

MOST_BYTES = 2 * 1024 * 1024
"""More is no list of releases."""
_BREAKS = re.compile("\r\n?|[\x0b\x0c\x85\u2028\u2029]")
_UNFIT = re.compile("[^\t\n -~\xa0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")
_SPACES = re.compile("[\u00a0\u1680\u2000-\u200b\u202f\u205f\u3000]")
_BOMS = (
    (codecs.BOM_UTF8, "utf-8", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
)


def decode(raw: bytes, name: str) -> tuple[str, str]:
    """Text and the name of its encoding. Raises RecordError for what is too large, or is no text."""
    if len(raw) > MOST_BYTES:
        raise RecordError(f"{name}: larger than 2 MB, which no list of releases is; save the list alone")
    text, encoding = _decoded(raw)
    if text.count("\0") > len(text) // 100:
        raise RecordError(f"{name}: this is not text; save the list as .csv, .tsv or .txt")
    return tidy(text), encoding


def tidy(text: str) -> str:
    """Text with plain line breaks and spaces, without characters that a record must not hold."""
    return _UNFIT.sub(" ", _SPACES.sub(" ", _BREAKS.sub("\n", text)))


def _decoded(raw: bytes) -> tuple[str, str]:
    for bom, codec, shown in _BOMS:
        if raw.startswith(bom):
            return raw[len(bom) :].decode(codec, "replace"), shown
    half = len(raw) // 2
    if half > 4:  # UTF-16 without its mark: in plain text every second byte is zero
        for codec, offset in (("utf-16-le", 1), ("utf-16-be", 0)):
            if raw[offset::2].count(0) > half * 0.7 and raw[1 - offset :: 2].count(0) < half * 0.1:
                return raw.decode(codec, "replace"), "UTF-16"
    try:
        return raw.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        pass
    try:
        return raw.decode("cp1252"), "Latin-1"
    except UnicodeDecodeError:
        return raw.decode("latin-1"), "Latin-1"
