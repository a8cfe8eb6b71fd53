"""Where a drawing goes: one PDF, or an SVG for each page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.text import Text

from nopost.charts.letters import AnySans, Metrics
from nopost.charts.pdf import PdfPages
from nopost.charts.scene import Page
from nopost.charts.svg import svg_of
from nopost.errors import OutputError
from nopost.knowledge.model import Base
from nopost_cli.output import refuse_existing, write_result
from nopost_cli.terminal import clean, make_console

if TYPE_CHECKING:
    from nopost.charts.sheet import Imprint, Sheet

SUFFIXES = (".pdf", ".svg")
_FEW = 12


@dataclass(frozen=True)
class Target:
    """The file that was asked for, what to write with, and the paper."""

    path: Path
    paper: str
    date: str
    force: bool
    metrics: Metrics

    def sheet(self, *, binding: bool = False) -> Sheet:
        """The paper."""
        from nopost.charts.sheet import Sheet

        return Sheet(self.paper, binding=binding)

    def imprint(self, base: Base) -> Imprint:
        """What each page carries."""
        from nopost.charts.sheet import Imprint

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
        if isinstance(self.metrics, PdfPages):
            yield self.path, self.metrics.document(pages)
            return
        digits = len(str(len(pages)))
        for number, page in enumerate(pages, start=1):
            name = self.path.stem + (f"-{number:0{digits}}" if len(pages) > 1 else "") + self.path.suffix
            yield self.path.with_name(name), svg_of(page).encode("utf-8")

    def _say(self, files: Sequence[Path], pages: int) -> None:
        console = make_console()
        named = str(files[0]) if len(files) == 1 else f"{files[0]} to {files[-1].name}"
        console.print(Text(clean(f"{named}: {pages} page{'s' if pages != 1 else ''}")), soft_wrap=True)  # a path is never broken
        if isinstance(self.metrics, PdfPages) and (lacking := sorted(self.metrics.replaced)):
            shown = " ".join(lacking[:_FEW]) + (" ..." if len(lacking) > _FEW else "")
            note = f"The font has no {shown}: printed as numbers in brackets. --font FILE takes a font that has them."
            make_console(stderr=True).print(Text(clean(note)))


def target_of(drawing: Mapping[str, Any], name: str) -> Target:
    """The target of a command's options; without --out it is `name`.pdf here.

    What stands in the way is said at once, not after the work.
    """
    path: Path = drawing["out"] or Path(f"{name}.pdf")
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise click.BadParameter(f"{path}: its name must end in .pdf or .svg", param_hint="--out")
    if drawing["font"] and suffix == ".svg":
        raise click.UsageError("--font is for a PDF; an SVG is shown in the viewer's own font")
    if not path.parent.is_dir():
        raise OutputError(f"{path.parent}: no such folder")
    refuse_existing(path, drawing["force"])
    metrics: Metrics = PdfPages(drawing["font"]) if suffix == ".pdf" else AnySans()
    return Target(path, drawing["paper"], drawing["dated"], drawing["force"], metrics)
