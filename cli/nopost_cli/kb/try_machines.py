"""`nopost kb try --machines`: the dialogue played against answer sheets, and what it took."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from nopost_cli.kb.try_results import LABEL_WIDTH, read_folder, result_data, share_text, tell
from nopost_cli.shared.terminal import make_console, print_json

if TYPE_CHECKING:
    from nopost.evaluation.answer_sheets import AnswerSheets
    from nopost.evaluation.sheet_player import PlayedMachine, TrialSummary
    from nopost.knowledge.model import Knowledge

COUNTED = {
    "moves": ("Moves", ".1f"),
    "screens": ("Screens", ".1f"),
    "wrong_fixes": ("Wrong fixes", ".2f"),
    "wrong_purchases": ("Wrong purchases", ".2f"),
    "cost": ("Cost", ".0f"),
}
"""What is counted of each machine: how it is called, and how its mean is written."""
COUNT_WIDTH = 18


def try_machines(
    knowledge: Knowledge, kb: Path | None, folder: Path, *, listed: bool, as_json: bool, workers: int | None
) -> None:
    """Play every sheet of a folder and tell what came of it. Raises KnowledgeError when there is none that can be played."""
    from nopost.evaluation.answer_sheets import read_sheets
    from nopost.evaluation.sheet_player import summarise

    found = read_folder(folder, lambda: read_sheets(folder, knowledge), lambda found: found.sheets, "answer sheets")
    played = _play(knowledge, kb, found, workers)
    summary = summarise(played)
    if as_json:
        trials = [asdict(machine) | {"screens": machine.screens} for machine in played]
        print_json("machine-trial", result_data(knowledge, asdict(summary), trials, found))
        return
    tell((*machine_summary_lines(summary), *(machine_lines(played) if listed else ())), found)


def _play(knowledge: Knowledge, kb: Path | None, found: AnswerSheets, workers: int | None) -> list[PlayedMachine]:
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    from nopost.evaluation.price_list import read_prices
    from nopost.evaluation.sheet_player import play_sheets

    prices, console = read_prices(kb), make_console(stderr=True)
    columns = (TextColumn("Machines"), BarColumn(), TextColumn("{task.completed:.0f}/{task.total:.0f}"), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("", total=len(found.sheets))
        return play_sheets(knowledge, found.sheets, prices, None, workers, lambda done: progress.advance(task, done))


def machine_summary_lines(summary: TrialSummary) -> Iterator[str]:
    """The figures of all machines."""
    yield f"{summary.machines} machine{'s' if summary.machines != 1 else ''} played"
    shares = (
        ("Mended", summary.mended),
        ("Mended, or handed over with the right cause first", summary.mended_or_found),
        ("Right cause first at the end", summary.cause_first),
        ("Right area first at the end", summary.area_first),
    )
    yield from (f"{label:<{LABEL_WIDTH}}{share_text(share):>8}" for label, share in shares)
    yield ""
    yield f"{'For each machine':<{COUNT_WIDTH}}{'median':>8}{'mean':>9}"
    for name, (label, style) in COUNTED.items():
        average = summary.averages[name]
        median = f"{average.median:.0f}" if name == "cost" else f"{average.median:g}"
        yield f"{label:<{COUNT_WIDTH}}{median:>8}{average.mean:>9{style}}"


def machine_lines(played: Sequence[PlayedMachine]) -> Iterator[str]:
    """Each machine with its path, the worst first; a fix has a star."""
    for machine in sorted(played, key=lambda machine: machine.badness):
        yield ""
        place = f"place {machine.cause_place}" if machine.cause_place else "not known"
        end = "mended" if machine.mended else "handed over"
        cost = f"cost {machine.cost:.0f}"
        yield f"{machine.case}: {end}, {machine.causes[0]} at {place}, wrong fixes {machine.wrong_fixes}, {cost}"
        screens = (
            ", ".join(f"*{name}" if screen.is_fix else f"{name}={came}" for name, came in screen.items) for screen in machine.path
        )
        yield f"    {' > '.join(screens)}"
