"""The screen of what is there: all entries of the inventory with their choices, and what a typed line means on it.

An entry has a number and its choices have letters: `2a 5b` tells two entries, `2-` takes one back. The tools at hand are picked
from a list of their own.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from string import ascii_lowercase

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from nopost.diagnosis.inventory import EntryView, ToldBy
from nopost.knowledge.model import Tool
from nopost_cli.shared import screens
from nopost_cli.shared.lettered import LetteredLine, read_lettered
from nopost_cli.shared.terminal import clean

TITLE = "What is there"
TOOLS = "t"
"""Typed for the list of tools."""
HOW = "Type what you know, such as 1a 4b; 1- takes back; Enter goes on (later: m)."
_SOURCE = {ToldBy.ANSWER: "by an answer", ToldBy.RECORD: "by the board's record"}


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


def read_inventory(typed: str, inventory: Sequence[EntryView]) -> LetteredLine:
    """What a line tells of the entries; a dash takes one back."""
    return read_lettered(typed, [(entry.id, [choice for choice, _ in entry.choices]) for entry in inventory])


def read_tools(typed: str, tools: Mapping[str, Tool], at_hand: Collection[str]) -> tuple[frozenset[str], str]:
    """The tools at hand after a line of numbers, or those from before and what is wrong."""
    numbers = re.split(r"[\s,;]+", typed.strip()) if typed.strip() else []
    names, have = list(tools), set(at_hand)
    for number in numbers:
        if not number.isdecimal() or len(number) > 3 or not 1 <= int(number) <= len(names):
            return frozenset(at_hand), f"{number[:20]!r} is no number of the list; it goes from 1 to {len(names)}."
        have ^= {names[int(number) - 1]}
    return frozenset(have), ""
