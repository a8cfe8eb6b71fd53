"""The same model as Bayesian networks in pyAgrum: exact inference by lazy propagation of an independent library."""

from __future__ import annotations

import importlib
import itertools
import math
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from diagnosis.belief.reference import (
    REMOVAL_SHOWS,
    Row,
    Set,
    conditional,
    odds,
    own_effect,
    parent_of,
    persistence,
    priors,
    reported,
    share_out,
    table,
    trees,
    truth,
    unlisted_likelihood,
)
from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.knowledge.model import Cause, Combine, Finding, Knowledge

with warnings.catch_warnings():
    # Its binary module warns on import; as an error that ends the process.
    warnings.simplefilter("ignore")
    gum: Any = importlib.import_module("pyagrum")


@dataclass
class Net:
    """A Bayesian network with a yes/no node for each cause, another one after each fix, and what is seen of them.

    `chain`: graded findings get one hidden node per cause and the maximum of them, instead of one large table.
    """

    knowledge: Knowledge
    chain: bool = False
    net: Any = field(default_factory=lambda: gum.BayesNet("reference"))
    given: dict[str, Any] = field(default_factory=dict)
    weights: list[tuple[float, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        for name, o in odds(self.knowledge).items():
            self._node(f"{name}@0", ("no", "yes"), [])
            self.net.cpt(f"{name}@0").fillWith([1 / (1 + o), o / (1 + o)])
        self._yes_no("one-or-two", [f"{name}@0" for name in self.knowledge.causes], self._possible)

    def _possible(self, present: Set) -> float:
        alone = any(self.knowledge.causes[name].alone for name in present)
        return float(len(present) == 1 or (len(present) == 2 and not alone))

    def _node(self, name: str, answers: Sequence[str], parents: Sequence[str]) -> None:
        self.net.add(gum.LabelizedVariable(name, name, list(answers)))
        for parent in parents:
            self.net.addArc(parent, name)

    def _fill(self, name: str, parents: Sequence[str], row: Any) -> None:
        """Rows of a table from the set of causes that are there."""
        for states in itertools.product((0, 1), repeat=len(parents)):
            present = frozenset(p.split("@")[0] for p, s in zip(parents, states, strict=True) if s)
            self.net.cpt(name)[dict(zip(parents, states, strict=True))] = row(present)

    def _yes_no(self, name: str, parents: Sequence[str], chance: Any) -> None:
        """A node that was seen to say yes."""
        self._node(name, ("no", "yes"), parents)
        self._fill(name, parents, lambda present: [1 - chance(present), chance(present)])
        self.given[name] = "yes"

    def tell(self, evidence: Evidence) -> None:
        """Enter all of it."""
        for epoch in range(len(evidence.failed_repairs) + 1):
            if epoch:
                self._try(evidence.failed_repairs[epoch - 1], epoch)
                self._seen(evidence, epoch)
            for number, report in enumerate(r for r in evidence.reports if r.epoch == epoch):
                self._report(report, epoch, f"{epoch}.{number}")
        for number, (cause, decibans, _) in enumerate(evidence.rule_weights):
            ratio = 10 ** (decibans / 10)
            there, not_there = min(1.0, ratio), min(1.0, 1 / ratio)
            self._yes_no(f"rule.{number}", [f"{cause}@0"], lambda present, t=there, n=not_there: t if present else n)
            self.weights.append((there, not_there))
        self.given |= {f"{cause}@0": "no" for cause in evidence.ruled_out}

    def _try(self, action: str, epoch: int) -> None:
        """After the fix each cause is still there or not, and one of them is, for the machine is still dead."""
        for cause in self.knowledge.causes.values():
            before, after = f"{cause.id}@{epoch - 1}", f"{cause.id}@{epoch}"
            self._node(after, ("no", "yes"), [before])
            rest = persistence(cause, action)
            self._fill(after, [before], lambda present, r=rest: [1 - r, r] if present else [1.0, 0.0])
        self._yes_no(f"dead@{epoch}", [f"{name}@{epoch}" for name in self.knowledge.causes], lambda present: float(bool(present)))

    def _seen(self, evidence: Evidence, epoch: int) -> None:
        """What was seen after the fix: yes for something else, by pyAgrum's own noisy-OR of what is left and what was removed."""
        outcome, action = evidence.outcome(epoch), self.knowledge.actions.get(evidence.failed_repairs[epoch - 1])
        if not outcome or action is None or action.changes is None:
            return
        name = f"seen@{epoch}"
        self.net.addNoisyORCompound(gum.LabelizedVariable(name, "", 2), 0.0)
        for cause in self.knowledge.causes.values():
            before, after, gone = f"{cause.id}@{epoch - 1}", f"{cause.id}@{epoch}", f"gone.{cause.id}@{epoch}"
            self._node(gone, ("no", "yes"), [before, after])
            for was, still in itertools.product((0, 1), repeat=2):
                removed = float(was and not still)
                self.net.cpt(gone)[{before: was, after: still}] = [1 - removed, removed]
            self.net.addWeightedArc(after, name, cause.changes.get(action.id, action.changes))
            self.net.addWeightedArc(gone, name, REMOVAL_SHOWS)
        self.given[name] = 1 if outcome == "changed" else 0

    def _report(self, report: Report, epoch: int, number: str) -> None:
        finding = self.knowledge.findings[report.finding]
        source = self._truth(finding, epoch)
        self._node(f"told.{number}", finding.answer_ids, [source])
        self.net.cpt(f"told.{number}")[:] = reported(finding)
        self.given[f"told.{number}"] = report.answer

    def _truth(self, finding: Finding, epoch: int) -> str:
        """The node of the true answer, made when it is first asked for."""
        name = f"true.{finding.id}@{epoch}"
        if name in self.net.names():
            return name
        parent = parent_of(self.knowledge, finding)
        causes = [f"{cause}@{epoch}" for cause in self._bearing(finding)] if not finding.reads else []
        if parent:
            above = self._truth(parent, epoch)
            self._node(name, finding.answer_ids, [*causes, above])
            for states in itertools.product((0, 1), repeat=len(causes)):
                present = frozenset(c.split("@")[0] for c, s in zip(causes, states, strict=True) if s)
                for place, answer in enumerate(parent.answer_ids):
                    row = conditional(self.knowledge, finding, present, answer)
                    self.net.cpt(name)[{**dict(zip(causes, states, strict=True)), above: place}] = row
        elif self.chain and finding.combine is Combine.GRADED:
            self._maximum(name, finding, causes)
        else:
            self._node(name, finding.answer_ids, causes)
            self._fill(name, causes, lambda present: truth(self.knowledge, finding, present))
        return name

    def _bearing(self, finding: Finding) -> list[str]:
        """Causes that bear on the finding or on what is above it, for how it depends on the parent is fitted to both."""
        parent = parent_of(self.knowledge, finding)
        above = self._bearing(parent) if parent else []
        own = [c.id for c in self.knowledge.causes.values() if not finding.reads and (finding.unnamed or _names(c, finding))]
        return [name for name in self.knowledge.causes if name in above or name in own]

    def _maximum(self, name: str, target: Finding, parents: Sequence[str]) -> None:
        """The leak, then the maximum with one cause's own effect after the other (pyAgrum's own maximum nodes)."""
        top = len(target.answers) - 1
        steps = [f"{name}.{k}" for k in range(len(parents))] + [name]
        self.net.add(gum.RangeVariable(steps[0], "", 0, top))
        self.net.cpt(steps[0])[:] = table(target, target.baseline)
        for parent, (last, here) in zip(parents, itertools.pairwise(steps), strict=True):
            effect = own_effect(target, self.knowledge.causes[parent.split("@")[0]].shows.get(target.id))
            self.net.add(gum.RangeVariable(f"{here}.own.{parent}", "", 0, top))
            self.net.addArc(parent, f"{here}.own.{parent}")
            self.net.cpt(f"{here}.own.{parent}")[:] = [[1.0] + [0.0] * top, share_out(effect)]
            self.net.addMAX(gum.RangeVariable(here, "", 0, top))
            self.net.addArc(last, here)
            self.net.addArc(f"{here}.own.{parent}", here)

    def probability(self, given: Mapping[str, Any]) -> float:
        """P(given)."""
        inference = gum.LazyPropagation(self.net)
        inference.setEvidence(dict(given))
        inference.makeInference()
        return float(inference.evidenceProbability())

    def marginals(self) -> dict[str, float]:
        """P(cause | everything given), a listed one being there."""
        inference = gum.LazyPropagation(self.net)
        inference.setEvidence(self.given)
        inference.makeInference()
        return {
            name: float(inference.posterior(f"{name}@0")[1]) for name in self.knowledge.causes if f"{name}@0" not in self.given
        }


def network(knowledge: Knowledge, evidence: Evidence, chain: bool = False) -> tuple[dict[str, float], float]:
    """P(cause | evidence, it is listed) of each cause, and P(unlisted | evidence)."""
    net = Net(knowledge, chain)
    net.tell(evidence)
    marginals = {**dict.fromkeys(knowledge.causes, 0.0), **net.marginals()}
    listed = net.probability(net.given) / net.probability({"one-or-two": "yes"})
    other = unlisted_likelihood(knowledge, evidence) * math.prod(not_there for _, not_there in net.weights)
    share = knowledge.base.unlisted_share
    return marginals, share * other / (share * other + (1 - share) * listed)


def one_node(knowledge: Knowledge, evidence: Evidence) -> dict[Set, float]:
    """Posterior of each set, given that it is listed: a network with one node for the hypothesis, for a base of any size.

    Reports before any fix only.
    """
    net, given = one_node_network(knowledge, evidence)
    return dict(zip(priors(knowledge), one_node_posterior(net, given), strict=True))


def one_node_posterior(net: Any, given: Mapping[str, Any]) -> Row:
    """What the network says of its hypotheses."""
    inference = gum.LazyPropagation(net)
    inference.setEvidence(dict(given))
    inference.makeInference()
    return list(map(float, inference.posterior("h").toarray()))


def one_node_network(knowledge: Knowledge, evidence: Evidence) -> tuple[Any, dict[str, Any]]:
    """The network and what is entered into it; the states of its node `h` are in the order of `priors`."""
    prior = priors(knowledge)
    net = gum.BayesNet("one")
    net.add(gum.LabelizedVariable("h", "", [str(k) for k in range(len(prior))]))
    net.cpt("h")[:] = list(prior.values())
    given: dict[str, Any] = {}
    for tree in trees(knowledge, [r.finding for r in evidence.reports]):
        for finding in tree:
            _add_truth(net, knowledge, finding, list(prior))
    for number, report in enumerate(evidence.reports):
        finding, told = knowledge.findings[report.finding], f"told.{number}"
        net.add(gum.LabelizedVariable(told, "", list(finding.answer_ids)))
        net.addArc(f"true.{finding.id}", told)
        net.cpt(told)[:] = reported(finding)
        given[told] = report.answer
    return net, given


def _add_truth(net: Any, knowledge: Knowledge, finding: Finding, hypotheses: Sequence[Set]) -> None:
    """The node of the true answer, below `h` and below the node of its parent, if it has one."""
    name, parent = f"true.{finding.id}", parent_of(knowledge, finding)
    net.add(gum.LabelizedVariable(name, "", list(finding.answer_ids)))
    if parent is None:
        net.addArc("h", name)
        net.cpt(name)[:] = [truth(knowledge, finding, present) for present in hypotheses]
        return
    net.addArc(f"true.{parent.id}", name)
    if finding.reads:
        net.cpt(name)[:] = [conditional(knowledge, finding, None, answer) for answer in parent.answer_ids]
        return
    net.addArc("h", name)
    rows = [[conditional(knowledge, finding, present, answer) for answer in parent.answer_ids] for present in hypotheses]
    order = [n for n in net.cpt(name).names if n != name]
    net.cpt(name)[:] = rows if order[-1] == "h" else [list(column) for column in zip(*rows, strict=True)]


def _names(cause: Cause, finding: Finding) -> bool:
    return finding.id in cause.shows or finding.id in cause.shows_given
