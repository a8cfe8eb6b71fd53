"""A graph that networkx searches and that grows only as far as the search comes."""

from __future__ import annotations

from collections.abc import Callable, Hashable, MutableMapping
from typing import Any

import networkx as nx

Ways = MutableMapping[Any, dict[Any, dict[str, Any]]]
"""State -> neighbour -> what leads there; a mapping that finds the neighbours of a state when it is first asked for them."""


def cheapest_path(
    ways: Ways, start: Hashable, end: Hashable, weight: Callable[[object, object, dict[str, Any]], int]
) -> list[Any] | None:
    """The states of the cheapest way, by networkx's Dijkstra search; None when the end cannot be reached."""
    try:
        return list(nx.single_source_dijkstra(_graph(ways, start), start, end, weight=weight)[1])
    except nx.NetworkXNoPath:
        return None


def _graph(ways: Ways, start: Hashable) -> nx.DiGraph:
    """Only the start is a node; adding it empties its neighbours, which are asked for anew."""
    ways.pop(start, None)
    graph = _Growing(ways)
    graph.add_node(start)
    ways.pop(start, None)
    return graph


class _Growing(nx.DiGraph):  # type: ignore[misc]  # networkx has no types
    """A graph with these neighbours: networkx asks a graph's own factory for the mapping that holds them."""

    def __init__(self, ways: Ways) -> None:
        self.adjlist_outer_dict_factory = lambda: ways
        super().__init__()
