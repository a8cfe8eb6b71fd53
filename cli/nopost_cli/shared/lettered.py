"""Several things on one screen: each has a number and its choices have letters, so that `2a 5b` tells two of them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import ascii_lowercase

_PAIR = re.compile(r"(\d{1,3})([a-z]|-)")


@dataclass(frozen=True, slots=True)
class LetteredLine:
    """What a line tells: id -> choice, "" where a dash was typed for it; or why it cannot be understood. `other`: it is no line
    of pairs."""

    told: Mapping[str, str]
    reply: str = ""
    other: bool = False


def read_lettered(typed: str, entries: Sequence[tuple[str, Sequence[str]]]) -> LetteredLine:
    """What a line tells of these entries (id, ids of its choices). Blanks and commas part the pairs, and may be left out."""
    text = re.sub(r"[\s,;]+", "", typed.casefold())
    pairs = _PAIR.findall(text)
    if not text or "".join(number + letter for number, letter in pairs) != text:
        bare = f"An entry's number and a choice's letter, such as {typed.strip()[:3]}a."
        return LetteredLine({}, reply=bare) if text.isdecimal() else LetteredLine({}, other=True)
    told: dict[str, str] = {}
    for number, letter in pairs:
        if not 1 <= int(number) <= len(entries):
            return LetteredLine({}, reply=f"There is no number {number}; it goes from 1 to {len(entries)}.")
        name, choices = entries[int(number) - 1]
        place = ascii_lowercase.find(letter)
        if place >= len(choices):
            return LetteredLine({}, reply=f"{number} goes from a to {ascii_lowercase[len(choices) - 1]}.")
        told[name] = choices[place] if place >= 0 else ""
    return LetteredLine(told)
