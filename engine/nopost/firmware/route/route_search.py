"""The cheapest route by effort, and those that are best in minutes, in money or in risk alone.

Dijkstra's algorithm (1959) over the states of a task; efforts are counted in whole parts, so that sums are exact and
ties are ties.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count
from operator import itemgetter

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
"""Beyond them a board has more releases than any real one."""
Neighbours = dict[RouteState, list[RouteMove]]
"""A state that can be reached -> the moves that lead there."""
Reached = dict[RouteState, tuple[RouteState, RouteMove]]
"""A state -> the one before it on the best way found so far, and the move between them."""


@dataclass(frozen=True, slots=True)
class Route:
    """Moves in order; `best_in`: the criteria in which no route is better."""

    moves: tuple[RouteMove, ...]
    effort: Effort
    best_in: tuple[str, ...] = ()


def effort_of(moves_: tuple[RouteMove, ...]) -> Effort:
    """The efforts of these moves added up."""
    total = Effort(0.0)
    for move in moves_:
        total = total + move.effort
    return total


def amount(effort: Effort, criterion: str) -> int:
    """Minutes, money or risk of an effort, by the criterion, in whole parts of 1/FINE."""
    return round(float(getattr(effort, criterion)) * FINE)


def price(effort: Effort, prices: Prices) -> int:
    """What an effort costs in money, minutes at what they are worth included, in whole parts of 1/FINE; at least one part."""
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
    """Minutes, money or risk of all moves of a route, in whole parts of 1/FINE."""
    return sum(amount(move.effort, criterion) for move in path)


class StateSpace:
    """The states of a task, each gone on from when a search first comes to it. What one search has found serves the next."""

    def __init__(self, task: RouteTask, prices: Prices) -> None:
        self.task = task
        self.prices = prices
        self._neighbours: dict[RouteState, Neighbours] = {}
        self._weights: dict[tuple[Effort, str], int] = {}

    @property
    def seen(self) -> int:
        """Number of states whose neighbours were found."""
        return len(self._neighbours)

    def shortest(self, criterion: str) -> tuple[RouteMove, ...] | None:
        """The moves of the best route in a criterion, or in cost alone (""); None when no end can be reached.

        Of states that are equally far, the one found first is taken first, so the same task always gives the same route.
        """
        start = self.task.start
        least, settled = {start: 0}, set[RouteState]()
        reached_by: Reached = {}
        order = count()
        queue = [(0, next(order), start)]
        while queue:
            so_far, _, state = heappop(queue)
            if self.task.done(state):
                return _moves_to(state, reached_by)
            if state in settled:
                continue
            settled.add(state)
            for after, choices in self._from(state).items():
                weighed, move = min(((self._weight(each, criterion), each) for each in choices), key=itemgetter(0))
                if after not in least or so_far + weighed < least[after]:
                    least[after] = so_far + weighed
                    reached_by[after] = (state, move)
                    heappush(queue, (least[after], next(order), after))
        return None

    def _from(self, state: RouteState) -> Neighbours:
        """Neighbours of a state, each with the moves that lead there. Raises RecordError when there are too many states."""
        found = self._neighbours.get(state)
        if found is None:
            if len(self._neighbours) >= MOST_STATES:
                raise RecordError(f"{self.task.board.variant}: too many releases and CPUs to plan with")
            found = self._neighbours[state] = {}
            for move in moves(self.task, self.prices, state):
                found.setdefault(move.after, []).append(move)
        return found

    def _weight(self, move: RouteMove, criterion: str) -> int:
        key = (move.effort, criterion)
        if key not in self._weights:
            self._weights[key] = weight(move, self.prices, criterion)
        return self._weights[key]


def _moves_to(state: RouteState, reached_by: Reached) -> tuple[RouteMove, ...]:
    """The moves from the start to this state."""
    found: list[RouteMove] = []
    while state in reached_by:
        state, move = reached_by[state]
        found.append(move)
    return tuple(reversed(found))
