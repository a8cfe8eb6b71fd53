"""The shortest route by effort, and those that are best in minutes, in money or in risk alone."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import networkx as nx

from nopost.errors import RecordError
from nopost.firmware.route.moves import Prices, moves
from nopost.firmware.route.state import Move, State, Task
from nopost.knowledge.model import Effort

CRITERIA = ("minutes", "money", "risk")
FINE = 10_000
"""Efforts are counted in whole parts of this, so that sums are exact and ties are ties."""
LARGE = 10**15
"""More than any route costs, so that one number holds what counts first, second and third."""
MOST_STATES = 50_000


@dataclass(frozen=True, slots=True)
class Route:
    """Moves in order; `best_in`: the criteria in which no route is better."""

    moves: tuple[Move, ...]
    effort: Effort
    best_in: tuple[str, ...] = ()


def effort_of(moves_: tuple[Move, ...]) -> Effort:
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


def weight(move: Move, prices: Prices, criterion: str) -> int:
    """What counts first: the criterion, if one is named; then the cost; then the number of steps."""
    first = amount(move.effort, criterion) if criterion else 0
    return (first * LARGE + price(move.effort, prices)) * LARGE + 1


def routes(task: Task, prices: Prices) -> list[Route]:
    """The best route first, then those that beat all before them in a criterion. Empty when there is none; no moves when the
    start is the end already."""
    graph = _graph(task, prices)
    ends = [state for state in graph if task.done(state)]
    if not ends:
        return []
    paths = {criterion: _shortest(graph, task.start, ends, criterion) for criterion in ("", *CRITERIA)}
    chosen: list[tuple[Move, ...]] = [paths[""]]
    labels: dict[int, list[str]] = {0: []}
    for criterion in CRITERIA:
        least = amount_of(paths[criterion], criterion)
        at = next((i for i, path in enumerate(chosen) if amount_of(path, criterion) == least), len(chosen))
        if at == len(chosen):
            chosen.append(paths[criterion])
        labels.setdefault(at, []).append(criterion)
    return [Route(path, effort_of(path), tuple(labels[index])) for index, path in enumerate(chosen)]


def amount_of(path: tuple[Move, ...], criterion: str) -> int:
    """One part of a route's effort in exact numbers."""
    return sum(amount(move.effort, criterion) for move in path)


def _graph(task: Task, prices: Prices) -> nx.MultiDiGraph:
    graph: nx.MultiDiGraph = nx.MultiDiGraph()
    graph.add_node(task.start)
    waiting = [task.start]
    weights: dict[Effort, dict[str, int]] = {}
    while waiting:
        if len(graph) > MOST_STATES:
            raise RecordError(f"{task.board.variant}: too many releases and CPUs to plan with")
        state = waiting.pop()
        if task.done(state):
            continue
        for move in moves(task, prices, state):
            if move.after not in graph:
                waiting.append(move.after)
            if move.effort not in weights:
                weights[move.effort] = {name or "cost": weight(move, prices, name) for name in ("", *CRITERIA)}
            graph.add_edge(state, move.after, key=move.way, move=move, **weights[move.effort])
    return graph


def _shortest(graph: nx.MultiDiGraph, start: State, ends: list[State], criterion: str) -> tuple[Move, ...]:
    name = criterion or "cost"
    far, paths = nx.single_source_dijkstra(graph, start, weight=name)
    end = min((state for state in ends if state in far), key=lambda state: far[state])
    steps = []
    nodes = paths[end]
    for before, after in pairwise(nodes):
        edges: list[dict[str, Any]] = list(graph[before][after].values())
        steps.append(min(edges, key=lambda edge: int(edge[name]))["move"])
    return tuple(steps)
