"""The knowledge as a map: causes by part at the left, the findings that speak for them at the right."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from nopost.charts.letters import Metrics
from nopost.charts.link_columns import LinkPage
from nopost.charts.scene import Page
from nopost.charts.sheet import Imprint, Sheet, dressed
from nopost.charts.strength import Link
from nopost.knowledge.model import Knowledge

MOST_LINES = 30
"""More lines on one page cannot be followed (judgement, by looking)."""
Fits = Callable[[Sequence[Link]], bool]


def map_pages(knowledge: Knowledge, links: Sequence[Link], metrics: Metrics, sheet: Sheet, imprint: Imprint) -> list[Page]:
    """Pages of these links, causes in the order of the knowledge base's parts."""

    def page(some: Sequence[Link]) -> LinkPage:
        return LinkPage(knowledge, some, metrics, sheet.body)

    def fits(some: Sequence[Link]) -> bool:
        return len(some) <= MOST_LINES and page(some).fits

    bodies = [page(some).items() for some in spread(by_part(knowledge, links), fits)]
    return dressed(metrics, sheet, "Map of causes and findings", imprint, bodies or [[]])


def by_part(knowledge: Knowledge, links: Iterable[Link]) -> list[list[list[Link]]]:
    """Links by part, then by cause."""
    parts: dict[str, dict[str, list[Link]]] = {part: {} for part in knowledge.base.parts}
    for link in links:
        parts.setdefault(knowledge.causes[link.cause].part, {}).setdefault(link.cause, []).append(link)
    return [list(causes.values()) for causes in parts.values() if causes]


def spread(parts: Sequence[Sequence[Sequence[Link]]], fits: Fits) -> list[list[Link]]:
    """Links by page: a part stays together where a page can hold it, a cause too; nothing is lost."""
    pages: list[list[Link]] = []
    for part in parts:
        whole = [link for cause in part for link in cause]
        if pages and fits([*pages[-1], *whole]):
            pages[-1] += whole
        elif fits(whole):
            pages.append(whole)
        else:
            pages += _divided(part, fits)
    return pages


def _divided(part: Sequence[Sequence[Link]], fits: Fits) -> list[list[Link]]:
    """A part that is too large for a page: causes one after the other, and a cause that is too large link by link."""
    pages: list[list[Link]] = [[]]
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
