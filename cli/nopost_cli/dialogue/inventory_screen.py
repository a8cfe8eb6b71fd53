"""The screen of what is there: all entries of the inventory with their choices, and what a typed line means on it.

An entry has a number and its choices have letters: `2a 5b` tells two entries, `2-` takes one back. The tools at hand are picked
from a list of their own.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from string import ascii_lowercase

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from nopost.diagnosis.inventory import EntryView, ToldBy
from nopost.knowledge.model import Tool
from nopost_cli.shared import screens
from nopost_cli.shared.terminal import clean

TITLE = "What is there"
TOOLS = "t"
"""Typed for the list of tools."""
HOW = "Type what you know, such as 1a 4b; 1- takes back; Enter goes on. It can be told later, too (m)."
_PAIR = re.compile(r"(\d{1,3})([a-z]|-)")
_SOURCE = {ToldBy.ANSWER: "by an answer", ToldBy.RECORD: "by the board's record"}


@dataclass(frozen=True, slots=True)
class Told:
    """What a line tells: entry -> choice, "" to take it back; or why it cannot be understood. `other`: it is no line of pairs."""

    there: Mapping[str, str]
    reply: str = ""
    other: bool = False


def inventory_screen(
    console: Console, inventory: Sequence[EntryView], tools: Mapping[str, Tool], at_hand: Collection[str]
) -> RenderableType:
    """All entries, a line each where the terminal is wide enough, with what is known of them marked."""
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", width=4, style="bold", no_wrap=True)
    table.add_column(min_width=16, max_width=34)
    table.add_column(ratio=1)
    for number, entry in enumerate(inventory, 1):
        table.add_row(str(number), Text(clean(entry.question)), _choices(entry))
    if tools:
        have = [tools[name].title for name in tools if name in at_hand]
        told = "; ".join(have) if have else "none told"
        table.add_row(TOOLS, Text("Tools and spares at hand"), Text(clean(told), overflow="ellipsis", no_wrap=True))
    return Group(screens.heading(console, TITLE), table, Text(HOW, style="dim"))


def tools_screen(console: Console, tools: Mapping[str, Tool], at_hand: Collection[str]) -> RenderableType:
    """The tools and spares with their numbers; those at hand are marked."""
    lines = [f"{tool.title}{' (at hand)' if name in at_hand else ''}" for name, tool in tools.items()]
    how = Text("Numbers of what is at hand, such as 1 4 7; a number again takes it back; Enter changes nothing", style="dim")
    return Group(screens.heading(console, "Tools and spares at hand"), screens.numbered(lines), how)


def _choices(entry: EntryView) -> Text:
    """The choices with their letters; the one that holds stands in brackets, with who told it when that was not the person."""
    told = Text()
    for letter, (choice, text) in zip(ascii_lowercase, entry.choices, strict=False):
        chosen = choice == entry.told
        said = f"[{letter} {clean(text)}]" if chosen else f"{letter} {clean(text)}"
        told.append(said, style="bold" if chosen else "")
        told.append("  ")
    if entry.by in _SOURCE:
        told.append(_SOURCE[entry.by], style="dim")
    return told


def read_inventory(typed: str, inventory: Sequence[EntryView]) -> Told:
    """What a line tells of the entries. Blanks and commas part the pairs, and may be left out."""
    text = re.sub(r"[\s,;]+", "", typed.casefold())
    pairs = _PAIR.findall(text)
    if not text or "".join(number + letter for number, letter in pairs) != text:
        bare = f"An entry's number and a choice's letter, such as {typed.strip()[:3]}a."
        return Told({}, reply=bare) if text.isdecimal() else Told({}, other=True)
    there: dict[str, str] = {}
    for number, letter in pairs:
        if not 1 <= int(number) <= len(inventory):
            return Told({}, reply=f"There is no number {number}; it goes from 1 to {len(inventory)}.")
        entry = inventory[int(number) - 1]
        place = ascii_lowercase.find(letter)
        if place >= len(entry.choices):
            last = ascii_lowercase[len(entry.choices) - 1]
            return Told({}, reply=f"{number} goes from a to {last}.")
        there[entry.id] = entry.choices[place][0] if place >= 0 else ""
    return Told(there)


def read_tools(typed: str, tools: Mapping[str, Tool], at_hand: Collection[str]) -> tuple[frozenset[str], str]:
    """The tools at hand after a line of numbers, or those from before and what is wrong."""
    numbers = re.split(r"[\s,;]+", typed.strip()) if typed.strip() else []
    names, have = list(tools), set(at_hand)
    for number in numbers:
        if not number.isdecimal() or len(number) > 3 or not 1 <= int(number) <= len(names):
            return frozenset(at_hand), f"{number[:20]!r} is no number of the list; it goes from 1 to {len(names)}."
        have ^= {names[int(number) - 1]}
    return frozenset(have), ""
