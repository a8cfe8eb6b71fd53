"""Which questions and fixes can be offered now: not done, not closed, their conditions hold, and nothing forbids power."""

from __future__ import annotations

from functools import cached_property

from nopost.diagnosis.observations import Observations
from nopost.diagnosis.rules.inference import Inference
from nopost.knowledge.model import Action, Finding, Knowledge


def blocking_hazard(knowledge: Knowledge, outcome: Inference, fix: str = "") -> str:
    """The hazard under which nothing that needs power is done; "" when there is none.

    The fix that the rule raising it puts first is how it ends: for that one it does not count.
    """
    own = outcome.do_first.get(fix)
    return next((name for name, rule in outcome.cautions.items() if knowledge.hazards[name].stop and rule != own), "")


class AvailableSteps:
    """What is on offer in one state of a session."""

    def __init__(self, knowledge: Knowledge, seen: Observations, outcome: Inference) -> None:
        self.knowledge, self.seen, self.outcome = knowledge, seen, outcome
        self.answers = outcome.answers()
        self._settled = seen.asked() | outcome.derived.keys()
        self.stopped = bool(blocking_hazard(knowledge, outcome))
        """A hazard was raised under which nothing that needs power is done."""

    def questions(self) -> list[Finding]:
        """Findings that can be asked."""
        return self._questions

    @cached_property
    def _questions(self) -> list[Finding]:
        return [f for f in self.knowledge.findings.values() if self._askable(f)]

    def fixes(self) -> list[Action]:
        """Fixes that can be tried."""
        actions = self.knowledge.actions.values()
        return [a for a in actions if a.kind == "fix" and a.id not in self.seen.tried and self._doable(a)]

    def _askable(self, finding: Finding) -> bool:
        if not finding.question or finding.id in self._settled:
            return False
        if finding.action and not self._doable(self.knowledge.actions[finding.action]):
            return False
        return self._open(finding, "finding")

    def _doable(self, action: Action) -> bool:
        return action.id not in self.seen.skipped and self._open(action, "action")

    def _open(self, item: Finding | Action, what: str) -> bool:
        if self.stopped and item.powered and blocking_hazard(self.knowledge, self.outcome, item.id if what == "action" else ""):
            return False
        key = (what, item.id)
        if key in self.outcome.closed or (item.closed and key not in self.outcome.opened):
            return False
        return item.when.hold(self.answers, self.seen.facts)
