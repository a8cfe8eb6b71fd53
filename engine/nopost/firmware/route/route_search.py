"""The cheapest route by effort, and those that are best in minutes, in money or in risk alone.

Dijkstra's algorithm (1959) over the states of a task; efforts are counted in whole parts, so that sums are exact and
ties are ties.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from nopost.errors import RecordError
from nopost.firmware.route.moves import Prices, moves
from nopost.firmware.route.task import RouteMove, RouteState, RouteTask
from nopost.knowledge.model import Effort

CRITERIA = ("minutes", "money", "risk")
FINE = 10_000
"""Efforts are counted in whole parts of this, so that sums are exact and ties are ties."""
LARGE = 10**15
"""More than any route costs, so that one number holds what counts first, second and third."""
MOST_STATES = 50_000
END = "end"
"""The one node that every end leads to."""


@dataclass(frozen=True, slots=True)
class Route:
    """Moves in order; `best_in`: the criteria in which no route is better."""

    moves: tuple[RouteMove, ...]
    effort: Effort
    best_in: tuple[str, ...] = ()


def effort_of(moves_: tuple[RouteMove, ...]) -> Effort:
    """The sum."""
    total = Effort(0.0)
    for move in moves_:
        total = total + move.effort
    return total


def amount(effort: Effort, criterion: str) -> int:
    """One part of an effort in exact numbers."""
    return round(float(getattr(effort, criterion)) * FINE)


def price(effort: Effort, prices: Prices) -> int:
    """What an effort costs, in exact numbers, never nothing."""
    return max(1, round(effort.cost(prices.minute_rate) * FINE))


def weight(move: RouteMove, prices: Prices, criterion: str) -> int:
    """What counts first: the criterion, if one is named; then the cost; then the number of steps."""
    first = amount(move.effort, criterion) if criterion else 0
    return (first * LARGE + price(move.effort, prices)) * LARGE + 1


def routes(task: RouteTask, prices: Prices) -> list[Route]:
    """The best route first, then those that beat all before them in a criterion. Empty when there is none; no moves when the
    start is the end already."""
    space = StateSpace(task, prices)
    cheapest = space.shortest("")
    if cheapest is None:
        return []
    paths = {"": cheapest, **{criterion: space.shortest(criterion) or () for criterion in CRITERIA}}
    chosen: list[tuple[RouteMove, ...]] = [paths[""]]
    labels: dict[int, list[str]] = {0: []}
    for criterion in CRITERIA:
        least = amount_of(paths[criterion], criterion)
        at = next((i for i, path in enumerate(chosen) if amount_of(path, criterion) == least), len(chosen))
        if at == len(chosen):
            chosen.append(paths[criterion])
        labels.setdefault(at, []).append(criterion)
    return [Route(path, effort_of(path), tuple(labels[index])) for index, path in enumerate(chosen)]


def amount_of(path: tuple[RouteMove, ...], criterion: str) -> int:
    """One part of a route's effort in exact numbers."""
    return sum(amount(move.effort, criterion) for move in path)


class StateSpace:
    """The states of a task as a graph that grows only as far as a search comes. What one search has found serves the next."""

    def __init__(self, task: RouteTask, prices: Prices) -> None:
        self.task = task
        self.prices = prices
        self._ways = _Ways(self._from)
        self._weights: dict[tuple[Effort, str], int] = {}

    @property
    def seen(self) -> int:
        """How many states were gone on from."""
        return len(self._ways)

    def shortest(self, criterion: str) -> tuple[RouteMove, ...] | None:
        """The best way to an end; None when no end can be reached."""
        from nopost.firmware.route.growing_graph_cut import cheapest_path  # only here: networkx costs start-up time

        def weighed(state: object, after: object, ways: dict[str, list[RouteMove]]) -> int:
            return min((self._weight(move, criterion) for move in ways["moves"]), default=0)

        path = cheapest_path(self._ways, self.task.start, END, weighed)
        if path is None:
            return None
        return tuple(
            min(self._ways[state][after]["moves"], key=lambda move: self._weight(move, criterion))
            for state, after in pairwise(path[:-1])
        )

    def _from(self, state: RouteState) -> dict[object, dict[str, list[RouteMove]]]:
        """Neighbours of a state, each with the moves that lead there; every end leads to the one END, for nothing."""
        if self.task.done(state):
            return {END: {"moves": []}}
        if len(self._ways) >= MOST_STATES:
            raise RecordError(f"{self.task.board.variant}: too many releases and CPUs to plan with")
        found: dict[object, dict[str, list[RouteMove]]] = {}
        for move in moves(self.task, self.prices, state):
            found.setdefault(move.after, {"moves": []})["moves"].append(move)
        return found

    def _weight(self, move: RouteMove, criterion: str) -> int:
        key = (move.effort, criterion)
        if key not in self._weights:
            self._weights[key] = weight(move, self.prices, criterion)
        return self._weights[key]


class _Ways(dict[object, dict[object, dict[str, list[RouteMove]]]]):
    """State -> neighbours, found when they are first asked for."""

    def __init__(self, found: Callable[[RouteState], dict[object, dict[str, list[RouteMove]]]]) -> None:
        super().__init__()
        self.found = found

    def __missing__(self, state: object) -> dict[object, dict[str, list[RouteMove]]]:
        self[state] = ways = self.found(state) if isinstance(state, RouteState) else {}
        return ways
