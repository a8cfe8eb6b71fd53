"""The three drawings, with a bar while they are made."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.progress import Progress, track
from rich.text import Text

from nopost.advice.assess import Assessor
from nopost.belief.model import BeliefModel
from nopost.charts.cause_page import CausePage
from nopost.charts.decision import DecisionTree
from nopost.charts.decision_chart import DecisionChart
from nopost.charts.link_map import map_pages
from nopost.charts.scene import Page
from nopost.charts.strength import Strength, strongest
from nopost.errors import UnknownNameError
from nopost.knowledge.model import Knowledge
from nopost_cli.kb.draw_output import Target
from nopost_cli.terminal import clean, make_console

ALL = "all"


def map_pages_of(knowledge: Knowledge, parts: Sequence[str], causes: Sequence[str], top: int, target: Target) -> list[Page]:
    """The map of these parts and causes, or of all."""
    _check("part", parts, knowledge.base.parts)
    _check("cause", causes, knowledge.causes)
    chosen = [c.id for c in knowledge.causes.values() if c.id in causes or c.part in parts or not (causes or parts)]
    links = strongest(Strength(BeliefModel(knowledge)), chosen, top)
    if silent := sorted(set(chosen) - {link.cause for link in links}):
        note = f"No finding speaks for these, they are not on the map: {', '.join(silent)}"
        make_console(stderr=True).print(Text(clean(note)))
    return map_pages(knowledge, links, target.metrics, target.sheet(), target.imprint(knowledge.base))


def chart_pages_of(knowledge: Knowledge, levels: int, least: float, target: Target) -> list[Page]:
    """The decision chart."""
    console = make_console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as shown:
        task = shown.add_task("Questions", total=1.0)
        root = DecisionTree(Assessor(knowledge), levels, least, lambda share: shown.advance(task, share)).grow()
    chart = DecisionChart(knowledge, root, target.metrics, target.sheet())
    return chart.pages(target.imprint(knowledge.base))


def cause_pages_of(knowledge: Knowledge, causes: Sequence[str], target: Target) -> list[Page]:
    """A page or two for each of these causes, in this order; `all` stands for all of them, by part."""
    if ALL in causes and ALL not in knowledge.causes:
        causes = _by_part(knowledge)
    _check("cause", causes, knowledge.causes)
    maker = CausePage(Strength(BeliefModel(knowledge)), target.metrics, target.sheet(binding=True))
    console = make_console(stderr=True)
    shown = track(list(dict.fromkeys(causes)), "Causes", console=console, transient=True, disable=not console.is_terminal)
    return [page for cause in shown for page in maker.pages(cause, target.imprint(knowledge.base))]


def _by_part(knowledge: Knowledge) -> list[str]:
    order = {part: place for place, part in enumerate(knowledge.base.parts)}
    return sorted(knowledge.causes, key=lambda name: (order.get(knowledge.causes[name].part, len(order)), name))


def _check(what: str, names: Iterable[str], known: Iterable[str]) -> None:
    """Raise UnknownNameError for a name that is not known."""
    known = list(known)
    for name in names:
        if name not in known:
            raise UnknownNameError(what, name, known)
