"""One cause on paper, for a binder: what it is, how it shows, what it is mistaken for, cautions, then the fixes step by step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nopost.advice.effort import Person, action_effort, cost
from nopost.charts.bars import bar_blocks
from nopost.charts.boxes import NAMELESS, SIGN_ROOM, sign
from nopost.charts.cautions import caution_blocks
from nopost.charts.decision import percent
from nopost.charts.flow import BODY, NOTE, STRONG, Block, Flow, heading, row_blocks, words
from nopost.charts.letters import Metrics
from nopost.charts.scene import Item, Page
from nopost.charts.setting import BASE, Style, height_of, set_rows, set_text, wrapped
from nopost.charts.sheet import Imprint, Sheet, dressed
from nopost.charts.strength import Parting, Strength, frequencies
from nopost.knowledge.model import Action, Cause, Effort

TITLE, FACTS = Style(15.0, bold=True), Style(9.5)
MOST_PAGES, NEIGHBOURS = 2, 3
SHOWN = (7, 5, 3)
"""So many findings are drawn, fewer where a cause would take more than MOST_PAGES."""
_NUMBER = 13.0
_NO_STEPS = "Steps left out for want of room; the program shows them."


class CausePage:
    """Pages of the causes of one knowledge base."""

    def __init__(self, strength: Strength, metrics: Metrics, sheet: Sheet) -> None:
        self.strength, self.metrics, self.sheet = strength, metrics, sheet
        self.knowledge = strength.model.knowledge
        self.flow = Flow(sheet.body, 2)
        self._frequencies = frequencies(self.knowledge)

    def pages(self, name: str, imprint: Imprint) -> list[Page]:
        """The pages of one cause."""
        cause = self.knowledge.causes[name]
        part = self.knowledge.base.parts.get(cause.part, cause.part)
        return dressed(self.metrics, self.sheet, part, imprint, self._bodies(cause), cause.title)

    def _bodies(self, cause: Cause) -> list[list[Item]]:
        """The fullest form that takes no more than MOST_PAGES, else the shortest one."""
        head, tried = self._head(cause), []
        for shown, steps in self._forms(len(cause.fixes)):
            tried = self.flow.pages(list(self._blocks(cause, shown, steps)), head)
            if len(tried) <= MOST_PAGES:
                break
        return tried

    def _forms(self, fixes: int) -> Iterator[tuple[int, int]]:
        """(findings drawn, fixes with their steps), fuller ones first."""
        yield SHOWN[0], fixes
        for steps in range(fixes, min(fixes, 2), -1):
            yield SHOWN[1], steps
        for steps in range(min(fixes, 2), -1, -1):
            yield SHOWN[2], steps

    def _head(self, cause: Cause) -> Block:
        width = self.sheet.body.width
        often = self._frequencies[cause.id]
        count = f"{often:.0f}" if often >= 1 else "fewer than 1"
        part = self.knowledge.base.parts.get(cause.part, cause.part)
        facts = f"{part}. About {count} of 1000 {self.knowledge.base.words.machines} have it."
        rows = (*wrapped(self.metrics, cause.title, TITLE, width, most=4), *wrapped(self.metrics, facts, FACTS, width, most=2))
        return Block(height_of(rows) + 8, tuple(set_rows(self.metrics, rows, 0.0, 0.0)))

    def _blocks(self, cause: Cause, shown: int, steps: int) -> Iterator[Block]:
        width, metrics = self.flow.width, self.metrics
        fixes = self._fixes(cause)
        looks = (name for parting in self._partings(cause.id) for name in self._hazards_of(parting.finding))
        hazards = dict.fromkeys((*cause.hazards, *looks, *(name for fix in fixes for name in fix.hazards)))
        yield from words(metrics, "What it is", cause.explanation, width)
        yield from bar_blocks(metrics, self.strength, cause.id, shown, width)
        yield from self._neighbours(cause)
        yield from caution_blocks(metrics, self.knowledge, hazards, width, "Cautions: before any step")
        if fixes:
            yield heading(metrics, "What mends it", width)
        for place, fix in enumerate(fixes):
            yield from self._fix(cause, fix, place < steps)
        yield from words(metrics, "What proves it", cause.proof, width)
        sources = "; ".join(f"{kind}: {source}" for kind, source in cause.source.items())
        yield from words(metrics, "Where the numbers come from", sources, width)

    def _neighbours(self, cause: Cause) -> Iterator[Block]:
        """The causes that look most like it, and the one question that tells them apart best."""
        others = self.strength.nearest(cause.id, NEIGHBOURS)
        if others:
            yield heading(self.metrics, "What it is mistaken for", self.flow.width)
        for other in others:
            title = wrapped(self.metrics, self.knowledge.causes[other].title, STRONG, self.flow.width)
            text = wrapped(self.metrics, self._parting_words(cause.id, other), BODY, self.flow.width)
            yield from (Block(b.height, b.items, stays=True) for b in row_blocks(self.metrics, title))
            yield from row_blocks(self.metrics, text, after=4.0)

    def _parting_words(self, cause: str, other: str) -> str:
        parting = self.strength.parting(cause, other)
        if parting is None:
            return "No question tells them apart; try the fixes in turn."
        title = self.knowledge.findings[parting.finding].title
        here, there = percent(parting.here), percent(parting.there)
        return f"{title}: “{parting.answer}” in {here} here, in {there} there ({parting.decibans:.1f} decibans)."

    def _partings(self, cause: str) -> list[Parting]:
        found = (self.strength.parting(cause, other) for other in self.strength.nearest(cause, NEIGHBOURS))
        return [parting for parting in found if parting is not None]

    def _hazards_of(self, finding: str) -> tuple[str, ...]:
        """Those of a question and of the test that it takes."""
        item = self.knowledge.findings[finding]
        return (*item.hazards, *(self.knowledge.actions[item.action].hazards if item.action else ()))

    def _fixes(self, cause: Cause) -> list[Action]:
        """What is worth most per cost first."""
        known = [self.knowledge.actions[name] for name in cause.fixes if name in self.knowledge.actions]
        person = Person()

        def worth(action: Action) -> float:
            return cause.fixes[action.id] / cost(self.knowledge, action_effort(self.knowledge, action, person), person)

        return sorted(known, key=lambda action: (-worth(action), action.id))

    def _fix(self, cause: Cause, fix: Action, with_steps: bool) -> Iterator[Block]:
        width = self.flow.width
        needs = ", ".join(self.knowledge.base.tools[n].title for n in fix.needs if n in self.knowledge.base.tools)
        facts = f"Mends it in {percent(cause.fixes[fix.id])}. {effort_words(fix.effort)}"
        title = wrapped(self.metrics, fix.title, STRONG, width)
        note = wrapped(self.metrics, facts + (f" Needs: {needs}." if needs else ""), NOTE, width)
        blocks = row_blocks(self.metrics, (*title, *note), before=2.0)
        yield from (Block(block.height, block.items, stays=True) for block in blocks)
        yield from self._warned(fix)
        rows = [self._step(number, step) for number, step in enumerate(fix.steps, start=1)] if with_steps else []
        yield from (block for row in rows for block in row)
        if not with_steps:
            yield from row_blocks(self.metrics, wrapped(self.metrics, _NO_STEPS, NOTE, width), after=3.0)

    def _warned(self, fix: Action) -> Iterator[Block]:
        """The sign and the titles of the cautions, before the first step and together with it."""
        titles = [self.knowledge.hazards[name].title for name in fix.hazards if name in self.knowledge.hazards]
        if titles:
            rows = wrapped(
                self.metrics, "; ".join(titles).strip() or NAMELESS, Style(8.0, bold=True), self.flow.width - SIGN_ROOM
            )
            yield Block(height_of(rows) + 2, (*sign(0.0, 0.5), *set_rows(self.metrics, rows, SIGN_ROOM, 0.0)), stays=True)

    def _step(self, number: int, text: str) -> Sequence[Block]:
        label = f"{number}."
        indent = max(_NUMBER, self.metrics.width(label, BODY.size) + 3)
        rows = wrapped(self.metrics, text, BODY, self.flow.width, indent=indent)
        blocks = row_blocks(self.metrics, rows, after=2.0)
        if not blocks:
            return ()
        shown = set_text(self.metrics, label, BODY, 0.0, BASE * BODY.size)
        return [Block(blocks[0].height, (shown, *blocks[0].items), blocks[0].stays), *blocks[1:]]


def effort_words(effort: Effort) -> str:
    """Minutes, money and risk in words; money has no currency in a knowledge base."""
    words_ = [f"{effort.minutes:g} minutes"]
    words_ += [f"{effort.money:g} in money"] if effort.money else []
    words_ += [f"risk {effort.risk:g}"] if effort.risk else []
    return ", ".join(words_) + "."
