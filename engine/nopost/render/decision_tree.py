"""The questions as a tree: what the advice asks next after each answer, down to a depth.

Built by the real diagnosis and its replay, so the paper says what the program would say.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from nopost.diagnosis.advice.adviser import StepKind
from nopost.diagnosis.cautions import step_hazards
from nopost.diagnosis.diagnose import Diagnosis, Diagnostician
from nopost.diagnosis.history import Event, EventKind, History
from nopost.diagnosis.replay import replay
from nopost.diagnosis.step_view import step_title
from nopost.knowledge.model import Effort, Knowledge
from nopost.render.typesetting import percent

LEADING_CAUSES, LEAST_SHOWN = 3, 0.05
"""So many leading causes stand at an end, those of at least this probability, and the first one always."""
MOST_LEFT_OUT = 0.5
"""A box most of whose answers would be left out is an end: the rest would be a chart of the rare ways (judgement)."""
Progress = Callable[[float], None]


class ChartNodeKind(StrEnum):
    """What a box of the chart is."""

    ASK = "ask"
    DO = "do"
    SHOP = "shop"
    STOP = "stop"
    END = "end"
    STARTS = "starts"


@dataclass(frozen=True, slots=True)
class ChartNode:
    """A box: title, the ids of the hazards to read first, notes under the title, and what follows."""

    kind: ChartNodeKind
    title: str
    hazards: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    branches: tuple[ChartBranch, ...] = ()
    left_out: tuple[str, ...] = ()
    left_share: float = 0.0


@dataclass(frozen=True, slots=True)
class ChartBranch:
    """An answer or outcome, its probability at this box, and the box it leads to."""

    label: str
    probability: float
    node: ChartNode


@dataclass(frozen=True, slots=True)
class TreePosition:
    """Where the tree grows: events so far, questions so far, the chance to come here, hazards raised before."""

    events: tuple[Event, ...] = ()
    level: int = 0
    reach: float = 1.0
    raised: frozenset[str] = frozenset()

    def after(self, event: Event, probability: float, raised: frozenset[str]) -> TreePosition:
        """One event further."""
        return TreePosition((*self.events, event), self.level + 1, self.reach * probability, raised)


class DecisionTree:
    """Grows the tree; every state is assessed once."""

    def __init__(self, diagnostician: Diagnostician, levels: int, least: float, progress: Progress | None = None) -> None:
        """`levels`: boxes in a row before an end; `least`: branches that fewer machines reach are left out."""
        self.diagnostician, self.levels, self.least = diagnostician, levels, least
        self.knowledge: Knowledge = diagnostician.knowledge
        self._progress = progress or (lambda share: None)
        self._known: dict[tuple[Event, ...], Diagnosis] = {}

    def grow(self, place: TreePosition | None = None) -> ChartNode:
        """The box at a place, with all that follows."""
        place = place or TreePosition()
        found = self._assessed(place.events)
        raised = frozenset(found.inference.cautions)
        node = self._node(found, place, tuple(name for name in found.inference.cautions if name not in place.raised))
        if node.kind not in (ChartNodeKind.ASK, ChartNodeKind.DO):
            self._progress(place.reach)
            return node
        branches = self._answers(found, place, raised) if node.kind is ChartNodeKind.ASK else self._outcomes(found, place, raised)
        kept, left, lost = branches
        if lost > MOST_LEFT_OUT and all(branch.node.kind not in (ChartNodeKind.STOP, ChartNodeKind.SHOP) for branch in kept):
            return self._end(found, node)
        return replace(node, branches=tuple(kept), left_out=tuple(left), left_share=lost)

    def _assessed(self, events: tuple[Event, ...]) -> Diagnosis:
        if events not in self._known:
            self._known[events] = self.diagnostician.diagnose(History(events=events))
        return self._known[events]

    def _node(self, found: Diagnosis, place: TreePosition, fresh: tuple[str, ...]) -> ChartNode:
        step = found.advice.step
        title, hazards = step_title(self.knowledge, step), step_hazards(self.knowledge, step.kind, step.id)
        hazards = tuple(dict.fromkeys((*fresh, *hazards)))
        if any(self.knowledge.hazards[name].stop for name in fresh):
            return ChartNode(ChartNodeKind.STOP, "Stop here", hazards, (f"Then, without power: {title}",))
        if step.kind is StepKind.LAST_RESORT:
            return ChartNode(ChartNodeKind.SHOP, title, hazards, self._leading(found))
        if found.verdict in ("cause-found", "no-listed-cause") or place.level >= self.levels:
            return self._end(found, ChartNode(ChartNodeKind.END, title, hazards))
        if step.kind is StepKind.ASK:
            return ChartNode(ChartNodeKind.ASK, title, hazards)
        effort = _effort(self.knowledge.actions[step.id].effort)
        return ChartNode(ChartNodeKind.DO, title, hazards, (f"Helps in {percent(step.success_probability)} of cases", effort))

    def _end(self, found: Diagnosis, node: ChartNode) -> ChartNode:
        """An end in place of this box: what is likeliest by then, and the step that would come next."""
        titles = {"cause-found": "Found", "no-listed-cause": "Probably no listed cause"}
        notes = (*self._leading(found), f"Next: {node.title}")
        return ChartNode(ChartNodeKind.END, titles.get(found.verdict, "Leading causes"), node.hazards, notes)

    def _leading(self, found: Diagnosis) -> tuple[str, ...]:
        top = [pair for k, pair in enumerate(found.ranking[:LEADING_CAUSES]) if not k or pair[1] >= LEAST_SHOWN]
        lines = [f"{percent(chance)} {self.knowledge.causes[cause].title}" for cause, chance in top]
        return (*lines, f"{percent(found.unlisted)} none that is listed") if found.unlisted >= LEAST_SHOWN else tuple(lines)

    def _answers(
        self, found: Diagnosis, place: TreePosition, raised: frozenset[str]
    ) -> tuple[list[ChartBranch], list[str], float]:
        """Answers that enough machines give or that raise a hazard; the others with their share together."""
        finding = self.knowledge.findings[found.advice.step.id]
        shares = found.posterior @ self.diagnostician.model.predict_from_initial_faults(
            finding.id, found.evidence, again=found.advice.step.again
        )
        branches, left, lost = [], [], 0.0
        for answer, share in zip(finding.answers, map(float, shares), strict=True):
            then = place.after(Event(found.advice.step.look, finding.id, answer.id, ""), share, raised)
            if then.reach >= self.least or self._warns(then):
                branches.append(ChartBranch(answer.text, share, self.grow(then)))
            else:
                left.append(answer.text)
                lost += share
                self._progress(then.reach)
        return branches, left, lost

    def _warns(self, place: TreePosition) -> bool:
        """Whether the last answer raises a hazard; such a branch is never left out."""
        seen = replay(History(events=place.events), self.knowledge)
        return not self.diagnostician.ranker.rules.run(seen.current(), seen.facts).cautions.keys() <= place.raised

    def _outcomes(
        self, found: Diagnosis, place: TreePosition, raised: frozenset[str]
    ) -> tuple[list[ChartBranch], list[str], float]:
        """What can come of a fix."""
        step = found.advice.step
        self._progress(place.reach * step.success_probability)
        words = self.knowledge.base.words
        good = ChartBranch(words.works, step.success_probability, ChartNode(ChartNodeKind.STARTS, words.prove))
        then = place.after(Event(EventKind.TRIED, step.id, "same", ""), 1 - step.success_probability, raised)
        if then.reach < self.least and not self._warns(then):
            self._progress(then.reach)
            return [good], ["No change"], 1 - step.success_probability
        return [good, ChartBranch("No change", 1 - step.success_probability, self.grow(then))], [], 0.0


def _effort(effort: Effort) -> str:
    money = f", costs {effort.money:g}" if effort.money else ""
    return f"{effort.minutes:g} min{money}"
