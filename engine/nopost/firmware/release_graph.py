"""The releases of a board as a graph: what each asks for, and which can be written directly over which.

`may_write` is the rule of barriers (one-way releases) and demands (`requires`, `accepts_from`) without a CPU; the
route search holds to the same rule. The picture of the graph is in `nopost.render.release_graph`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from nopost.firmware.record_facts import known_families
from nopost.knowledge.reference_records import Board


@dataclass(frozen=True, slots=True)
class ReleaseNode:
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


def graph_of(board: Board) -> tuple[ReleaseNode, ...]:
    """Every release, oldest first."""
    versions = [release.version for release in board.releases]
    found = []
    for index, release in enumerate(board.releases):
        needs = tuple(dict.fromkeys(name for name in (release.requires, release.accepts_from) if name))
        missing = tuple(name for name in needs if name not in versions)
        known = known_families(board, index)
        writable = tuple(to for to in range(len(versions)) if to != index and may_write(board, index, to))
        adds, drops = tuple(release.adds), tuple(release.drops)
        found.append(
            ReleaseNode(index, release.version, release.date, adds, drops, known, needs, missing, release.one_way, writable)
        )
    return tuple(found)


def may_write(board: Board, at: int, to: int) -> bool:
    """Whether a release can be written while another is on the board, as a route sees it: barriers and demands, no CPU."""
    releases = board.releases
    if any(release.one_way for release in releases[to + 1 : at + 1]):
        return False
    places = {release.version: index for index, release in reversed(list(enumerate(releases)))}
    needs = [name for name in (releases[to].requires, releases[to].accepts_from) if name]
    return all(name in places and places[name] <= at for name in needs)


def release_words(node: ReleaseNode) -> str:
    """What a release changes and asks for, in one line; empty for a release without either."""
    found = [f"adds {', '.join(node.adds)}"] if node.adds else []
    found += [f"drops {', '.join(node.drops)}"] if node.drops else []
    for name in node.needs:
        found.append(f"needs {name} or later{', which this record lacks' if name in node.missing else ''}")
    if node.one_way and node.index:
        found.append("no way back from it to an older one")
    return "; ".join(found)


def writable_words(nodes: Sequence[ReleaseNode]) -> Iterator[tuple[str, str]]:
    """From which releases, which ones can be written; neighbours that lead to the same are together."""

    def reach(node: ReleaseNode) -> tuple[int, ...]:
        return tuple(sorted({*node.writable, node.index}))

    for reached, group in groupby(nodes, key=reach):
        at = [node.index for node in group]
        to = [index for index in reached if at != [index]]
        yield _spans(nodes, at), _spans(nodes, to) or "none"


def _spans(nodes: Sequence[ReleaseNode], places: Sequence[int]) -> str:
    """Versions, runs of three and more as "first to last"."""
    found = []
    for _, group in groupby(enumerate(places), key=lambda pair: pair[1] - pair[0]):
        run = [nodes[index].version for _, index in group]
        found += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else run
    return ", ".join(found)


def graph_data(nodes: Sequence[ReleaseNode]) -> list[dict[str, Any]]:
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
