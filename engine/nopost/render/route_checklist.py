"""A firmware plan written down in Markdown and HTML, with boxes to tick on paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from nopost import __version__
from nopost.firmware.route.route_plan import FirmwarePlan, move_words, ready_list
from nopost.firmware.route.route_search import Route
from nopost.firmware.route.task import Way
from nopost.knowledge.model import Effort, Knowledge
from nopost.render.documents import html_document, markdown_document

PARTS = (
    ("before", "Check before"),
    ("action", "Do"),
    ("see", "What to see"),
    ("after", "Check after"),
    ("wrong", "If it goes wrong"),
)
"""Field of a step -> its heading."""
TICKED = frozenset({"Check before", "Do", "Check after", "Have ready", "Set again", "Before calling it well"})
CRITERION_WORDS = {"minutes": "the fewest minutes", "money": "the least money", "risk": "the least risk"}


@dataclass(frozen=True, slots=True)
class ChecklistBlock:
    """A heading with its level, and lines."""

    level: int
    title: str
    lines: tuple[str, ...] = ()

    @property
    def ticked(self) -> bool:
        """Whether each line gets a box."""
        return self.title in TICKED


def plan_title(plan: FirmwarePlan) -> str:
    """The plan's title."""
    task = plan.task
    release = task.version(task.start.release) if task.is_release_known else "a release that nobody knows"
    return f"{task.board.variant}: from {release} to {task.title(task.target)}"


def checklist_blocks(knowledge: Knowledge, plan: FirmwarePlan, refusals: bool = True, currency: str = "") -> list[ChecklistBlock]:
    """What the checklist says, in order. `currency`: what money is shown in, plain units without one."""
    found = [ChecklistBlock(1, "In short", tuple(plan_summary(plan, currency)))]
    if plan.steps:
        found.append(ChecklistBlock(1, "Have ready", tuple(ready_list(plan.task, plan.routes[0].moves))))
    told: set[str] = set()
    for number, step in enumerate(plan.steps, 1):
        found.append(ChecklistBlock(1, f"Step {number}: {step.title}"))
        cautions = [name for name in step.hazards if name in knowledge.hazards]
        found.append(ChecklistBlock(2, "Caution", tuple(_caution(knowledge, name, name in told) for name in cautions)))
        told |= set(cautions)
        found += [ChecklistBlock(2, heading, getattr(step, part)) for part, heading in PARTS]
    if plan.steps:
        found.append(ChecklistBlock(1, "Set again", knowledge.base.reset_settings))
        found.append(ChecklistBlock(1, "Before calling it well", knowledge.base.proof))
    found += [ChecklistBlock(1, f"Missing: {each.what}", each.ways) for each in plan.missing]
    found.append(ChecklistBlock(1, "Other routes", tuple(_other(plan, route, currency) for route in plan.routes[1:])))
    if refusals:
        found.append(ChecklistBlock(1, "Why not", tuple(why_not_lines(plan))))
    return [block for block in found if block.lines or block.title.startswith(("Step ", "Missing"))]


def plan_summary(plan: FirmwarePlan, currency: str = "") -> list[str]:
    """A few lines: what it takes, and the steps by name."""
    if plan.ready:
        return ["Nothing has to be written: the release on the board knows the CPU that is fitted."]
    if not plan.routes:
        return ["No route leads there with what there is."]
    route = plan.routes[0]
    best = [CRITERION_WORDS[each] for each in route.best_in]
    lines = [f"{number}. {step.title}" for number, step in enumerate(plan.steps, 1)]
    return [f"{len(lines)} step{'s' if len(lines) != 1 else ''}, {effort_words(route.effort, currency)}.", *lines] + (
        [f"It also has {' and '.join(best)} of all routes."] if best else []
    )


def why_not_lines(plan: FirmwarePlan) -> list[str]:
    """Each refused move with its reason; what is refused for the same reason later on is not said again."""
    task, lines, told = plan.task, list[str](), dict[tuple[Way, str], set[int | str]]()
    for each in plan.refused:
        known = told.setdefault((each.way, each.reason), set())
        new = tuple(target for target in each.targets if target not in known)
        known |= {*new, each.state.release}
        if new:
            where = f"With {task.version(each.state.release)} and {task.title(each.state.cpu)}"
            lines.append(f"{where}: {move_words(task, each.way, new)}: {each.reason}.")
    return lines


def effort_words(effort: Effort, currency: str = "") -> str:
    """An effort in words, money in plain units without a currency."""
    unit = f" {currency}" if currency else ""
    return f"{effort.minutes:.0f} min, money {effort.money:.0f}{unit}, risk worth {effort.risk:.0f}{unit}"


def _other(plan: FirmwarePlan, route: Route, currency: str) -> str:
    moves = "; ".join(move_words(plan.task, move.way, (move.to,)) for move in route.moves)
    return (
        f"With {' and '.join(CRITERION_WORDS[each] for each in route.best_in)} ({effort_words(route.effort, currency)}): {moves}."
    )


def _caution(knowledge: Knowledge, name: str, told: bool) -> str:
    hazard = knowledge.hazards[name]
    return f"{hazard.title}." if told else f"{hazard.title}. {hazard.caution}"


def markdown_plan(knowledge: Knowledge, plan: FirmwarePlan, currency: str = "") -> str:
    """The checklist in Markdown."""
    return markdown_document("route_checklist.md", **_values(knowledge, plan, currency))


def html_plan(knowledge: Knowledge, plan: FirmwarePlan, currency: str = "") -> str:
    """The checklist as one HTML page that prints well in black and white."""
    return html_document("route_checklist.html", **_values(knowledge, plan, currency))


def _values(knowledge: Knowledge, plan: FirmwarePlan, currency: str) -> dict[str, Any]:
    """What both templates are given."""
    blocks = checklist_blocks(knowledge, plan, currency=currency)
    return {"title": plan_title(plan), "blocks": blocks, "footer": _footer(knowledge)}


def _footer(knowledge: Knowledge) -> str:
    base = knowledge.base
    return f"Written by nopost {__version__} from the knowledge base {base.name}, edition {base.edition}."
