"""An order of two columns in which few lines cross: means of the places of the neighbours, sweep after sweep.

Source: barycentre heuristic of Sugiyama, Tagawa & Toda 1981, IEEE Trans. SMC 11(2) pp. 109-125, then neighbours of the free
column are exchanged while that helps. The left column keeps its groups together.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from statistics import mean

import networkx as nx
import numpy as np

Node = tuple[int, str]
"""Column and id: a cause and a finding may have the same id."""
SWEEPS, SHUFFLES = 8, 6


def crossings(graph: nx.Graph, left: Sequence[Node], right: Sequence[Node]) -> int:
    """How many pairs of lines cross when the columns stand in this order."""
    lower, upper = _places(left), _places(right)
    lines = sorted((lower[a], upper[b]) for a in left for b in graph[a])
    return sum(one[0] < two[0] and one[1] > two[1] for k, one in enumerate(lines) for two in lines[k + 1 :])


def ordered(graph: nx.Graph, groups: Mapping[str, Sequence[Node]]) -> tuple[list[list[Node]], list[Node]]:
    """(the groups in order, each in its order; the right column in order), the best of all sweeps from several starts.

    `graph`: nodes of the left column, which are those of the groups, each joined with nodes of the right column.
    """
    parts = [list(group) for group in groups.values()]
    members = set(_flat(parts))
    right = [node for node in graph if node not in members]
    found = [order for start in _starts(graph, right) for order in _sweeps(graph, parts, start)]
    return min(found, key=lambda order: crossings(graph, _flat(order[0]), order[1]))


def _starts(graph: nx.Graph, right: list[Node]) -> Iterator[list[Node]]:
    """Orders of the right column to begin with: as it comes, along the slowest wave of the graph, and shuffled ones."""
    yield right
    if right:
        laplacian = np.diag([float(graph.degree[n]) for n in graph]) - nx.to_numpy_array(graph)
        wave = dict(zip(graph, np.linalg.eigh(laplacian)[1][:, 1], strict=True))
        yield sorted(right, key=lambda node: round(float(wave[node]), 9))
    chance = random.Random(0)
    for _ in range(SHUFFLES):
        yield chance.sample(right, len(right))


def _sweeps(graph: nx.Graph, parts: list[list[Node]], right: list[Node]) -> Iterator[tuple[list[list[Node]], list[Node]]]:
    for _ in range(SWEEPS):
        parts = _regrouped(graph, parts, right)
        right = _exchanged(graph, _flat(parts), _by_mean(graph, _flat(parts), right))
        yield parts, right


def _regrouped(graph: nx.Graph, parts: list[list[Node]], right: list[Node]) -> list[list[Node]]:
    """Groups by the mean of their members' means, members by theirs."""
    inner = [_by_mean(graph, right, part) for part in parts]
    places = _places(right)
    return sorted(inner, key=lambda part: mean(places[n] for node in part for n in graph[node]))


def _by_mean(graph: nx.Graph, fixed: Sequence[Node], free: Sequence[Node]) -> list[Node]:
    places = _places(fixed)
    return sorted(free, key=lambda node: mean(places[n] for n in graph[node]))


def _exchanged(graph: nx.Graph, left: Sequence[Node], right: list[Node]) -> list[Node]:
    """The free column with neighbours exchanged where fewer lines cross then."""
    places = _places(left)
    ends = {node: sorted(places[n] for n in graph[node]) for node in right}
    done = False
    while not done:
        done = True
        for k in range(len(right) - 1):
            one, two = right[k], right[k + 1]
            if _crossed(ends[two], ends[one]) < _crossed(ends[one], ends[two]):
                right[k], right[k + 1] = two, one
                done = False
    return right


def _crossed(above: Sequence[int], below: Sequence[int]) -> int:
    """Crossings between the lines of a node and those of the node under it."""
    return sum(a > b for a in above for b in below)


def _places(nodes: Sequence[Node]) -> dict[Node, int]:
    return {node: place for place, node in enumerate(nodes)}


def _flat(parts: Sequence[Sequence[Node]]) -> list[Node]:
    return [node for part in parts for node in part]
