"""How a found name differs from the wanted one, letter for letter. The kinds of slips are common practice, no source."""

from __future__ import annotations

import difflib
import enum
import re
import unicodedata

NEAR = 0.8
"""Likeness from which a name counts as a slip of the wanted one."""
_COPY = re.compile(r"[ _]?\(\d{1,3}\)|[ _-]+copy(?: ?\d{1,3}| ?\(\d{1,3}\))?(?=\.|$)|^copy (?:\(\d{1,3}\) )?of ", re.IGNORECASE)
_BAD_83 = set(b'"*+,/:;<=>?[\\]|')
_RESERVED = {"CON", "PRN", "AUX", "NUL", *(f"COM{n}" for n in range(1, 10)), *(f"LPT{n}" for n in range(1, 10))}


class Slip(enum.StrEnum):
    """What keeps a name from being the wanted one, the smallest difference first."""

    SAME = "same"
    CASE = "case"
    BLANKS = "blanks"
    TWICE = "ending added"
    COPY = "copy"
    ENDING = "other ending"
    NEAR = "near"
    OTHER = "other"


def slip(name: str, wanted: str) -> Slip:
    """How `name` differs from `wanted`."""
    if name == wanted:
        return Slip.SAME
    have, want = name.casefold(), wanted.casefold()
    if have == want:
        return Slip.CASE
    bare = _bare(have)
    if bare == _bare(want):
        return Slip.BLANKS
    if bare.startswith(want + "."):
        return Slip.TWICE
    plain = _COPY.sub("", have).strip()
    if plain != have and (plain == want or plain.startswith(want + ".")):
        return Slip.COPY
    if _stem(have) == _stem(want):
        return Slip.ENDING
    matcher = difflib.SequenceMatcher(None, have, want, autojunk=False)
    if matcher.quick_ratio() >= NEAR and matcher.ratio() >= NEAR:
        return Slip.NEAR
    return Slip.OTHER


def _bare(name: str) -> str:
    """Without blanks and invisible characters, wide letters as plain ones."""
    kept = (c for c in unicodedata.normalize("NFKC", name) if not c.isspace() and unicodedata.category(c) != "Cf")
    return "".join(kept).rstrip(".")


def _stem(name: str) -> str:
    stem, dot, _ = name.rpartition(".")
    return stem if dot else name


def ending(name: str) -> str:
    """What stands after the last dot, in small letters."""
    return name.rpartition(".")[2].casefold() if "." in name else ""


def fits_83(name: str) -> bool:
    """Whether the name is one of at most eight letters and three after the dot, as FAT stores it (edk2 FatPkg)."""
    stem, dot, tail = name.upper().partition(".")
    if not 1 <= len(stem) <= 8 or len(tail) > 3 or "." in tail or (dot and not tail) or stem in _RESERVED:
        return False
    try:
        raw = (stem + tail).encode("cp437")
    except UnicodeEncodeError:
        return False
    return not any(byte <= 0x20 or byte in _BAD_83 for byte in raw)
