"""A firmware plan: the routes, why other moves are refused, and, when no route leads there, what exactly is missing
and how people get it; in a few words and as JSON.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from nopost.firmware.record_facts import is_family_recorded
from nopost.firmware.route.moves import Prices, Refusal, refusals
from nopost.firmware.route.route_search import CRITERIA, Route, routes
from nopost.firmware.route.route_steps import RouteStep, steps_of
from nopost.firmware.route.task import BORROWED, EMPTY, SECOND_MACHINE, STICK, RouteMove, RouteTask, Way
from nopost.knowledge.model import Effort


@dataclass(frozen=True, slots=True)
class MissingItem:
    """One thing that would open a route by itself: what `kind` of thing, `what` exactly, and the `ways` in which people get
    it."""

    kind: str
    what: str
    ways: tuple[str, ...]


DONOR_WAYS = (
    "Ask the seller of the board or of the CPU: many lend one for this, or write the release at the counter.",
    "Buy the cheapest used one of the family and sell it again; look for one with graphics if the board needs it for a picture.",
    "Ask a repair café, a school or a club nearby whether you may bring the board and use theirs for an hour.",
)
FIRST_WAY = (
    "Look at the board's CPU list from which release it names this CPU: if from the first, write its family under first_families "
    "in the record, else under adds of that release. Then plan anew."
)
RELEASE_WAYS = (
    "Look at the support page for exactly this variant and revision; a test release may stand on a page of its own.",
    "Ask the maker of the board whether a release for this family is planned. If it is not, this CPU will not run here.",
    "Take a CPU of a family that the board knows, or another board.",
)
SHOP_WAYS = (
    "A repair workshop with a programmer for firmware chips can write it without a CPU; ask for the price before you bring it.",
    "The maker of the board may do it under warranty.",
)
SOCKET_WAYS = ("No firmware changes the socket. Take a CPU made for it, or another board.",)


def missing_items(task: RouteTask, prices: Prices, target_socket: str = "") -> list[MissingItem]:
    """What is missing, the nearest first; empty when there is a route."""
    board, family = task.board, task.family(task.target)
    if target_socket and target_socket != board.socket:
        what = f"{task.title(task.target)} is made for socket {target_socket}; {board.variant} has {board.socket}"
        return [MissingItem("socket", what, SOCKET_WAYS)]
    knowing = [index for index, known in enumerate(task.knows) if family in known]
    if not knowing:
        what = f"a release of {board.variant} that knows family {family}; none in the record does"
        if not is_family_recorded(board, family):
            what += ", but it does not say what the oldest one knows"
            return [MissingItem("record", what, (FIRST_WAY, *RELEASE_WAYS))]
        return [MissingItem("release", what, RELEASE_WAYS)]
    if task.to is not None and task.to not in knowing:
        versions = ", ".join(task.version(index) for index in knowing)
        what = f"a release that knows family {family}: {task.version(task.to)} does not; {versions} would"
        return [MissingItem("release", what, ("Leave the wanted release out, or want one of those.",))]
    if routes(task, prices):
        return []
    return list(_opening(task, prices)) or [_everything(task)]


def _opening(task: RouteTask, prices: Prices) -> Iterator[MissingItem]:
    """Each single thing that would open a route if it were there."""
    donors = [family for family in task.all_families if _with_donor(task, prices, family)]
    if donors:
        yield MissingItem("donor", f"a CPU to lend of family {' or '.join(donors)}", DONOR_WAYS)
    if routes(replace(task, without=task.without - {Way.SHOP}), prices):
        yield MissingItem("shop", "someone who writes the chip from outside", SHOP_WAYS)


def _with_donor(task: RouteTask, prices: Prices, family: str) -> bool:
    start = replace(task.start, have=task.start.have | {f"{BORROWED}{family}"})
    return bool(routes(replace(task, start=start, without=task.without - {Way.SWAP}), prices))


def _everything(task: RouteTask) -> MissingItem:
    knowing = [task.version(i) for i, known in enumerate(task.knows) if task.family(task.target) in known]
    passed = [r.version for r in task.board.releases[: task.start.release + 1] if r.one_way]
    if passed and all(i < task.start.release for i, known in enumerate(task.knows) if task.family(task.target) in known):
        what = f"a newer release that knows it again: {passed[-1]} is one-way, and only {', '.join(knowing)} knew it"
        return MissingItem("release", what, RELEASE_WAYS)
    return MissingItem("several", f"more than one thing at once: a way to get {' or '.join(knowing)} on the board", SHOP_WAYS)


@dataclass(frozen=True, slots=True)
class FirmwarePlan:
    """The best route first, and its `steps`. `refused` covers the start and the state before each step of every route;
    `missing` is empty when there is a route."""

    task: RouteTask
    routes: tuple[Route, ...]
    steps: tuple[RouteStep, ...]
    refused: tuple[Refusal, ...]
    missing: tuple[MissingItem, ...]

    @property
    def ready(self) -> bool:
        """Whether nothing has to be done."""
        return bool(self.routes) and not self.routes[0].moves


def make_plan(task: RouteTask, prices: Prices, target_socket: str = "") -> FirmwarePlan:
    """The plan. `target_socket`: the socket that the target CPU is made for."""
    fits = target_socket in ("", task.board.socket)
    found = routes(task, prices) if fits else []
    states = dict.fromkeys((task.start, *(move.after for route in found for move in route.moves[:-1])))
    ready = bool(found) and not found[0].moves
    return FirmwarePlan(
        task=task,
        routes=tuple(found),
        steps=tuple(steps_of(task, found[0], prices.button_minutes, prices.hazards)) if found else (),
        refused=() if ready else tuple(refusals(task, states)),
        missing=() if found else tuple(missing_items(task, prices, target_socket)),
    )


WAY_WORDS = {
    Way.INSIDE: "write {} from the setup menu",
    Way.BUTTON: "write {} with the button",
    Way.RECOVERY: "write {} through the recovery block",
    Way.SHOP: "have a workshop write {}",
    Way.CHIP: "fit a chip that holds {}",
    Way.SECOND: "start from the second chip{}",
    Way.SWAP: "fit {}",
    Way.BORROW: "borrow and fit {}",
}


def move_words(task: RouteTask, way: Way, targets: tuple[int | str, ...]) -> str:
    """A move, or several of one way, in a few words."""
    if way is Way.SECOND:
        names = f" ({task.version(int(targets[0]))})" if targets and int(targets[0]) >= 0 else ""
    else:
        names = " or ".join(task.title(each) if isinstance(each, str) else task.version(each) for each in targets)
    return WAY_WORDS[way].format(names)


def ready_list(task: RouteTask, moves: tuple[RouteMove, ...]) -> list[str]:
    """What has to be there before the first step: images, stick, computer, CPUs, tools."""
    ways = {move.way for move in moves}
    written = [task.board.releases[move.to] for move in moves if isinstance(move.to, int) and move.way not in (Way.SECOND,)]
    found = [f"Image of {release.version} ({release.date}) for exactly {task.board.variant}" for release in written]
    used = moves[-1].after.have if moves else frozenset()
    if STICK in used and ways & {Way.INSIDE, Way.BUTTON, Way.RECOVERY}:
        found.append("A stick that may be erased")
    if SECOND_MACHINE in used and ways & {Way.BUTTON, Way.RECOVERY}:
        found.append("Another computer with internet")
    cpus = [move.after.cpu for move in moves if move.way in (Way.SWAP, Way.BORROW)]
    found += [task.title(cpu)[:1].upper() + task.title(cpu)[1:] for cpu in dict.fromkeys(cpus) if cpu != EMPTY]
    if cpus:
        found += ["Cross-head screwdriver, thermal paste, alcohol and a lint-free cloth"]
    return found


STEP_PARTS = ("before", "action", "see", "after", "wrong")
"""Fields of a step that hold its sentences, in the order of the work."""


def plan_data(plan: FirmwarePlan) -> dict[str, Any]:
    """The plan as JSON: the best route with its steps, the others by their moves, what is refused and what is missing."""
    task = plan.task
    return {
        "board": task.board.id,
        "firmware": task.version(task.start.release) if task.is_release_known else None,
        "fitted": task.start.cpu or None,
        "cpu": task.target,
        "to": None if task.to is None else task.version(task.to),
        "have": sorted(task.start.have),
        "possible": bool(plan.routes),
        "ready": plan.ready,
        "effort": _effort_data(plan.routes[0].effort) if plan.routes else None,
        "best_in": list(plan.routes[0].best_in) if plan.routes else [],
        "steps": [_step_data(step) for step in plan.steps],
        "alternatives": [_route_data(plan, route) for route in plan.routes[1:]],
        "refused": [
            {
                "firmware": task.version(each.state.release),
                "fitted": each.state.cpu or None,
                "way": str(each.way),
                "to": [_target_name(plan, to) for to in each.targets],
                "reason": each.reason,
            }
            for each in plan.refused
        ],
        "missing": [{"kind": each.kind, "what": each.what, "ways": list(each.ways)} for each in plan.missing],
    }


def _target_name(plan: FirmwarePlan, to: int | str) -> str | None:
    """Key of a CPU, or version of a release; None for a second chip whose release is not known."""
    return to if isinstance(to, str) else plan.task.version(to) if to >= 0 else None


def _effort_data(effort: Effort) -> dict[str, float]:
    return {criterion: float(getattr(effort, criterion)) for criterion in CRITERIA}


def _route_data(plan: FirmwarePlan, route: Route) -> dict[str, Any]:
    moves = [
        {"way": str(move.way), "to": _target_name(plan, move.to), "effort": _effort_data(move.effort)} for move in route.moves
    ]
    return {"best_in": list(route.best_in), "effort": _effort_data(route.effort), "moves": moves}


def _step_data(step: RouteStep) -> dict[str, Any]:
    parts = {part: list(getattr(step, part)) for part in STEP_PARTS}
    head = {"title": step.title, "way": str(step.way), "to": step.to, "effort": _effort_data(step.effort)}
    return {**head, **parts, "hazards": list(step.hazards)}
