"""The graph in the DOT language of graph drawing programs."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from nopost.firmware.release_graph.lanes import words_of
from nopost.firmware.release_graph.model import Node
from nopost.page import shown


def dot(nodes: Sequence[Node], title: str) -> str:
    """A digraph: dotted lines give the order, arrows lead from what is asked for to what asks. A double box: no way back."""
    places = {node.version: node.index for node in nodes}
    lines = ["digraph releases {", f"  label={_quoted([title])}; labelloc=t; rankdir=TB; node [shape=box];"]
    for node in nodes:
        label = _quoted([f"{node.version}  {node.date}", *words_of(node)])
        lines.append(f"  r{node.index} [label={label}{', peripheries=2' if node.one_way else ''}];")
    lines += [f"  r{a.index} -> r{b.index} [style=dotted, arrowhead=none];" for a, b in pairwise(nodes)]
    lines += [f"  r{places[name]} -> r{node.index};" for node in nodes for name in node.needs if name in places]
    return "\n".join([*lines, "}", ""])


def _quoted(rows: Sequence[str]) -> str:
    text = "\\n".join(shown(row).replace("\\", "\\\\").replace('"', '\\"') for row in rows)
    return f'"{text}"'
