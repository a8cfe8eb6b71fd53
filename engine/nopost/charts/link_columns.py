"""One page of the map: two columns of boxes, the lines between them, and what the lines mean."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import networkx as nx

from nopost.charts.letters import Metrics
from nopost.charts.ordering import ordered
from nopost.charts.scene import Area, Frame, Item, Line, Point
from nopost.charts.setting import Row, Style, height_of, set_rows, wrapped
from nopost.charts.strength import Link
from nopost.knowledge.model import Knowledge

CAUSE, FINDING, PART, NOTE = Style(9.0, bold=True), Style(9.0), Style(10.0, bold=True), Style(8.0)
PENS: tuple[tuple[float, float, Point | None], ...] = ((6.0, 2.4, None), (3.0, 1.1, None), (0.0, 0.7, (2.5, 2.0)))
"""From so many decibans on: width and dashes of the line. 6 decibans make odds of four to one, 3 of two to one."""
_LEFT, _RIGHT = 0.36, 0.36
_PAD, _GAP, _SPARE, _LEGEND = 4.0, 5.0, 24.0, 58.0
_MOST_ROWS = 6
_PORT = 4.5
"""Room of a line at a box, so that lines that meet can be told apart."""
_KEY = (
    "strong: 6 decibans or more",
    "middling: 3 to 6 decibans",
    "weak: under 3 decibans",
)
_MEANING = (
    "A line's strength is what the answer to the finding brings for the cause on average when it is the cause, against all other "
    "{machines} (expected weight of evidence; 3 decibans double the odds, 6 make them fourfold). Only the "
    "strongest lines of each cause are drawn."
)


@dataclass(frozen=True, slots=True)
class Node:
    """A box: a cause or a finding; `ports`: lines that end at it; `heading`: the part that begins with it."""

    id: str
    rows: tuple[Row, ...]
    ports: int
    heading: tuple[Row, ...] = ()

    @property
    def box_height(self) -> float:
        """Points."""
        return max(height_of(self.rows) + 2 * _PAD, self.ports * _PORT)

    @property
    def height(self) -> float:
        """With its heading."""
        return self.box_height + (height_of(self.heading) + 6 if self.heading else 0.0)


class LinkPage:
    """These links in an area."""

    def __init__(self, knowledge: Knowledge, links: Sequence[Link], metrics: Metrics, area: Area) -> None:
        self.knowledge, self.links, self.metrics, self.area = knowledge, links, metrics, area
        self.room = area.height - _LEGEND

    @property
    def fits(self) -> bool:
        """Whether both columns are short enough."""
        parts = self._parts()
        left = self._left([list(causes) for causes in parts.values()])
        right = self._right(list(dict.fromkeys(link.finding for link in self.links)))
        return max(_least(left), _least(right)) <= self.room

    def items(self) -> list[Item]:
        """Lines first, then the boxes, then the key."""
        graph: nx.Graph = nx.Graph()
        graph.add_edges_from(((0, link.cause), (1, link.finding)) for link in self.links)
        groups, order = ordered(graph, {part: [(0, c) for c in causes] for part, causes in self._parts().items()})
        left = self._left([[cause for _, cause in group] for group in groups])
        right = self._right([finding for _, finding in order])
        span = min(max(_least(left), _least(right)) + _SPARE * max(len(left), len(right)), self.room)
        boxes = {0: dict(self._placed(left, self.area.x, span, _LEFT)), 1: dict(self._placed(right, self._x, span, _RIGHT))}
        drawn = [item for node in left for item in self._box(node, boxes[0][node.id], 1.0)]
        drawn += [item for node in right for item in self._box(node, boxes[1][node.id], 0.5)]
        return [*self._lines(boxes[0], boxes[1]), *drawn, *self._key()]

    @property
    def _x(self) -> float:
        return self.area.x + self.area.width * (1 - _RIGHT)

    def _parts(self) -> dict[str, list[str]]:
        parts: dict[str, list[str]] = {}
        for cause in dict.fromkeys(link.cause for link in self.links):
            parts.setdefault(self.knowledge.causes[cause].part, []).append(cause)
        return parts

    def _left(self, groups: Sequence[Sequence[str]]) -> list[Node]:
        return [self._cause(cause, first=cause == group[0]) for group in groups for cause in group]

    def _cause(self, name: str, first: bool) -> Node:
        cause = self.knowledge.causes[name]
        width = self.area.width * _LEFT
        part = self.knowledge.base.parts.get(cause.part, cause.part)
        heading = wrapped(self.metrics, part, PART, width, most=2) if first else ()
        rows = wrapped(self.metrics, cause.title, CAUSE, width - 2 * _PAD, _MOST_ROWS)
        return Node(name, rows, sum(link.cause == name for link in self.links), heading)

    def _right(self, names: Sequence[str]) -> list[Node]:
        width = self.area.width * _RIGHT - 2 * _PAD
        titles = {name: self.knowledge.findings[name].title for name in names}
        ports = Counter(link.finding for link in self.links)
        return [Node(name, wrapped(self.metrics, titles[name], FINDING, width, _MOST_ROWS), ports[name]) for name in names]

    def _placed(self, nodes: Sequence[Node], x: float, span: float, share: float) -> Iterator[tuple[str, Area]]:
        """Each box with its place; the nodes spread over `span`."""
        spare = (span - sum(node.height for node in nodes)) / max(len(nodes) - 1, 1)
        gap = spare if len(nodes) > 1 else 0.0
        y = self.area.y if len(nodes) > 1 else self.area.y + (span - nodes[0].height) / 2
        for node in nodes:
            top = y + node.height - node.box_height
            yield node.id, Area(x, top, self.area.width * share, node.box_height)
            y += node.height + gap

    def _box(self, node: Node, place: Area, stroke: float) -> list[Item]:
        corner = 0.0 if stroke == 1.0 else 4.0
        frame = Frame(place.x, place.y, place.width, place.height, stroke, 1.0, corner=corner)
        heading = set_rows(self.metrics, node.heading, place.x, place.y - height_of(node.heading) - 1)
        top = place.y + (place.height - height_of(node.rows)) / 2
        return [*heading, frame, *set_rows(self.metrics, node.rows, place.x + _PAD, top)]

    def _lines(self, left: Mapping[str, Area], right: Mapping[str, Area]) -> list[Item]:
        """The weak ones first, so that strong ones lie over them. Ends are spread along the boxes."""
        starts = _ports([(x.cause, x.finding) for x in self.links], left, right)
        ends = _ports([(x.finding, x.cause) for x in self.links], right, left)
        items: list[Item] = []
        for link in sorted(self.links, key=lambda x: x.decibans):
            one = (left[link.cause].x + left[link.cause].width, starts[link.cause, link.finding])
            two = (right[link.finding].x, ends[link.finding, link.cause])
            _, stroke, dash = next(pen for pen in PENS if link.decibans >= pen[0])
            items.append(Line((one, (one[0] + 5, one[1]), (two[0] - 5, two[1]), two), stroke, dash))
        return items

    def _key(self) -> list[Item]:
        y = self.area.bottom - _LEGEND + 12
        third = self.area.width / 3
        items: list[Item] = []
        for k, (words, (_, stroke, dash)) in enumerate(zip(_KEY, PENS, strict=True)):
            x = self.area.x + k * third
            items.append(Line(((x, y + 5), (x + 20, y + 5)), stroke, dash))
            items += set_rows(self.metrics, wrapped(self.metrics, words, NOTE, third - 30, most=1), x + 24, y)
        meaning = _MEANING.format(machines=self.knowledge.base.words.machines)
        rows = wrapped(self.metrics, meaning, NOTE, self.area.width, most=3)
        return [*items, *set_rows(self.metrics, rows, self.area.x, y + 14)]


def _least(nodes: Sequence[Node]) -> float:
    return sum(node.height for node in nodes) + _GAP * (len(nodes) - 1)


def _ports(pairs: Sequence[tuple[str, str]], own: Mapping[str, Area], far: Mapping[str, Area]) -> dict[tuple[str, str], float]:
    """(node, other) -> where on the node's side the line ends: in the order of the others, evenly."""
    result = {}
    for node in own:
        others = sorted((other for one, other in pairs if one == node), key=lambda other: far[other].y)
        for k, other in enumerate(others, start=1):
            result[node, other] = own[node].y + own[node].height * k / (len(others) + 1)
    return result
