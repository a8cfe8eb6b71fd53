"""The steps available now: questions and fixes not yet done or closed, whose conditions hold and that no hazard forbids."""

from __future__ import annotations

from functools import cached_property

from nopost.diagnosis.belief.evidence import Observations, Report
from nopost.diagnosis.rules.engine import Inference
from nopost.knowledge.model import Action, Finding, Knowledge


def blocking_hazard(knowledge: Knowledge, inference: Inference, fix: str = "") -> str:
    """Id of the hazard because of which nothing that needs power may be done; "" when there is none.

    A hazard does not block the `fix` that the rule raising it puts first, since this fix is what ends it.
    """
    own = inference.do_first.get(fix)
    return next((name for name, rule in inference.cautions.items() if knowledge.hazards[name].stop and rule != own), "")


def power_blocker(knowledge: Knowledge, inference: Inference, item: Finding | Action) -> str:
    """Id of the hazard or the rule because of which a step that needs power may not be taken now; "" when there is none.

    A rule that keeps the machine unpowered excepts a question by its own id or by that of the test it needs.
    """
    if not item.powered:
        return ""
    if isinstance(item, Finding):
        return blocking_hazard(knowledge, inference) or inference.keeps_unpowered(item.id, item.action or item.id)
    return blocking_hazard(knowledge, inference, item.id) or inference.keeps_unpowered(item.id)


class AvailableSteps:
    """The questions and fixes available in one state of a session.

    `answers`: finding -> answer, as observed or as derived by rules. `power_forbidden`: whether a hazard or a rule is there
    because of which nothing that needs power may be done, but for the exceptions that it makes.
    """

    def __init__(self, knowledge: Knowledge, observations: Observations, inference: Inference) -> None:
        self.knowledge, self.observations, self.inference = knowledge, observations, inference
        self.answers = inference.answers()
        self._answered = observations.asked() | inference.derived.keys()
        self.power_forbidden = bool(blocking_hazard(knowledge, inference) or inference.unpowered)

    def questions(self) -> list[Finding]:
        """Findings that can be asked, in the order of the knowledge base."""
        return self._questions

    @cached_property
    def _questions(self) -> list[Finding]:
        return [f for f in self.knowledge.findings.values() if self._can_be_asked(f)]

    def fixes(self) -> list[Action]:
        """Fixes that can be tried, in the order of the knowledge base."""
        actions = self.knowledge.actions.values()
        return [a for a in actions if a.kind == "fix" and a.id not in self.observations.tried and self._can_be_done(a)]

    def repeatable(self) -> list[Report]:
        """Answers since the last fix at which one can look once more: what is seen at the machine without any test."""
        return [
            report for report in self.observations.seen_once() if self._can_be_repeated(self.knowledge.findings[report.finding])
        ]

    def _can_be_repeated(self, finding: Finding) -> bool:
        at_the_machine = finding.effort.minutes > 0 and not finding.action and not finding.is_past
        return bool(finding.question and at_the_machine and self._is_open(finding, "finding"))

    @cached_property
    def danger_to_confirm(self) -> tuple[str, str] | None:
        """The finding whose answer raised a hazard that stops everything, not yet looked at again, and the rule that raised it.

        Where several answers raise it together, the last of them; None when no stop stands or all were confirmed.
        """
        for hazard, rule in self.inference.cautions.items():
            if not self.knowledge.hazards[hazard].stop:
                continue
            premises = self.inference.premises(self.knowledge.rules[rule])
            reported = [
                r.finding for r in self.observations.reports if r.finding in premises and r.finding in self.inference.reported
            ]
            askable = [name for name in reported if self.knowledge.findings[name].question]
            if askable and not any(self.observations.was_confirmed(name) for name in reported):
                return askable[-1], rule
        return None

    def _can_be_asked(self, finding: Finding) -> bool:
        if not finding.question or finding.id in self._answered:
            return False
        if finding.action and not self._can_be_done(self.knowledge.actions[finding.action]):
            return False
        return self._is_open(finding, "finding")

    def _can_be_done(self, action: Action) -> bool:
        return action.id not in self.observations.skipped and self._is_open(action, "action")

    def _is_open(self, item: Finding | Action, kind: str) -> bool:
        """Whether no hazard and no rule forbids it and its conditions hold; `kind`: "finding" or "action"."""
        if self.power_forbidden and power_blocker(self.knowledge, self.inference, item):
            return False
        key = (kind, item.id)
        if key in self.inference.closed or (item.closed and key not in self.inference.opened):
            return False
        return item.when.hold(self.answers, self.observations.facts)
