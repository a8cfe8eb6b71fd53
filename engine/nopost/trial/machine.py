"""A simulated dead machine: it answers and is mended exactly as the knowledge base says, with luck of its own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from nopost.belief.model import BeliefModel
from nopost.errors import UnknownNameError
from nopost.knowledge.model import ABSENT, UNKNOWN, Action, Conditions, Finding
from nopost.trial.chance import pick, uniform
from nopost.trial.draw import hypothesis_of

NO_FACTS: Mapping[str, str] = MappingProxyType({})


class DeadMachine:
    """One machine with its true causes. What it shows is drawn when first looked at and then kept.

    `causes`: one, two, or none for a cause that nobody wrote down (no fix mends it). `left`: those still there. The same seed
    gives the same machine, in whatever order it is looked at and worked on. `facts`: what the records settle.
    Raises UnknownNameError, and NopostError for causes that do not go together.
    """

    def __init__(self, model: BeliefModel, causes: Iterable[str], seed: int, facts: Mapping[str, str] = NO_FACTS) -> None:
        self.model, self.knowledge, self.seed, self.facts = model, model.knowledge, seed, facts
        self.causes = tuple(sorted(set(causes)))
        self.left = self.causes
        self.starts = False
        self._hypothesis = hypothesis_of(model, self.causes)
        self._shown: dict[str, int] = {}
        self._drawn: dict[str, int] = {}
        self._looks: dict[str, int] = {}
        self._done: dict[str, int] = {}

    def look(self, finding: str) -> str:
        """The answer that a person reports, or `absent` or `unknown` when there is nothing to see on this machine.

        Asking again shows the same, but the person may this time read it rightly or wrongly.
        """
        item = self._finding(finding)
        if not self.can_be_seen(finding):
            return ABSENT if item.absent else UNKNOWN
        self._looks[finding] = self._looks.get(finding, 0) + 1
        true = self._state(finding)
        if self._uniform("slip", finding, self._looks[finding]) >= item.misreport:
            return item.answer_ids[true]
        others = [answer for k, answer in enumerate(item.answer_ids) if k != true]
        return others[pick([1.0] * len(others), self._uniform("slip to", finding, self._looks[finding]))]

    def true_answer(self, finding: str) -> str:
        """What is really to be seen."""
        return self._finding(finding).answer_ids[self._state(finding)]

    def can_be_seen(self, finding: str) -> bool:
        """Whether the conditions of the finding hold, in truth, on this machine."""
        return self.holds(self._finding(finding).when)

    def holds(self, when: Conditions) -> bool:
        """Whether conditions hold, in truth, on this machine."""
        return when.hold({c.name: self.true_answer(c.name) for c in when if not c.of_fact}, self.facts)

    def do(self, action: str) -> str:
        """Do a fix: `starts`, `changed` when one of two causes is gone, or `same`. A test mends nothing; look at its findings."""
        item = self._action(action)
        self._done[action] = self._done.get(action, 0) + 1
        stays = self.model.left([action])
        still = tuple(c for c in self.left if self._uniform("mends", action, c, self._done[action]) < stays[self.model.index[c]])
        if still == self.left:
            return "starts" if self.starts else "same"
        self.left = still
        if not still:
            self.starts = True
            return "starts"
        self._hypothesis = hypothesis_of(self.model, still)
        for finding in item.after:
            self._forget(finding)
        return "changed"

    def _state(self, finding: str) -> int:
        """Number of the true answer, drawn from what is there now when it is not drawn yet."""
        if finding not in self._shown:
            item = self.knowledge.findings[finding]
            u = self._uniform("state", finding, self._drawn.get(finding, 0))
            if item.reads is None:
                self._shown[finding] = pick(self.model.true[finding][self._hypothesis], u)
            else:
                row = item.reads.table[self.true_answer(item.reads.finding)]
                self._shown[finding] = pick([row.get(answer, 0.0) for answer in item.answer_ids], u)
        return self._shown[finding]

    def _forget(self, finding: str) -> None:
        """It may look otherwise now, and so may all that shows the same thing."""
        reads = self.knowledge.findings[finding].reads
        target = reads.finding if reads else finding
        readers = [f.id for f in self.knowledge.findings.values() if f.reads and f.reads.finding == target]
        for name in (target, *readers):
            if self._shown.pop(name, None) is not None:
                self._drawn[name] = self._drawn.get(name, 0) + 1

    def _finding(self, finding: str) -> Finding:
        if finding not in self.knowledge.findings:
            raise UnknownNameError("finding", finding, self.knowledge.findings)
        return self.knowledge.findings[finding]

    def _action(self, action: str) -> Action:
        if action not in self.knowledge.actions:
            raise UnknownNameError("action", action, self.knowledge.actions)
        return self.knowledge.actions[action]

    def _uniform(self, *what: str | int) -> float:
        return uniform(self.seed, *what)
