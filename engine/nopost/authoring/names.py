"""Names of items: proposed from what a person wrote, free in their folder."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection

LONGEST = 60
_ID = re.compile("[a-z0-9]+(-[a-z0-9]+)*")
_LITTLE = frozenset("a an the is are was of or and to in on at its it with for does do what".split())  # noqa: SIM905


def proposed_id(title: str, taken: Collection[str] = (), words: int = 4) -> str:
    """An id from a title: its first words that mean something, with a number when it is taken; "" when there are no letters."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().casefold().replace("'", "")
    found = re.findall("[a-z0-9]+", plain)
    telling = [word for word in found if word not in _LITTLE] or found
    name = "-".join(telling[:words])[: LONGEST - 4].strip("-")
    if name not in taken:
        return name
    return next(numbered for number in range(2, len(taken) + 3) if (numbered := f"{name}-{number}") not in taken)


def id_fault(name: str) -> str:
    """What is wrong with an id, in words; "" when it is good."""
    if not _ID.fullmatch(name):
        return "an id is made of small letters, digits and single hyphens, as in dry-tank"
    return f"at most {LONGEST} characters" if len(name) > LONGEST else ""
