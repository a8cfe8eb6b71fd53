"""`nopost kb draw`: the knowledge as a map, the questions as a decision chart, causes as pages of a binder.

A bar is shown while a drawing is made. It becomes one PDF, or an SVG for each page.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from nopost.errors import OutputError, UnknownNameError
from nopost_cli.shared.options import knowledge_of, own_kb_option
from nopost_cli.shared.terminal import clean, make_console, refuse_existing, write_result

if TYPE_CHECKING:
    from nopost.knowledge.model import Base, Knowledge
    from nopost.render.page_layout import Imprint, PaperSheet
    from nopost.render.scene import Page
    from nopost.render.typesetting import FontMetrics

F = TypeVar("F", bound=Callable[..., Any])
SUFFIXES = (".pdf", ".svg")
ALL = "all"
_FEW = 12


@click.group("draw", short_help="Draw the knowledge, the questions, or one cause's page.")
def command() -> None:
    """Draw for paper, plain and good to read in black and white: a map, a decision chart, or pages for a binder."""


def drawing_options(function: F) -> F:
    """What all drawings share: where to, paper, date, font, knowledge base."""
    font_type = click.Path(path_type=Path, exists=True, dir_okay=False)
    for option in (
        own_kb_option,
        click.option("--force", is_flag=True, help="Write over files that are there."),
        click.option("--font", metavar="FILE", type=font_type, help="Font of a PDF; without it only Western letters are shown."),
        click.option("--date", "dated", metavar="TEXT", default="", help="Date to print at the head; without it there is none."),
        click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the paper."),
        click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="File to write: .pdf or .svg."),
    ):
        function = option(function)
    return function


@command.command("map", short_help="Causes and findings, and how strongly they belong together.")
@click.option("--part", "parts", metavar="PART", multiple=True, help="Only causes of this part (again for more).")
@click.option("--cause", "causes", metavar="CAUSE", multiple=True, help="Only this cause (again for more).")
@click.option("--top", type=click.IntRange(1, 50), default=4, show_default=True, help="Lines for each cause, the strongest.")
@drawing_options
def draw_map(parts: tuple[str, ...], causes: tuple[str, ...], top: int, kb: Path | None, **drawing: Any) -> None:
    """Draw causes and findings with lines between them, heavier for more weight of evidence.

    One or more pages, causes by part. Without --part and --cause, all causes.
    """
    target = target_of(drawing, "map")
    target.save(map_pages_of(knowledge_of(kb), parts, causes, top, target))


@command.command("chart", short_help="The first questions as a tree.")
@click.option("--levels", type=click.IntRange(1, 12), default=4, show_default=True, help="Questions and fixes in a row.")
@click.option(
    "--least",
    type=click.FloatRange(0.01, 50),
    default=1.0,
    show_default=True,
    metavar="PERCENT",
    help="Leave out branches that fewer machines reach.",
)
@drawing_options
def draw_chart(levels: int, least: float, kb: Path | None, **drawing: Any) -> None:
    """Draw the questions in the order in which the advice asks them, as a tree.

    A branch that raises a caution is never left out; what is left out is named with its share.
    """
    if math.isnan(least):
        raise click.BadParameter("it must be a number", param_hint="--least")
    target = target_of(drawing, "chart")
    target.save(chart_pages_of(knowledge_of(kb), levels, least / 100, target))


@command.command("page", short_help="A page for a binder for each cause.")
@click.argument("causes", metavar="CAUSE...|all", nargs=-1, required=True)
@drawing_options
def draw_page(causes: tuple[str, ...], kb: Path | None, **drawing: Any) -> None:
    """Draw a page for a binder for each CAUSE, or for all of them.

    What it is and how it shows, what it is mistaken for, cautions, fixes step by step, proof, sources. One page each, else two.
    """
    target = target_of(drawing, causes[0] if len(causes) == 1 and causes != ("all",) else "pages")
    target.save(cause_pages_of(knowledge_of(kb), causes, target))


@dataclass(frozen=True)
class DrawingTarget:
    """The file that was asked for, what to write with, and the paper."""

    path: Path
    paper: str
    date: str
    force: bool
    metrics: FontMetrics

    def sheet(self, *, binding: bool = False) -> PaperSheet:
        """The paper."""
        from nopost.render.page_layout import PaperSheet

        return PaperSheet(self.paper, binding=binding)

    def imprint(self, base: Base) -> Imprint:
        """What each page carries."""
        from nopost.render.page_layout import Imprint

        return Imprint(base.name, base.edition, self.date)

    def save(self, pages: Sequence[Page]) -> None:
        """Write all files or, when one is there already, none; say which."""
        files = dict(self._files(pages))
        for path in files:
            refuse_existing(path, self.force)
        for path, content in files.items():
            write_result(path, content)
        self._say(list(files), len(pages))

    def _files(self, pages: Sequence[Page]) -> Iterator[tuple[Path, bytes]]:
        from nopost.render.pdf import PdfWriter
        from nopost.render.svg import svg_of

        if isinstance(self.metrics, PdfWriter):
            yield self.path, self.metrics.document(pages)
            return
        digits = len(str(len(pages)))
        for number, page in enumerate(pages, start=1):
            name = self.path.stem + (f"-{number:0{digits}}" if len(pages) > 1 else "") + self.path.suffix
            yield self.path.with_name(name), svg_of(page).encode("utf-8")

    def _say(self, files: Sequence[Path], pages: int) -> None:
        from rich.text import Text

        from nopost.render.pdf import PdfWriter

        console = make_console()
        named = str(files[0]) if len(files) == 1 else f"{files[0]} to {files[-1].name}"
        console.print(Text(clean(f"{named}: {pages} page{'s' if pages != 1 else ''}")), soft_wrap=True)  # a path is never broken
        if isinstance(self.metrics, PdfWriter) and (lacking := sorted(self.metrics.replaced)):
            shown = " ".join(lacking[:_FEW]) + (" ..." if len(lacking) > _FEW else "")
            note = f"The font has no {shown}: printed as numbers in brackets. --font FILE takes a font that has them."
            make_console(stderr=True).print(Text(clean(note)))


def target_of(drawing: Mapping[str, Any], name: str) -> DrawingTarget:
    """The target of a command's options; without --out it is `name`.pdf here.

    What stands in the way is said at once, not after the work.
    """
    from nopost.render.pdf import PdfWriter
    from nopost.render.typesetting import SansSerifMetrics

    path: Path = drawing["out"] or Path(f"{name}.pdf")
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise click.BadParameter(f"{path}: its name must end in .pdf or .svg", param_hint="--out")
    if drawing["font"] and suffix == ".svg":
        raise click.UsageError("--font is for a PDF; an SVG is shown in the viewer's own font")
    if not path.parent.is_dir():
        raise OutputError(f"{path.parent}: no such folder")
    refuse_existing(path, drawing["force"])
    metrics: FontMetrics = PdfWriter(drawing["font"]) if suffix == ".pdf" else SansSerifMetrics()
    return DrawingTarget(path, drawing["paper"], drawing["dated"], drawing["force"], metrics)


def map_pages_of(
    knowledge: Knowledge, parts: Sequence[str], causes: Sequence[str], top: int, target: DrawingTarget
) -> list[Page]:
    """The map of these parts and causes, or of all."""
    from rich.text import Text

    from nopost.diagnosis.belief.expected_weight import ExpectedWeightModel, strongest_links
    from nopost.diagnosis.belief.posterior import BeliefModel
    from nopost.render.link_map import map_pages

    _check("part", parts, knowledge.base.parts)
    _check("cause", causes, knowledge.causes)
    chosen = [c.id for c in knowledge.causes.values() if c.id in causes or c.part in parts or not (causes or parts)]
    links = strongest_links(ExpectedWeightModel(BeliefModel(knowledge)), chosen, top)
    if silent := sorted(set(chosen) - {link.cause for link in links}):
        note = f"No finding speaks for these, they are not on the map: {', '.join(silent)}"
        make_console(stderr=True).print(Text(clean(note)))
    return map_pages(knowledge, links, target.metrics, target.sheet(), target.imprint(knowledge.base))


def chart_pages_of(knowledge: Knowledge, levels: int, least: float, target: DrawingTarget) -> list[Page]:
    """The decision chart."""
    from rich.progress import Progress

    from nopost.diagnosis.diagnose import Diagnostician
    from nopost.render.decision_chart import DecisionChart
    from nopost.render.decision_tree import DecisionTree

    console = make_console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as shown:
        task = shown.add_task("Questions", total=1.0)
        root = DecisionTree(Diagnostician(knowledge), levels, least, lambda share: shown.advance(task, share)).grow()
    chart = DecisionChart(knowledge, root, target.metrics, target.sheet())
    return chart.pages(target.imprint(knowledge.base))


def cause_pages_of(knowledge: Knowledge, causes: Sequence[str], target: DrawingTarget) -> list[Page]:
    """A page or two for each of these causes, in this order; `all` stands for all of them, by part."""
    from rich.progress import track

    from nopost.diagnosis.belief.expected_weight import ExpectedWeightModel
    from nopost.diagnosis.belief.posterior import BeliefModel
    from nopost.render.cause_page import CausePage

    if ALL in causes and ALL not in knowledge.causes:
        causes = _by_part(knowledge)
    _check("cause", causes, knowledge.causes)
    maker = CausePage(ExpectedWeightModel(BeliefModel(knowledge)), target.metrics, target.sheet(binding=True))
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
