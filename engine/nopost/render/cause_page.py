"""One cause on paper, for a binder: what it is, how it shows, what it is mistaken for, cautions, then the fixes step by step.

How it shows is drawn in bars of the answers' probability with the cause beside what is usual: full and open, so that they
differ in black and white.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nopost.diagnosis.belief.expected_weight import Discriminator, ExpectedWeightModel, WeightedLink, causes_per_thousand
from nopost.diagnosis.history import Person, action_effort, effort_cost
from nopost.knowledge.model import Action, Cause, Effort
from nopost.render.chart_boxes import SIGN_ROOM, UNTITLED_HAZARD, caution_blocks, warning_sign
from nopost.render.page_layout import (
    BODY,
    NOTE,
    STRONG,
    ColumnLayout,
    Imprint,
    LayoutBlock,
    PaperSheet,
    row_blocks,
    section_heading,
    text_section,
    with_head_and_foot,
)
from nopost.render.scene import Item, Page, Rectangle
from nopost.render.typesetting import (
    BASELINE,
    LEADING,
    FontMetrics,
    TextStyle,
    height_of,
    percent,
    right_text,
    set_rows,
    set_text,
    wrapped,
)

ANSWERS_DRAWN = 3
"""So many answers of a finding are drawn: those whose probability differs most."""
LEAST_DIFFERENCE = 0.05
"""A finding is drawn when an answer differs by this much from what is usual; less cannot be seen in a bar (judgement)."""
_BAR, _TEXT, _NUMBERS = 4.0, 0.44, 66.0


@dataclass(frozen=True, slots=True)
class AnswerBar:
    """An answer with its probability under the cause and usually."""

    answer: str
    here: float
    usual: float


def bar_blocks(metrics: FontMetrics, weights: ExpectedWeightModel, cause: str, most: int, width: float) -> list[LayoutBlock]:
    """A heading, the key, and the strongest findings with their bars; nothing when none says anything."""
    links = [link for link in weights.links_of(cause) if _visible(weights, link)][:most]
    blocks = [_finding_block(metrics, weights, cause, link.finding, link.decibans, width) for link in links]
    return (
        [section_heading(metrics, "What it shows, strongest first", width), _bar_key(metrics, width), *blocks] if blocks else []
    )


def _visible(weights: ExpectedWeightModel, link: WeightedLink) -> bool:
    return max(abs(bar.here - bar.usual) for bar in answer_bars(weights, link.cause, link.finding)) >= LEAST_DIFFERENCE


def answer_bars(weights: ExpectedWeightModel, cause: str, finding: str) -> list[AnswerBar]:
    """The answers that differ most, in the finding's order."""
    here, usual = weights.answer_distributions(cause, finding)
    answers = weights.model.knowledge.findings[finding].answers
    chosen = sorted(sorted(range(len(answers)), key=lambda k: -abs(here[k] - usual[k]))[:ANSWERS_DRAWN])
    return [AnswerBar(answers[k].text, float(here[k]), float(usual[k])) for k in chosen]


def _bar_key(metrics: FontMetrics, width: float) -> LayoutBlock:
    items: list[Item] = [Rectangle(0.0, 2.5, 12.0, _BAR, 0.0, 0.0)]
    items += set_rows(metrics, wrapped(metrics, "with this cause", NOTE, width / 2 - 20, most=1), 16.0, 0.0)
    items.append(Rectangle(width / 2 - 20, 2.5, 12.0, _BAR, 0.6, 1.0))
    items += set_rows(metrics, wrapped(metrics, "when nothing touches it", NOTE, width / 2, most=1), width / 2 - 4, 0.0)
    return LayoutBlock(NOTE.size * 1.24 + 3, tuple(items), stays=True)


def _finding_block(
    metrics: FontMetrics, weights: ExpectedWeightModel, cause: str, finding: str, decibans: float, width: float
) -> LayoutBlock:
    """Title and weights, then a line for each answer."""
    title = weights.model.knowledge.findings[finding].title
    rows = wrapped(metrics, title, STRONG, width - 62, most=3)
    items = set_rows(metrics, rows, 0.0, 0.0)
    items.append(right_text(metrics, f"{decibans:.1f} decibans", NOTE, width, STRONG.size * BASELINE))
    y = max(height_of(rows), STRONG.size * LEADING) + 1
    for bar in answer_bars(weights, cause, finding):
        drawn, height = _answer_items(metrics, bar, width, y)
        items += drawn
        y += height
    return LayoutBlock(y + 4, tuple(items))


def _answer_items(metrics: FontMetrics, bar: AnswerBar, width: float, y: float) -> tuple[Sequence[Item], float]:
    rows = wrapped(metrics, bar.answer, NOTE, width * _TEXT - 6, most=2)
    height = max(height_of(rows), 2 * _BAR + 2) + 1.5
    x, room = width * _TEXT, width * (1 - _TEXT) - _NUMBERS
    numbers = metrics.renderable(f"{percent(bar.here, '<1 %')} / {percent(bar.usual, '<1 %')}")
    items: list[Item] = list(set_rows(metrics, rows, 0.0, y))
    items.append(Rectangle(x, y + 1, max(room * bar.here, 0.4), _BAR, 0.0, 0.0))
    items.append(Rectangle(x, y + 1 + _BAR + 0.6, max(room * bar.usual, 0.4), _BAR, 0.6, 1.0))
    items.append(set_text(metrics, numbers, NOTE, x + room + 4, y + NOTE.size * BASELINE))
    return items, height


TITLE, FACTS = TextStyle(15.0, bold=True), TextStyle(9.5)
MOST_PAGES, NEIGHBOURS = 2, 3
FINDINGS_DRAWN = (7, 5, 3)
"""So many findings are drawn, fewer where a cause would take more than MOST_PAGES."""
_NUMBER = 13.0
_NO_STEPS = "Steps left out for want of room; the program shows them."


class CausePage:
    """Pages of the causes of one knowledge base."""

    def __init__(self, weights: ExpectedWeightModel, metrics: FontMetrics, sheet: PaperSheet) -> None:
        self.weights, self.metrics, self.sheet = weights, metrics, sheet
        self.knowledge = weights.model.knowledge
        self.columns = ColumnLayout(sheet.body, 2)
        self._frequencies = causes_per_thousand(self.knowledge)

    def pages(self, name: str, imprint: Imprint) -> list[Page]:
        """The pages of one cause."""
        cause = self.knowledge.causes[name]
        part = self.knowledge.base.parts.get(cause.part, cause.part)
        return with_head_and_foot(self.metrics, self.sheet, part, imprint, self._bodies(cause), cause.title)

    def _bodies(self, cause: Cause) -> list[list[Item]]:
        """The fullest form that takes no more than MOST_PAGES, else the shortest one."""
        head, tried = self._head(cause), []
        for shown, steps in self._forms(len(cause.fixes)):
            tried = self.columns.pages(list(self._blocks(cause, shown, steps)), head)
            if len(tried) <= MOST_PAGES:
                break
        return tried

    def _forms(self, fixes: int) -> Iterator[tuple[int, int]]:
        """(findings drawn, fixes with their steps), fuller ones first."""
        yield FINDINGS_DRAWN[0], fixes
        for steps in range(fixes, min(fixes, 2), -1):
            yield FINDINGS_DRAWN[1], steps
        for steps in range(min(fixes, 2), -1, -1):
            yield FINDINGS_DRAWN[2], steps

    def _head(self, cause: Cause) -> LayoutBlock:
        width = self.sheet.body.width
        often = self._frequencies[cause.id]
        count = f"{often:.0f}" if often >= 1 else "fewer than 1"
        part = self.knowledge.base.parts.get(cause.part, cause.part)
        facts = f"{part}. About {count} of 1000 {self.knowledge.base.words.machines} have it."
        rows = (*wrapped(self.metrics, cause.title, TITLE, width, most=4), *wrapped(self.metrics, facts, FACTS, width, most=2))
        return LayoutBlock(height_of(rows) + 8, tuple(set_rows(self.metrics, rows, 0.0, 0.0)))

    def _blocks(self, cause: Cause, shown: int, steps: int) -> Iterator[LayoutBlock]:
        width, metrics = self.columns.width, self.metrics
        fixes = self._fixes(cause)
        looks = (name for discriminator in self._discriminators(cause.id) for name in self._hazards_of(discriminator.finding))
        hazards = dict.fromkeys((*cause.hazards, *looks, *(name for fix in fixes for name in fix.hazards)))
        yield from text_section(metrics, "What it is", cause.explanation, width)
        yield from bar_blocks(metrics, self.weights, cause.id, shown, width)
        yield from self._neighbours(cause)
        yield from caution_blocks(metrics, self.knowledge, hazards, width, "Cautions: before any step")
        if fixes:
            yield section_heading(metrics, "What mends it", width)
        for place, fix in enumerate(fixes):
            yield from self._fix(cause, fix, place < steps)
        yield from text_section(metrics, "What proves it", cause.proof, width)
        sources = "; ".join(f"{kind}: {source}" for kind, source in cause.source.items())
        yield from text_section(metrics, "Where the numbers come from", sources, width)

    def _neighbours(self, cause: Cause) -> Iterator[LayoutBlock]:
        """The causes that look most like it, and the one question that tells them apart best."""
        others = self.weights.hardest_to_distinguish(cause.id, NEIGHBOURS)
        if others:
            yield section_heading(self.metrics, "What it is mistaken for", self.columns.width)
        for other in others:
            title = wrapped(self.metrics, self.knowledge.causes[other].title, STRONG, self.columns.width)
            text = wrapped(self.metrics, self._discriminator_words(cause.id, other), BODY, self.columns.width)
            yield from (LayoutBlock(b.height, b.items, stays=True) for b in row_blocks(self.metrics, title))
            yield from row_blocks(self.metrics, text, after=4.0)

    def _discriminator_words(self, cause: str, other: str) -> str:
        discriminator = self.weights.best_discriminator(cause, other)
        if discriminator is None:
            return "No question tells them apart; try the fixes in turn."
        title = self.knowledge.findings[discriminator.finding].title
        here, there = percent(discriminator.probability), percent(discriminator.probability_other)
        return f"{title}: “{discriminator.answer}” in {here} here, in {there} there ({discriminator.decibans:.1f} decibans)."

    def _discriminators(self, cause: str) -> list[Discriminator]:
        found = (
            self.weights.best_discriminator(cause, other) for other in self.weights.hardest_to_distinguish(cause, NEIGHBOURS)
        )
        return [discriminator for discriminator in found if discriminator is not None]

    def _hazards_of(self, finding: str) -> tuple[str, ...]:
        """Those of a question and of the test that it takes."""
        item = self.knowledge.findings[finding]
        return (*item.hazards, *(self.knowledge.actions[item.action].hazards if item.action else ()))

    def _fixes(self, cause: Cause) -> list[Action]:
        """What is worth most per cost first."""
        known = [self.knowledge.actions[name] for name in cause.fixes if name in self.knowledge.actions]
        person = Person()

        def worth(action: Action) -> float:
            return cause.fixes[action.id] / effort_cost(self.knowledge, action_effort(self.knowledge, action, person), person)

        return sorted(known, key=lambda action: (-worth(action), action.id))

    def _fix(self, cause: Cause, fix: Action, with_steps: bool) -> Iterator[LayoutBlock]:
        width = self.columns.width
        needs = ", ".join(self.knowledge.base.tools[n].title for n in fix.needs if n in self.knowledge.base.tools)
        facts = f"Mends it in {percent(cause.fixes[fix.id])}. {effort_words(fix.effort)}"
        title = wrapped(self.metrics, fix.title, STRONG, width)
        note = wrapped(self.metrics, facts + (f" Needs: {needs}." if needs else ""), NOTE, width)
        blocks = row_blocks(self.metrics, (*title, *note), before=2.0)
        yield from (LayoutBlock(block.height, block.items, stays=True) for block in blocks)
        yield from self._warned(fix)
        rows = [self._step(number, step) for number, step in enumerate(fix.steps, start=1)] if with_steps else []
        yield from (block for row in rows for block in row)
        if not with_steps:
            yield from row_blocks(self.metrics, wrapped(self.metrics, _NO_STEPS, NOTE, width), after=3.0)

    def _warned(self, fix: Action) -> Iterator[LayoutBlock]:
        """The sign and the titles of the cautions, before the first step and together with it."""
        titles = [self.knowledge.hazards[name].title for name in fix.hazards if name in self.knowledge.hazards]
        if titles:
            rows = wrapped(
                self.metrics,
                "; ".join(titles).strip() or UNTITLED_HAZARD,
                TextStyle(8.0, bold=True),
                self.columns.width - SIGN_ROOM,
            )
            yield LayoutBlock(
                height_of(rows) + 2, (*warning_sign(0.0, 0.5), *set_rows(self.metrics, rows, SIGN_ROOM, 0.0)), stays=True
            )

    def _step(self, number: int, text: str) -> Sequence[LayoutBlock]:
        label = f"{number}."
        indent = max(_NUMBER, self.metrics.width(label, BODY.size) + 3)
        rows = wrapped(self.metrics, text, BODY, self.columns.width, indent=indent)
        blocks = row_blocks(self.metrics, rows, after=2.0)
        if not blocks:
            return ()
        shown = set_text(self.metrics, label, BODY, 0.0, BASELINE * BODY.size)
        return [LayoutBlock(blocks[0].height, (shown, *blocks[0].items), blocks[0].stays), *blocks[1:]]


def effort_words(effort: Effort) -> str:
    """Minutes, money and risk in words; money has no currency in a knowledge base."""
    words_ = [f"{effort.minutes:g} minutes"]
    words_ += [f"{effort.money:g} in money"] if effort.money else []
    words_ += [f"risk {effort.risk:g}"] if effort.risk else []
    return ", ".join(words_) + "."
