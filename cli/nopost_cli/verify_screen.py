"""What `nopost verify` shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from nopost.firmware.after_check import Check, Expected, Verdict
from nopost.firmware.machine import Machine
from nopost.knowledge.model import Knowledge
from nopost_cli.envelope import print_json
from nopost_cli.screens import bullet_list
from nopost_cli.terminal import clean, make_console

SAID = {Verdict.OK: "ok", Verdict.WRONG: "wrong", Verdict.OPEN: "cannot tell"}
STYLES = {Verdict.OK: "green", Verdict.WRONG: "bold red", Verdict.OPEN: "yellow"}


def show(knowledge: Knowledge, expected: Expected, machine: Machine, checks: Sequence[Check], as_json: bool) -> None:
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


def _table(checks: Sequence[Check]) -> RenderableType:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(width=11, no_wrap=True)
    grid.add_column(ratio=1)
    for check in checks:
        grid.add_row(Text(SAID[check.verdict], style=STYLES[check.verdict]), Text(clean(check.line)))
        if check.do:
            grid.add_row("", Text(clean(check.do), style="dim"))
    return grid


def _sum(checks: Sequence[Check]) -> str:
    counts = [(sum(check.verdict is verdict for check in checks), said) for verdict, said in SAID.items()]
    return "Checks: " + ", ".join(f"{number} {said}" for number, said in counts if number) + "."


def _data(knowledge: Knowledge, expected: Expected, machine: Machine, checks: Sequence[Check]) -> dict[str, Any]:
    return {
        "board": expected.board.id if expected.board else None,
        "cpu": expected.cpu.id if expected.cpu else None,
        "wrong": sum(check.verdict is Verdict.WRONG for check in checks),
        "checks": [asdict(check) for check in checks],
        "machine": asdict(machine),
        "reset_settings": list(knowledge.base.reset_settings),
    }
