"""Boards for the tests of routes, and a second, plain reading of the rules: every Pareto-best effort by label correction."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from nopost.firmware.route.moves import Prices
from nopost.firmware.route.task import RouteState, RouteTask, Way
from nopost.knowledge.model import Effort
from nopost.knowledge.reference_records import Board, Cpu, Release

Cost = tuple[float, float, float]
FIXED: dict[str, Cost] = {
    "inside": (20, 0, 3),
    "button": (28, 0, 3),
    "recovery": (35, 0, 6),
    "shop": (90, 60, 1),
    "chip": (40, 25, 4),
    "second": (15, 0, 2),
    "swap": (40, 0, 4),
}
"""What each way takes; the button with the minutes that it writes."""
WAYS = {
    Way.INSIDE: Effort(20, 0, 3),
    Way.BUTTON: Effort(20, 0, 3),
    Way.RECOVERY: Effort(35, 0, 6),
    Way.SHOP: Effort(90, 60, 1),
    Way.CHIP: Effort(40, 25, 4),
    Way.SECOND: Effort(15, 0, 2),
    Way.SWAP: Effort(40, 0, 4),
    Way.BORROW: Effort(40, 0, 4),
}
BUTTON_MINUTES = 8.0
HAZARDS = {way: ("unplug",) for way in Way}
"""One hazard for each way, so that a step that forgets its hazards is found."""
PRICES = Prices(0.4, WAYS, BUTTON_MINUTES, Effort(5, 3), Effort(15), Effort(90, 20), HAZARDS)


def board(releases: tuple[Release, ...], first: tuple[str, ...] = ("old",), **recovery: Any) -> Board:
    """A board with these releases."""
    return Board(
        id="b",
        title="Board",
        variant="B rev 1",
        socket="s",
        memory_type="DDR4",
        slots=("A1",),
        slot_order={1: ("A1",)},
        video_outputs=True,
        indicators={},
        first_families=first,
        releases=releases,
        recovery={"button": False, "second_chip": False, **recovery},
        look_alikes=("B rev 2",),
    )


def cpu(name: str, family: str, socket: str = "s") -> Cpu:
    """A CPU."""
    return Cpu(name, name, family, socket, 4, 8, True, ("DDR4",))


def release(version: str, **more: Any) -> Release:
    """A release."""
    return Release(version, "2031-01-01", **more)


class Place(NamedTuple):
    """A state as the oracle sees it."""

    release: int
    cpu: str
    have: frozenset[str]
    other: int
    owes: bool


def front(task: RouteTask, prices: Prices) -> set[Cost]:
    """All efforts (minutes, money, risk) of routes to the end that no other route beats in everything."""
    start = Place(task.start.release, task.start.cpu, task.start.have, task.start.other, False)
    labels: dict[Place, set[Cost]] = {start: {(0.0, 0.0, 0.0)}}
    waiting = [start]
    while waiting:
        place = waiting.pop()
        if _goal(task, place):
            continue
        for after, step in _steps(task, prices, place):
            reached = {(a + step[0], b + step[1], c + step[2]) for a, b, c in labels[place]}
            old = labels.get(after, set())
            new = _best(old | reached)
            if new != old:
                labels[after] = new
                waiting.append(after)
    return _best({cost for place, costs in labels.items() if _goal(task, place) for cost in costs})


def dominates(one: Cost, other: Cost) -> bool:
    """Nowhere worse and somewhere better."""
    return one != other and all(a <= b for a, b in zip(one, other, strict=True))


def _best(costs: set[Cost]) -> set[Cost]:
    return {cost for cost in costs if not any(dominates(each, cost) for each in costs)}


def _family(task: RouteTask, name: str) -> str:
    return name[4:] if name.startswith("any:") else task.families.get(name, "")


def known(task: RouteTask, index: int) -> set[str]:
    """Families of a release, read from the record once more."""
    found = set(task.board.first_families)
    for each in task.board.releases[: index + 1]:
        found = (found | set(each.adds)) - set(each.drops)
    return found


def _runs(task: RouteTask, place: Place) -> bool:
    return _family(task, place.cpu) in known(task, place.release)


def _goal(task: RouteTask, place: Place) -> bool:
    return place.cpu == task.target and _runs(task, place) and (task.to is None or task.to == place.release)


def _steps(task: RouteTask, prices: Prices, place: Place) -> Iterator[tuple[Place, Cost]]:
    """Every allowed step; one that leaves a machine dead is allowed here and its mending is owed, so dead ends cost nothing."""
    for after, cost in _all_steps(task, prices, place):
        dead = not _runs(task, after)
        if place.owes and dead:
            continue
        yield after._replace(owes=dead and _runs(task, place)), cost


def _all_steps(task: RouteTask, prices: Prices, place: Place) -> Iterator[tuple[Place, Cost]]:
    ways = {str(way) for way in task.without}
    recovery, releases, runs = task.board.recovery, task.board.releases, _runs(task, place)
    order = [each.version for each in releases]
    for to in range(len(releases)):
        blocked = any(each.one_way for each in releases[to + 1 : place.release + 1])
        if to == place.release or blocked:
            continue
        asked = [order.index(v) for v in (releases[to].requires, releases[to].accepts_from) if v]
        ready = all(place.release >= each for each in asked)
        block = recovery.get("recovery_block") and not runs and _family(task, place.cpu) in task.board.first_families
        for name, allowed, tools in (
            ("inside", ready and runs, ("stick",)),
            ("button", ready and recovery["button"], ("stick", "second-machine")),
            ("recovery", ready and block, ("stick", "second-machine")),
            ("shop", True, ()),
            ("chip", recovery.get("socketed_chip"), ()),
        ):
            if allowed and f"{'fit' if name == 'chip' else 'write'}-{name}" not in ways:
                cost: tuple[float, ...] = FIXED[name]
                have = place.have
                for tool in tools:
                    if tool not in have:
                        got = prices.stick if tool == "stick" else prices.second_machine
                        cost = _sum(cost, (got.minutes, got.money, got.risk))
                        have = have | {tool}
                yield place._replace(release=to, have=have), _sum(cost, (0, 0, 0))
    if recovery["second_chip"] and place.other >= 0 and "second-chip" not in ways:
        yield place._replace(release=place.other, other=place.release), _sum(FIXED["second"], (0, 0, 0))
    yield from _cpu_steps(task, prices, place, ways)


def _cpu_steps(task: RouteTask, prices: Prices, place: Place, ways: set[str]) -> Iterator[tuple[Place, Cost]]:
    families = known(task, place.release)
    out = {place.cpu} if place.cpu else set()
    if "swap-cpu" not in ways:
        for name in place.have:
            if _family(task, name) in families:
                yield place._replace(cpu=name, have=(place.have - {name}) | out), _sum(FIXED["swap"], (0, 0, 0))
    borrowed = [name for name in (*place.have, place.cpu) if name.startswith("any:") and name not in task.start.have]
    owned = {_family(task, name) for name in (*place.have, place.cpu)}
    if "borrow-cpu" not in ways and len(borrowed) < 2:
        for family in families - owned:
            cost = _sum(FIXED["swap"], (prices.cpu.minutes, prices.cpu.money, prices.cpu.risk))
            yield place._replace(cpu=f"any:{family}", have=place.have | out), cost


def _sum(one: tuple[float, ...], other: tuple[float, ...]) -> Cost:
    return (float(one[0] + other[0]), float(one[1] + other[1]), float(one[2] + other[2]))


def as_cost(effort: Effort) -> Cost:
    """An effort as the oracle writes it."""
    return (effort.minutes, effort.money, effort.risk)


def running(task: RouteTask, state: RouteState) -> bool:
    """Whether the release of a state knows its CPU, by the record."""
    return _family(task, state.cpu) in known(task, state.release)
