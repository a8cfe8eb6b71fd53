"""A firmware plan on screen: in full, and as a line beside a step."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from nopost.diagnosis.firmware_offer import PlanOffer, offer_lines
from nopost.firmware.route.route_plan import FirmwarePlan
from nopost.firmware.route.task import WRITES, Way
from nopost.knowledge.model import Knowledge
from nopost.render.route_checklist import checklist_blocks, plan_title
from nopost_cli.shared import screens
from nopost_cli.shared.terminal import clean


def offer_parts(offer: PlanOffer | None) -> Iterator[RenderableType]:
    """The offer in a few lines, with the command that makes the plan."""
    if offer is not None:
        for line in offer_lines(offer):
            yield screens.line("Plan", line)
        yield screens.line("", offer.command)


def plan_parts(
    console: Console, knowledge: Knowledge, plan: FirmwarePlan, currency: str, with_nopost: Sequence[str] = ()
) -> Iterator[RenderableType]:
    """The whole checklist; `with_nopost`: command lines that check what was done."""
    yield Text(clean(plan_title(plan)), style="bold")
    for block in checklist_blocks(knowledge, plan, currency=currency):
        yield Text()
        if block.level == 1:
            yield _heading(console, block.title)
        else:
            yield Text(clean(block.title), style="bold yellow" if block.title == "Caution" else "bold")
        yield from (_marked("[ ]" if block.ticked else "-", line) for line in block.lines)
    if with_nopost:
        yield Text()
        yield screens.heading(console, "Check with nopost")
        yield from (_marked("-", line) for line in with_nopost)


def check_lines(plan: FirmwarePlan, board: str, cpu: str, kb: str) -> Iterator[str]:
    """What to type before and after the steps; when nothing has to be written, what goes on from there."""
    more = ["--kb", kb] if kb else []
    if plan.ready:
        version = plan.task.version(plan.task.start.release)
        words = ["nopost", "diagnose", "--board", board, "--cpu", cpu, "--firmware", version, *more]
        yield f"If it does not start all the same: {shlex.join(words)}"
        return
    written = [step for step in plan.steps if step.way in WRITES]
    for step in written:
        words = ["nopost", "image", "FILE", "--board", board, "--release", step.to, *more]
        yield f"The image of {step.to}: {shlex.join(words)}"
    if any(step.way is Way.BUTTON for step in written):
        yield f"The stick: {shlex.join(['nopost', 'stick', 'DEVICE', '--board', board, *more])}"
    if plan.steps:
        end = plan.task.version(plan.routes[0].moves[-1].after.release)
        words = ["nopost", "verify", "--board", board, "--cpu", cpu, "--firmware", end, *more]
        yield f"The machine, when it starts again: {shlex.join(words)}"


def _heading(console: Console, title: str) -> RenderableType:
    """A heading; one that does not fit on a line is not cut but wrapped."""
    if len(title) + 4 <= console.width:
        return screens.heading(console, title)
    return Text(clean(title), style="bold")


def _marked(mark: str, text: str) -> RenderableType:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True, width=3, justify="right")
    grid.add_column(ratio=1, overflow="fold")
    grid.add_row(Text(mark), Text(clean(text)))
    return grid
