"""A simulated machine that does not start: it answers and is mended exactly as the knowledge base says, with luck of its own.

Its causes are drawn by the prior of the knowledge base. Luck is by name: a number depends only on a seed and on what it is for,
never on what was drawn before. So two ways of repairing the same machine meet the same luck (common random numbers: Law,
Simulation Modeling and Analysis, chapter on variance reduction), and the order of the work does not change the machine.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterable, Sequence

import numpy as np

from nopost.diagnosis.belief.finding_node import HypothesisRows
from nopost.diagnosis.belief.hypotheses import Floats
from nopost.diagnosis.belief.posterior import BeliefModel
from nopost.diagnosis.belief.repair_outcomes import after_removal, change_by_hypothesis
from nopost.diagnosis.history import Parts
from nopost.diagnosis.parts_facts import facts_of
from nopost.errors import NopostError, UnknownNameError
from nopost.knowledge.model import ABSENT, UNKNOWN, Action, Conditions, Finding


def uniform_by_name(seed: int, *what: str | int) -> float:
    """A number from 0 up to 1, the same for the same seed and names on every machine."""
    text = "\x1f".join(map(str, (seed, *what)))
    digest = hashlib.blake2b(text.encode(), digest_size=8).digest()
    return (int.from_bytes(digest, "big") >> 11) / 2**53


def sample_index(weights: Floats | Sequence[float], u: float) -> int:
    """Index drawn in proportion to the weights, from a uniform number; never one of weight 0."""
    edges = np.cumsum(weights)
    place = int(np.searchsorted(edges, u * edges[-1], side="right"))
    return min(place, int(np.flatnonzero(np.asarray(weights) > 0)[-1]))


Causes = tuple[str, ...]


def sample_causes(
    model: BeliefModel, rng: random.Random, *, two_faults: bool = True, cause: str = "", unlisted: bool = False
) -> Causes:
    """One or two causes by the prior. `two_faults`: pairs too; `cause`: only sets with this one; `unlisted`: also no listed
    cause at all, an empty tuple. Raises UnknownNameError."""
    h = model.hypotheses
    weights = np.exp(h.log_prior)
    if not two_faults:
        weights[h.pairs] = 0.0
    if not unlisted:
        weights[-1] = 0.0
    if cause:
        if cause not in model.cause_index:
            raise UnknownNameError("cause", cause, model.cause_index)
        weights = weights * h.has(model.cause_index[cause])
    return causes_of_hypothesis(model, sample_index(weights, rng.random()))


def causes_of_hypothesis(model: BeliefModel, hypothesis: int) -> Causes:
    """The causes of a hypothesis, by its number; none for the unlisted one."""
    names = {
        model.hypotheses.causes[k] for k in (model.hypotheses.first[hypothesis], model.hypotheses.second[hypothesis]) if k >= 0
    }
    return tuple(sorted(names))


def hypothesis_of(model: BeliefModel, causes: Causes) -> int:
    """The number of the hypothesis with just these causes. Raises UnknownNameError, and NopostError when they cannot be
    together."""
    for cause in causes:
        if cause not in model.cause_index:
            raise UnknownNameError("cause", cause, model.cause_index)
    there = model.hypotheses.sizes == len(set(causes))
    for cause in causes:
        there &= model.hypotheses.has(model.cause_index[cause])
    rows = np.flatnonzero(there)
    if not len(rows):
        raise NopostError(f"{' and '.join(causes)} do not go together in this knowledge base")
    return int(rows[0])


NO_PARTS = Parts()


class SimulatedMachine:
    """One machine with its true causes. What it shows is drawn when first looked at and then kept.

    `causes`: one, two, or none for a cause that nobody wrote down (no fix mends it). `remaining`: those still there. The same
    seed gives the same machine, in whatever order it is looked at and worked on. `parts`: what it is made of, as
    far as records say.
    Raises UnknownNameError, and NopostError for causes that do not go together.
    """

    def __init__(self, model: BeliefModel, causes: Iterable[str], seed: int, parts: Parts = NO_PARTS) -> None:
        self.model, self.knowledge, self.seed, self.parts = model, model.knowledge, seed, parts
        self.facts = facts_of(parts, self.knowledge).facts
        self.causes = tuple(sorted(set(causes)))
        self.remaining = self.causes
        self.starts = False
        self._hypothesis = hypothesis_of(model, self.causes)
        self._states: dict[str, int] = {}
        self._drawn: dict[str, int] = {}
        self._looks: dict[str, int] = {}
        self._done: dict[str, int] = {}

    def look(self, finding: str) -> str:
        """The answer that a person reports; `absent` when the machine has no such thing, `unknown` when there is nothing to see.

        Asking again shows the same, but the person may this time read it rightly or wrongly.
        """
        item = self._finding(finding)
        if not self.can_be_seen(finding):
            return ABSENT if item.absent and not self._is_there(item) else UNKNOWN
        self._looks[finding] = self._looks.get(finding, 0) + 1
        true = self._state(finding)
        if self._uniform("slip", finding, self._looks[finding]) >= item.misreport:
            return item.answer_ids[true]
        others = [answer for k, answer in enumerate(item.answer_ids) if k != true]
        return others[sample_index([1.0] * len(others), self._uniform("slip to", finding, self._looks[finding]))]

    def true_answer(self, finding: str) -> str:
        """What is really to be seen."""
        return self._finding(finding).answer_ids[self._state(finding)]

    def can_be_seen(self, finding: str) -> bool:
        """Whether the conditions of the finding hold, in truth, on this machine."""
        return self.holds(self._finding(finding).when)

    def _is_there(self, item: Finding) -> bool:
        """Whether facts allow it; what the machine shows may still leave nothing to see of it."""
        of_facts = (tuple(c for c in conditions if c.of_fact) for conditions in (item.when.all, item.when.none))
        return Conditions(*of_facts).hold({}, self.facts)

    def holds(self, when: Conditions) -> bool:
        """Whether conditions hold, in truth, on this machine."""
        return when.hold({c.name: self.true_answer(c.name) for c in when if not c.of_fact}, self.facts)

    def do(self, action: str) -> str:
        """Do a fix: `starts`, `changed` when something else is seen now, or `same`. A test mends nothing; look at its findings.

        Whether something else is seen is drawn by what the fix and the causes say of it; a fix that says nothing shows just the
        loss of one of two causes.
        """
        item = self._action(action)
        self._done[action] = self._done.get(action, 0) + 1
        stays = self.model.persistence([action])
        still = tuple(
            c for c in self.remaining if self._uniform("mends", action, c, self._done[action]) < stays[self.model.cause_index[c]]
        )
        if self.starts or (self.causes and not still):
            self.starts, self.remaining = True, ()
            return "starts"
        removed = still != self.remaining
        self.remaining = still
        if removed:
            self._hypothesis = hypothesis_of(self.model, still)
        if not self._shows_change(action, removed=removed):
            return "same"
        for finding in item.after:
            self._forget(finding)
        return "changed"

    def _shows_change(self, action: str, *, removed: bool) -> bool:
        """Whether something else is seen after a fix in vain, by luck. `removed`: it has removed one of two causes."""
        chance = self.model.chance_of_change(action)
        if chance is None:
            return removed
        p = change_by_hypothesis(self.model.hypotheses, chance)[self._hypothesis]
        if removed:
            p = after_removal(p)
        return bool(self._uniform("changes", action, self._done[action]) < p)

    def _state(self, finding: str) -> int:
        """Number of the true answer, drawn from what is there now when it is not drawn yet."""
        if finding not in self._states:
            item = self.knowledge.findings[finding]
            u = self._uniform("state", finding, self._drawn.get(finding, 0))
            if item.parent_finding:
                row = self._conditional(finding)[self._state(item.parent_finding)]
            else:
                row = self.model.true_answer_tables[finding][self._hypothesis]
            self._states[finding] = sample_index(row, u)
        return self._states[finding]

    def _conditional(self, finding: str) -> Floats:
        """(the parent's answers, answers) P(true answer | what is there now, the parent's answer)."""
        now = HypothesisRows.of(self.model.hypotheses, np.array([self._hypothesis]))
        return np.asarray(self.model.forest.conditional(finding, now)[0])

    def _forget(self, finding: str) -> None:
        """It may look otherwise now, and so may all that depends on it or on which it depends, but for what is past."""
        forest = self.model.forest
        above = [name for name in forest.path(finding) if not self.knowledge.findings[name].is_past]
        for name in (above[0], *forest.descendants(above[0])) if above else ():
            if not self.knowledge.findings[name].is_past and self._states.pop(name, None) is not None:
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
        return uniform_by_name(self.seed, *what)
