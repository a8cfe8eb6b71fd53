"""The knowledge as a map: causes by part at the left, the findings that speak for them at the right.

Links are dealt out to pages, a part kept together where a page can hold it. On each page both columns are ordered so that few
lines cross: the barycentre heuristic of Sugiyama, Tagawa & Toda 1981, IEEE Trans. SMC 11(2) pp. 109-125 (means of the places
of the neighbours, sweep after sweep), then neighbours of the free column are exchanged while that helps. The left column
keeps its groups together. The width of a line tells its expected weight of evidence.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import mean

import networkx as nx
import numpy as np

from nopost.diagnosis.belief.expected_weight import WeightedLink
from nopost.knowledge.model import Knowledge
from nopost.render.page_layout import Imprint, PaperSheet, with_head_and_foot
from nopost.render.scene import Area, Item, Page, Point, Polyline, Rectangle
from nopost.render.typesetting import FontMetrics, TextRow, TextStyle, height_of, set_rows, wrapped

ColumnNode = tuple[int, str]
"""Column and id: a cause and a finding may have the same id."""
SWEEPS, SHUFFLES = 8, 6


def crossings(graph: nx.Graph, left: Sequence[ColumnNode], right: Sequence[ColumnNode]) -> int:
    """How many pairs of lines cross when the columns stand in this order."""
    lower, upper = _places(left), _places(right)
    lines = sorted((lower[a], upper[b]) for a in left for b in graph[a])
    return sum(one[0] < two[0] and one[1] > two[1] for k, one in enumerate(lines) for two in lines[k + 1 :])


def ordered_columns(
    graph: nx.Graph, groups: Mapping[str, Sequence[ColumnNode]]
) -> tuple[list[list[ColumnNode]], list[ColumnNode]]:
    """(the groups in order, each in its order; the right column in order), the best of all sweeps from several starts.

    `graph`: nodes of the left column, which are those of the groups, each joined with nodes of the right column.
    """
    parts = [list(group) for group in groups.values()]
    members = set(_flat(parts))
    right = [node for node in graph if node not in members]
    found = [order for start in _starts(graph, right) for order in _sweeps(graph, parts, start)]
    return min(found, key=lambda order: crossings(graph, _flat(order[0]), order[1]))


def _starts(graph: nx.Graph, right: list[ColumnNode]) -> Iterator[list[ColumnNode]]:
    """Orders of the right column to begin with: as it comes, along the slowest wave of the graph, and shuffled ones."""
    yield right
    if right:
        laplacian = np.diag([float(graph.degree[n]) for n in graph]) - nx.to_numpy_array(graph)
        wave = dict(zip(graph, np.linalg.eigh(laplacian)[1][:, 1], strict=True))
        yield sorted(right, key=lambda node: round(float(wave[node]), 9))
    chance = random.Random(0)
    for _ in range(SHUFFLES):
        yield chance.sample(right, len(right))


def _sweeps(
    graph: nx.Graph, parts: list[list[ColumnNode]], right: list[ColumnNode]
) -> Iterator[tuple[list[list[ColumnNode]], list[ColumnNode]]]:
    for _ in range(SWEEPS):
        parts = _regrouped(graph, parts, right)
        right = _exchanged(graph, _flat(parts), _by_mean(graph, _flat(parts), right))
        yield parts, right


def _regrouped(graph: nx.Graph, parts: list[list[ColumnNode]], right: list[ColumnNode]) -> list[list[ColumnNode]]:
    """Groups by the mean of their members' means, members by theirs."""
    inner = [_by_mean(graph, right, part) for part in parts]
    places = _places(right)
    return sorted(inner, key=lambda part: mean(places[n] for node in part for n in graph[node]))


def _by_mean(graph: nx.Graph, fixed: Sequence[ColumnNode], free: Sequence[ColumnNode]) -> list[ColumnNode]:
    places = _places(fixed)
    return sorted(free, key=lambda node: mean(places[n] for n in graph[node]))


def _exchanged(graph: nx.Graph, left: Sequence[ColumnNode], right: list[ColumnNode]) -> list[ColumnNode]:
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


def _places(nodes: Sequence[ColumnNode]) -> dict[ColumnNode, int]:
    return {node: place for place, node in enumerate(nodes)}


def _flat(parts: Sequence[Sequence[ColumnNode]]) -> list[ColumnNode]:
    return [node for part in parts for node in part]


CAUSE, FINDING, PART, NOTE = TextStyle(9.0, bold=True), TextStyle(9.0), TextStyle(10.0, bold=True), TextStyle(8.0)
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
class MapBox:
    """A box: a cause or a finding; `ports`: lines that end at it; `heading`: the part that begins with it."""

    id: str
    rows: tuple[TextRow, ...]
    ports: int
    heading: tuple[TextRow, ...] = ()

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

    def __init__(self, knowledge: Knowledge, links: Sequence[WeightedLink], metrics: FontMetrics, area: Area) -> None:
        self.knowledge, self.links, self.metrics, self.area = knowledge, links, metrics, area
        self.room = area.height - _LEGEND

    @property
    def fits(self) -> bool:
        """Whether both columns are short enough."""
        parts = self._parts()
        left = self._left([list(causes) for causes in parts.values()])
        right = self._right(list(dict.fromkeys(link.finding for link in self.links)))
        return max(_least_height(left), _least_height(right)) <= self.room

    def items(self) -> list[Item]:
        """Lines first, then the boxes, then the key."""
        graph: nx.Graph = nx.Graph()
        graph.add_edges_from(((0, link.cause), (1, link.finding)) for link in self.links)
        groups, order = ordered_columns(graph, {part: [(0, c) for c in causes] for part, causes in self._parts().items()})
        left = self._left([[cause for _, cause in group] for group in groups])
        right = self._right([finding for _, finding in order])
        span = min(max(_least_height(left), _least_height(right)) + _SPARE * max(len(left), len(right)), self.room)
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

    def _left(self, groups: Sequence[Sequence[str]]) -> list[MapBox]:
        return [self._cause(cause, first=cause == group[0]) for group in groups for cause in group]

    def _cause(self, name: str, first: bool) -> MapBox:
        cause = self.knowledge.causes[name]
        width = self.area.width * _LEFT
        part = self.knowledge.base.parts.get(cause.part, cause.part)
        heading = wrapped(self.metrics, part, PART, width, most=2) if first else ()
        rows = wrapped(self.metrics, cause.title, CAUSE, width - 2 * _PAD, _MOST_ROWS)
        return MapBox(name, rows, sum(link.cause == name for link in self.links), heading)

    def _right(self, names: Sequence[str]) -> list[MapBox]:
        width = self.area.width * _RIGHT - 2 * _PAD
        titles = {name: self.knowledge.findings[name].title for name in names}
        ports = Counter(link.finding for link in self.links)
        return [MapBox(name, wrapped(self.metrics, titles[name], FINDING, width, _MOST_ROWS), ports[name]) for name in names]

    def _placed(self, nodes: Sequence[MapBox], x: float, span: float, share: float) -> Iterator[tuple[str, Area]]:
        """Each box with its place; the nodes spread over `span`."""
        spare = (span - sum(node.height for node in nodes)) / max(len(nodes) - 1, 1)
        gap = spare if len(nodes) > 1 else 0.0
        y = self.area.y if len(nodes) > 1 else self.area.y + (span - nodes[0].height) / 2
        for node in nodes:
            top = y + node.height - node.box_height
            yield node.id, Area(x, top, self.area.width * share, node.box_height)
            y += node.height + gap

    def _box(self, node: MapBox, place: Area, stroke: float) -> list[Item]:
        corner = 0.0 if stroke == 1.0 else 4.0
        frame = Rectangle(place.x, place.y, place.width, place.height, stroke, 1.0, corner=corner)
        heading = set_rows(self.metrics, node.heading, place.x, place.y - height_of(node.heading) - 1)
        top = place.y + (place.height - height_of(node.rows)) / 2
        return [*heading, frame, *set_rows(self.metrics, node.rows, place.x + _PAD, top)]

    def _lines(self, left: Mapping[str, Area], right: Mapping[str, Area]) -> list[Item]:
        """The weak ones first, so that strong ones lie over them. Ends are spread along the boxes."""
        starts = _line_ends([(x.cause, x.finding) for x in self.links], left, right)
        ends = _line_ends([(x.finding, x.cause) for x in self.links], right, left)
        items: list[Item] = []
        for link in sorted(self.links, key=lambda x: x.decibans):
            one = (left[link.cause].x + left[link.cause].width, starts[link.cause, link.finding])
            two = (right[link.finding].x, ends[link.finding, link.cause])
            _, stroke, dash = next(pen for pen in PENS if link.decibans >= pen[0])
            items.append(Polyline((one, (one[0] + 5, one[1]), (two[0] - 5, two[1]), two), stroke, dash))
        return items

    def _key(self) -> list[Item]:
        y = self.area.bottom - _LEGEND + 12
        third = self.area.width / 3
        items: list[Item] = []
        for k, (words, (_, stroke, dash)) in enumerate(zip(_KEY, PENS, strict=True)):
            x = self.area.x + k * third
            items.append(Polyline(((x, y + 5), (x + 20, y + 5)), stroke, dash))
            items += set_rows(self.metrics, wrapped(self.metrics, words, NOTE, third - 30, most=1), x + 24, y)
        meaning = _MEANING.format(machines=self.knowledge.base.words.machines)
        rows = wrapped(self.metrics, meaning, NOTE, self.area.width, most=3)
        return [*items, *set_rows(self.metrics, rows, self.area.x, y + 14)]


def _least_height(nodes: Sequence[MapBox]) -> float:
    return sum(node.height for node in nodes) + _GAP * (len(nodes) - 1)


def _line_ends(
    pairs: Sequence[tuple[str, str]], own: Mapping[str, Area], far: Mapping[str, Area]
) -> dict[tuple[str, str], float]:
    """(node, other) -> where on the node's side the line ends: in the order of the others, evenly."""
    result = {}
    for node in own:
        others = sorted((other for one, other in pairs if one == node), key=lambda other: far[other].y)
        for k, other in enumerate(others, start=1):
            result[node, other] = own[node].y + own[node].height * k / (len(others) + 1)
    return result


MOST_LINES = 30
"""More lines on one page cannot be followed (judgement, by looking)."""
Fits = Callable[[Sequence[WeightedLink]], bool]


def map_pages(
    knowledge: Knowledge, links: Sequence[WeightedLink], metrics: FontMetrics, sheet: PaperSheet, imprint: Imprint
) -> list[Page]:
    """Pages of these links, causes in the order of the knowledge base's parts."""

    def page(some: Sequence[WeightedLink]) -> LinkPage:
        return LinkPage(knowledge, some, metrics, sheet.body)

    def fits(some: Sequence[WeightedLink]) -> bool:
        return len(some) <= MOST_LINES and page(some).fits

    bodies = [page(some).items() for some in links_by_page(links_by_part(knowledge, links), fits)]
    return with_head_and_foot(metrics, sheet, "Map of causes and findings", imprint, bodies or [[]])


def links_by_part(knowledge: Knowledge, links: Iterable[WeightedLink]) -> list[list[list[WeightedLink]]]:
    """Links by part, then by cause."""
    parts: dict[str, dict[str, list[WeightedLink]]] = {part: {} for part in knowledge.base.parts}
    for link in links:
        parts.setdefault(knowledge.causes[link.cause].part, {}).setdefault(link.cause, []).append(link)
    return [list(causes.values()) for causes in parts.values() if causes]


def links_by_page(parts: Sequence[Sequence[Sequence[WeightedLink]]], fits: Fits) -> list[list[WeightedLink]]:
    """Links by page: a part stays together where a page can hold it, a cause too; nothing is lost."""
    pages: list[list[WeightedLink]] = []
    for part in parts:
        whole = [link for cause in part for link in cause]
        if pages and fits([*pages[-1], *whole]):
            pages[-1] += whole
        elif fits(whole):
            pages.append(whole)
        else:
            pages += _divided(part, fits)
    return pages


def _divided(part: Sequence[Sequence[WeightedLink]], fits: Fits) -> list[list[WeightedLink]]:
    """A part that is too large for a page: causes one after the other, and a cause that is too large link by link."""
    pages: list[list[WeightedLink]] = [[]]
    for cause in part:
        if fits([*pages[-1], *cause]):
            pages[-1] += cause
            continue
        if pages[-1]:
            pages.append([])
        for link in cause:
            if pages[-1] and not fits([*pages[-1], link]):
                pages.append([])
            pages[-1].append(link)
    return pages
