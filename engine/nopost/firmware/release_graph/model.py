"""The releases of a board, what each asks for, and which can be written directly from which."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from nopost.firmware.facts import known_families
from nopost.knowledge.model import Board


@dataclass(frozen=True, slots=True)
class Node:
    """A release. `needs`: versions of which each, or a later one, has to be on the board before; `missing`: those of them that
    the record does not have. `writable`: places of the releases that can be written directly over it."""

    index: int
    version: str
    date: str
    adds: tuple[str, ...]
    drops: tuple[str, ...]
    knows: frozenset[str]
    needs: tuple[str, ...]
    missing: tuple[str, ...]
    one_way: bool
    writable: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Lane:
    """A line from a release to those that ask for it, in a column of its own; column 0 is the outermost."""

    column: int
    source: int
    targets: tuple[int, ...]

    @property
    def last(self) -> int:
        return self.targets[-1]


def graph_of(board: Board) -> tuple[Node, ...]:
    """Every release, oldest first."""
    versions = [release.version for release in board.releases]
    found = []
    for index, release in enumerate(board.releases):
        needs = tuple(dict.fromkeys(name for name in (release.requires, release.accepts_from) if name))
        missing = tuple(name for name in needs if name not in versions)
        known = known_families(board, index)
        writable = tuple(to for to in range(len(versions)) if to != index and may_write(board, index, to))
        adds, drops = tuple(release.adds), tuple(release.drops)
        found.append(Node(index, release.version, release.date, adds, drops, known, needs, missing, release.one_way, writable))
    return tuple(found)


def may_write(board: Board, at: int, to: int) -> bool:
    """Whether a release can be written while another is on the board, as a route sees it: barriers and demands, no CPU."""
    releases = board.releases
    if any(release.one_way for release in releases[to + 1 : at + 1]):
        return False
    places = {release.version: index for index, release in reversed(list(enumerate(releases)))}
    needs = [name for name in (releases[to].requires, releases[to].accepts_from) if name]
    return all(name in places and places[name] <= at for name in needs)


def lanes_of(nodes: Sequence[Node]) -> tuple[Lane, ...]:
    """Lanes without two lines in one place; a column is used again once its line has ended."""
    places = {node.version: node.index for node in nodes}
    asked: dict[int, list[int]] = {}
    for node in nodes:
        for name in node.needs:
            if name in places and places[name] < node.index:
                asked.setdefault(places[name], []).append(node.index)
    ends: list[int] = []
    found: list[tuple[int, int, tuple[int, ...]]] = []
    for source in sorted(asked):
        targets = tuple(sorted(set(asked[source])))
        free = next((column for column, end in enumerate(ends) if end < source), len(ends))
        ends[free : free + 1] = [targets[-1]]
        found.append((free, source, targets))
    return tuple(Lane(len(ends) - 1 - column, source, targets) for column, source, targets in found)


def writable_words(nodes: Sequence[Node]) -> Iterator[tuple[str, str]]:
    """From which releases, which ones can be written; neighbours that lead to the same are together."""

    def reach(node: Node) -> tuple[int, ...]:
        return tuple(sorted({*node.writable, node.index}))

    for reached, group in groupby(nodes, key=reach):
        at = [node.index for node in group]
        to = [index for index in reached if at != [index]]
        yield _spans(nodes, at), _spans(nodes, to) or "none"


def _spans(nodes: Sequence[Node], places: Sequence[int]) -> str:
    """Versions, runs of three and more as "first to last"."""
    found = []
    for _, group in groupby(enumerate(places), key=lambda pair: pair[1] - pair[0]):
        run = [nodes[index].version for _, index in group]
        found += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else run
    return ", ".join(found)


def graph_data(nodes: Sequence[Node]) -> list[dict[str, Any]]:
    """The graph as JSON."""
    return [
        {
            "version": node.version,
            "date": node.date,
            "adds": list(node.adds),
            "drops": list(node.drops),
            "knows": sorted(node.knows),
            "needs": list(node.needs),
            "missing": list(node.missing),
            "one_way": node.one_way,
            "may_follow": [nodes[index].version for index in node.writable],
        }
        for node in nodes
    ]
