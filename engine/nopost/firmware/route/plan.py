"""A plan: the routes, why other moves are refused, and, when there is no route, what is missing."""

from __future__ import annotations

from dataclasses import dataclass

from nopost.firmware.route.lacking import Lacking, lacking
from nopost.firmware.route.moves import Prices
from nopost.firmware.route.refusals import Refusal, refusals
from nopost.firmware.route.search import Route, routes
from nopost.firmware.route.state import EMPTY, SECOND_MACHINE, STICK, Move, Task, Way
from nopost.firmware.route.steps import Step, steps_of


@dataclass(frozen=True, slots=True)
class Plan:
    """The best route first. `refused` covers the start and the state before each step of every route."""

    task: Task
    routes: tuple[Route, ...]
    steps: tuple[Step, ...]
    refused: tuple[Refusal, ...]
    lacking: tuple[Lacking, ...]

    @property
    def ready(self) -> bool:
        """Whether nothing has to be done."""
        return bool(self.routes) and not self.routes[0].moves


def make_plan(task: Task, prices: Prices, target_socket: str = "") -> Plan:
    """The plan. `target_socket`: the socket that the target CPU is made for."""
    fits = target_socket in ("", task.board.socket)
    found = routes(task, prices) if fits else []
    states = dict.fromkeys((task.start, *(move.after for route in found for move in route.moves[:-1])))
    ready = bool(found) and not found[0].moves
    return Plan(
        task=task,
        routes=tuple(found),
        steps=tuple(steps_of(task, found[0], prices.button_minutes)) if found else (),
        refused=() if ready else tuple(refusals(task, states)),
        lacking=() if found else tuple(lacking(task, prices, target_socket)),
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


def move_words(task: Task, way: Way, targets: tuple[int | str, ...]) -> str:
    """A move, or several of one way, in a few words."""
    if way is Way.SECOND:
        names = f" ({task.version(int(targets[0]))})" if targets and int(targets[0]) >= 0 else ""
    else:
        names = " or ".join(task.title(each) if isinstance(each, str) else task.version(each) for each in targets)
    return WAY_WORDS[way].format(names)


def ready_list(task: Task, moves: tuple[Move, ...]) -> list[str]:
    """What has to be there before the first step."""
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
