"""The release graph drawn with characters, and in a language of graph drawing programs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from nopost.firmware.release_graph import ReleaseNode, RequirementLine, requirement_lines
from nopost.text import without_controls

MOST_LANES = 8
"""More lines are left to the words."""
_UP, _DOWN, _LEFT, _RIGHT = 1, 2, 4, 8
_DRAWN = " ??│?┘┐┤?└┌├─┴┬┼"
_PLAIN = " ??|?+++?+++-+++"


@dataclass(frozen=True, slots=True)
class Strokes:
    """Characters of a drawing. `cells`: by which of its four sides a line goes out."""

    cells: str
    flat: str
    trunk: str
    node: str
    arrow: str
    wall: str
    gate: str


DRAWN = Strokes(_DRAWN, "─", "│", "●", "►", "═", "╪")
PLAIN = Strokes(_PLAIN, "-", "|", "o", ">", "=", "+")


def drawing(nodes: Sequence[ReleaseNode], width: int, strokes: Strokes) -> list[str]:
    """Lines of at most so many columns."""
    lanes = [lane for lane in requirement_lines(nodes)]
    spare = max(0, max((lane.column for lane in lanes), default=-1) + 1 - MOST_LANES)
    lanes = [RequirementLine(lane.column - spare, lane.source, lane.targets) for lane in lanes if lane.column >= spare]
    columns = max((lane.column for lane in lanes), default=-1) + 1
    wide = min(max((len(node.version) for node in nodes), default=0), max(4, width // 4))
    lines: list[str] = []
    for node in nodes:
        if node.one_way and node.index:
            lines.append(_wall(lanes, columns, node, width, strokes))
        lines += _release(lanes, columns, node, len(nodes), width, wide, strokes)
    return [line.rstrip() for line in lines]


def _wall(lanes: Sequence[RequirementLine], columns: int, node: ReleaseNode, width: int, strokes: Strokes) -> str:
    left = _between(lanes, columns, node.index - 1, strokes)
    words = f" no way back from {node.version} "
    rest = width - len(left) - 2
    return f"{left}{strokes.gate}{strokes.wall}{words if len(words) < rest else ' no way back '}".ljust(width, strokes.wall)[
        :width
    ]


def _release(
    lanes: Sequence[RequirementLine], columns: int, node: ReleaseNode, count: int, width: int, wide: int, strokes: Strokes
) -> Iterator[str]:
    head = _at(lanes, columns, node.index, strokes) + f"{strokes.node} "
    last = node.index == count - 1
    under = _between(lanes, columns, node.index, strokes) + (" " if last else strokes.trunk) + " "
    room = max(12, width - len(head))
    version = node.version if len(node.version) <= room - 14 else f"{node.version[: room - 16]}.."
    first, *more = wrapped(f"{version:{wide}}  {node.date}  ", words_of(node), room)
    yield head + first
    for line in more:
        yield under + line
    if not last:
        yield under


def words_of(node: ReleaseNode) -> list[str]:
    """What is to be said of a release, in pieces that stay together."""
    found = [f"+ {family}" for family in node.adds] + [f"- {family}" for family in node.drops]
    for name in node.needs:
        lacking = ", which this record lacks" if name in node.missing else ""
        found.append(f"needs {name} or later{lacking}")
    return found


def wrapped(head: str, pieces: Sequence[str], room: int) -> list[str]:
    """Pieces after a head, in lines of so many characters that go on under the first piece, or under the head's begin."""
    lines, indent = [head], " " * (len(head) if len(head) <= room // 2 else 2)
    for piece in pieces:
        for word in (piece,) if len(piece) + len(indent) <= room else piece.split(" "):
            gap = "" if lines[-1].endswith("  ") or not lines[-1].strip() else "  " if word == piece else " "
            if len(lines[-1]) + len(gap) + len(word) > room and lines[-1].strip():
                lines.append(indent + word[: room - len(indent)])
            else:
                lines[-1] += (gap + word)[:room]
    return lines


def _at(lanes: Sequence[RequirementLine], columns: int, row: int, strokes: Strokes) -> str:
    """The lanes beside a release."""
    joined = [lane.column for lane in lanes if row == lane.source or row in lane.targets]
    begin = min(joined, default=columns)
    parts = []
    for column in range(columns):
        sides = 0
        for lane in (each for each in lanes if each.column == column and each.source <= row <= each.last):
            sides |= (_UP if row > lane.source else 0) | (_DOWN if row < lane.last else 0)
        flat = (_RIGHT if column >= begin else 0) | (_LEFT if column > begin else 0)
        crossing = flat if sides or flat == _LEFT | _RIGHT else 0
        parts.append(strokes.cells[sides | crossing] + (strokes.flat if column >= begin else " "))
    arrow = strokes.arrow if any(row in lane.targets for lane in lanes) else strokes.flat if joined else " "
    return "".join(parts) + (arrow if columns else "")


def _between(lanes: Sequence[RequirementLine], columns: int, row: int, strokes: Strokes) -> str:
    """The lanes under a release."""
    going = {lane.column for lane in lanes if lane.source <= row < lane.last}
    return "".join(f"{strokes.trunk if column in going else ' '} " for column in range(columns)) + (" " if columns else "")


def dot(nodes: Sequence[ReleaseNode], title: str) -> str:
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
    text = "\\n".join(without_controls(row).replace("\\", "\\\\").replace('"', '\\"') for row in rows)
    return f'"{text}"'
