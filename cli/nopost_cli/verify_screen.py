"""What `nopost verify` shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from nopost.firmware.expected import Expected
from nopost.firmware.machine import Machine
from nopost.firmware.remark import Level, Remark
from nopost.knowledge.model import Knowledge
from nopost_cli.envelope import print_json
from nopost_cli.screens import bullet_list
from nopost_cli.terminal import clean, make_console

SAID = {Level.GOOD: "ok", Level.FIX: "wrong", Level.CHECK: "cannot tell", Level.NOTE: "note"}
STYLES = {Level.GOOD: "green", Level.FIX: "bold red", Level.CHECK: "yellow", Level.NOTE: ""}


def show(knowledge: Knowledge, expected: Expected, machine: Machine, checks: Sequence[Remark], as_json: bool) -> None:
    """The checks, a line that sums them up, and what an update resets."""
    if as_json:
        print_json("verify", _data(knowledge, expected, machine, checks))
        return
    console = make_console()
    for note in machine.notes:
        console.print(Text(clean(note), style="bold"))
    console.print(_table(checks))
    console.print(Text(f"\n{_sum(checks)}", style="bold"))
    console.print(bullet_list(console, "An update resets these settings; set them again", knowledge.base.reset_settings))


def _table(checks: Sequence[Remark]) -> RenderableType:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(width=11, no_wrap=True)
    grid.add_column(ratio=1)
    for check in checks:
        grid.add_row(Text(SAID[check.level], style=STYLES[check.level]), Text(clean(check.text)))
        if check.do:
            grid.add_row("", Text(clean(check.do), style="dim"))
    return grid


def _sum(checks: Sequence[Remark]) -> str:
    counts = [(sum(check.level is verdict for check in checks), said) for verdict, said in SAID.items()]
    wrong = sum(check.level is Level.FIX for check in checks)
    begin = " Begin with the first that is wrong: it may explain the next." if wrong > 1 else ""
    return "Checks: " + ", ".join(f"{number} {said}" for number, said in counts if number) + f".{begin}"


def _data(knowledge: Knowledge, expected: Expected, machine: Machine, checks: Sequence[Remark]) -> dict[str, Any]:
    return {
        "board": expected.board.id if expected.board else None,
        "cpu": expected.cpu.id if expected.cpu else None,
        "wrong": sum(check.level is Level.FIX for check in checks),
        "checks": [
            {"id": check.code, "verdict": SAID[check.level].replace(" ", "-"), "line": check.text, "do": check.do}
            for check in checks
        ],
        "machine": asdict(machine),
        "reset_settings": list(knowledge.base.reset_settings),
    }
