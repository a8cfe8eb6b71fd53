"""The same model once more, written for the tests: as Bayesian networks in pyAgrum and as plain sums over what is left.

Nothing here uses `nopost.belief`; only the knowledge base and the evidence are shared. Published formulas: noisy-MAX with a
leak, Díez 1993 (UAI, "Parameter adjustment in Bayes networks: the generalized noisy OR-gate"); virtual evidence, Pearl 1988.
The yardstick itself is held against published posteriors in `test_published.py`.
"""

from __future__ import annotations

import importlib
import itertools
import math
import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from nopost.belief.evidence import Evidence, Report
from nopost.knowledge.model import Cause, Combine, Finding, Knowledge

with warnings.catch_warnings():
    # Its binary module warns on import; as an error that ends the process.
    warnings.simplefilter("ignore")
    gum: Any = importlib.import_module("pyagrum")

Row = list[float]
Set = frozenset[str]
CLUMSY = 0.005
"""A fix leaves at least this chance that it was done badly."""


def share_out(values: Sequence[float]) -> Row:
    """The values so that they add up to 1."""
    return [value / sum(values) for value in values]


def table(finding: Finding, shown: Mapping[str, float]) -> Row:
    """A distribution of the knowledge base in the order of the answers."""
    return share_out([shown.get(a, 0.0) for a in finding.answer_ids])


def own_effect(finding: Finding, shown: Mapping[str, float] | None) -> Row:
    """Graded: where one cause alone, without the leak, puts the finding; cumulative(cause) = own * cumulative(baseline)."""
    leak = list(itertools.accumulate(table(finding, finding.baseline)))
    seen = shown if shown is not None else finding.unnamed or finding.baseline
    total = itertools.accumulate(table(finding, seen))
    ratios = [t / b if b > 0 else 0.0 for t, b in zip(total, leak, strict=True)]
    return [max(high - low, 0.0) for low, high in itertools.pairwise([0.0, *ratios])]


def truth(knowledge: Knowledge, finding: Finding, present: Set) -> Row:
    """P(true answer | exactly these causes are there), for any number of them."""
    causes = [knowledge.causes[name] for name in sorted(present)]
    shown = [cause.shows.get(finding.id) for cause in causes]
    baseline = table(finding, finding.baseline)
    if finding.combine is Combine.HISTORY:
        return _history(finding, shown, baseline)
    if finding.combine is Combine.GRADED:
        return _noisy_max(baseline, [own_effect(finding, one) for one in shown])
    named = [table(finding, one) for one in shown if one is not None]
    if not named:
        return table(finding, finding.unnamed) if finding.unnamed and causes else baseline
    return [sum(column) / len(named) for column in zip(*named, strict=True)]


def _history(finding: Finding, shown: Sequence[Mapping[str, float] | None], baseline: Row) -> Row:
    ratios = [math.prod((one or {}).get(a, 1.0) for one in shown) for a in finding.answer_ids]
    return share_out([b * r for b, r in zip(baseline, ratios, strict=True)])


def _noisy_max(baseline: Row, effects: list[Row]) -> Row:
    """P(maximum <= k) is the product of everyone's P(<= k)."""
    rows = [list(itertools.accumulate(row)) for row in (baseline, *effects)]
    total = [math.prod(column) for column in zip(*rows, strict=True)]
    return share_out([high - low for low, high in itertools.pairwise([0.0, *total])])


def reported(finding: Finding) -> list[Row]:
    """P(reported answer | shown answer)."""
    ids = finding.answer_ids
    return [[1 - finding.misreport if a == b else finding.misreport / (len(ids) - 1) for b in ids] for a in ids]


def chance_of_report(knowledge: Knowledge, report: Report, true_answers: Row) -> Row:
    """P(report and true answer) for each true answer."""
    finding = knowledge.findings[report.finding]
    column = [row[finding.answer_ids.index(report.answer)] for row in reported(finding)]
    if finding.reads:
        target = knowledge.findings[finding.reads.finding]
        rows = [table(finding, finding.reads.table[a]) for a in target.answer_ids]
        column = [sum(p * c for p, c in zip(row, column, strict=True)) for row in rows]
    return [p * c for p, c in zip(true_answers, column, strict=True)]


def target_of(knowledge: Knowledge, name: str) -> Finding:
    """The finding behind an instrument, or the finding itself."""
    finding = knowledge.findings[name]
    return knowledge.findings[finding.reads.finding] if finding.reads else finding


def likelihood(knowledge: Knowledge, reports: Sequence[Report], present: Set) -> float:
    """P(reports of one epoch | exactly these causes are there)."""
    result = 1.0
    for name in {target_of(knowledge, r.finding).id for r in reports}:
        row = truth(knowledge, knowledge.findings[name], present)
        result *= _through(knowledge, reports, name, row)
    return result


def _through(knowledge: Knowledge, reports: Sequence[Report], target: str, row: Row) -> float:
    for report in reports:
        if target_of(knowledge, report.finding).id == target:
            row = chance_of_report(knowledge, report, row)
    return sum(row)


def odds(knowledge: Knowledge) -> dict[str, float]:
    """Odds of each cause, scaled so that pairs together are `two_faults` times as probable as single causes."""
    causes = list(knowledge.causes.values())
    pairs = sum(a.weight * b.weight for a, b in itertools.combinations(causes, 2) if not (a.alone or b.alone))
    scale = knowledge.base.two_faults * sum(c.weight for c in causes) / pairs if pairs else 1.0
    return {c.id: scale * c.weight for c in causes}


def sets(knowledge: Knowledge) -> Iterator[Set]:
    """Each cause alone and each pair that can be together."""
    yield from (frozenset({name}) for name in knowledge.causes)
    social = [c.id for c in knowledge.causes.values() if not c.alone]
    yield from (frozenset(pair) for pair in itertools.combinations(social, 2))


def priors(knowledge: Knowledge) -> dict[Set, float]:
    """Prior of each set of causes, given that one is there."""
    weights = odds(knowledge)
    total = {present: math.prod(weights[name] for name in present) for present in sets(knowledge)}
    return {present: weight / sum(total.values()) for present, weight in total.items()}


def stays(cause: Cause, action: str) -> float:
    """Chance that a fix leaves this cause where it was."""
    return max(1 - cause.fixes.get(action, 0.0), CLUMSY)


def unlisted_likelihood(knowledge: Knowledge, evidence: Evidence) -> float:
    """P(reports | something that nobody wrote down): it looks like the mean listed cause, blurred towards all answers alike."""
    weights = share_out([c.weight for c in knowledge.causes.values()])
    spread = knowledge.base.unlisted_spread
    result = 1.0
    for epoch in range(len(evidence.tried) + 1):
        reports = [r for r in evidence.reports if r.epoch == epoch]
        for name in {target_of(knowledge, r.finding).id for r in reports}:
            finding = knowledge.findings[name]
            rows = [truth(knowledge, finding, frozenset({c})) for c in knowledge.causes]
            mean = [sum(w * p for w, p in zip(weights, column, strict=True)) for column in zip(*rows, strict=True)]
            row = [(1 - spread) * p + spread / len(mean) for p in mean]
            result *= _through(knowledge, reports, name, row)
    return result


def enumerated(knowledge: Knowledge, evidence: Evidence) -> dict[Set, float]:
    """Posterior of each set of causes by summing over all that may be left after each fix; the empty set is the unlisted one."""

    def course(left: Set, epoch: int) -> float:
        """P(everything from this epoch on | these causes are left)."""
        here = likelihood(knowledge, [r for r in evidence.reports if r.epoch == epoch], left)
        if epoch == len(evidence.tried):
            return here
        rest = {name: stays(knowledge.causes[name], evidence.tried[epoch]) for name in left}
        later = 0.0
        for size in range(1, len(left) + 1):
            for kept in map(frozenset, itertools.combinations(sorted(left), size)):
                later += math.prod(rest[n] if n in kept else 1 - rest[n] for n in left) * course(kept, epoch + 1)
        return here * later

    def by_rules(present: Set) -> float:
        """Factor that the rules put on it."""
        return 0.0 if present & evidence.ruled_out else math.prod(10 ** (d / 10) for c, d, _ in evidence.decibans if c in present)

    share = knowledge.base.unlisted_share
    total = {present: (1 - share) * p * by_rules(present) * course(present, 0) for present, p in priors(knowledge).items()}
    total[frozenset()] = share * unlisted_likelihood(knowledge, evidence)
    return {present: weight / sum(total.values()) for present, weight in total.items()}


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
        for epoch in range(len(evidence.tried) + 1):
            if epoch:
                self._try(evidence.tried[epoch - 1], epoch)
            for number, report in enumerate(r for r in evidence.reports if r.epoch == epoch):
                self._report(report, epoch, f"{epoch}.{number}")
        for number, (cause, decibans, _) in enumerate(evidence.decibans):
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
            rest = stays(cause, action)
            self._fill(after, [before], lambda present, r=rest: [1 - r, r] if present else [1.0, 0.0])
        self._yes_no(f"dead@{epoch}", [f"{name}@{epoch}" for name in self.knowledge.causes], lambda present: float(bool(present)))

    def _report(self, report: Report, epoch: int, number: str) -> None:
        finding, target = self.knowledge.findings[report.finding], target_of(self.knowledge, report.finding)
        source = self._truth(target, epoch)
        if finding.reads:
            self._node(f"shown.{number}", finding.answer_ids, [source])
            self.net.cpt(f"shown.{number}")[:] = [table(finding, finding.reads.table[a]) for a in target.answer_ids]
            source = f"shown.{number}"
        self._node(f"told.{number}", finding.answer_ids, [source])
        self.net.cpt(f"told.{number}")[:] = reported(finding)
        self.given[f"told.{number}"] = report.answer

    def _truth(self, target: Finding, epoch: int) -> str:
        """The node of the true answer, made when it is first asked for."""
        name = f"true.{target.id}@{epoch}"
        if name in self.net.names():
            return name
        bearing = [c.id for c in self.knowledge.causes.values() if target.unnamed or target.id in c.shows]
        parents = [f"{cause}@{epoch}" for cause in bearing]
        if self.chain and target.combine is Combine.GRADED:
            self._maximum(name, target, parents)
        else:
            self._node(name, target.answer_ids, parents)
            self._fill(name, parents, lambda present: truth(self.knowledge, target, present))
        return name

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
    for number, report in enumerate(evidence.reports):
        finding, target = knowledge.findings[report.finding], target_of(knowledge, report.finding)
        source, told = f"true.{target.id}", f"told.{number}"
        if source not in net.names():
            net.add(gum.LabelizedVariable(source, "", list(target.answer_ids)))
            net.addArc("h", source)
            net.cpt(source)[:] = [truth(knowledge, target, present) for present in prior]
        if finding.reads:
            net.add(gum.LabelizedVariable(f"shown.{number}", "", list(finding.answer_ids)))
            net.addArc(source, f"shown.{number}")
            source = f"shown.{number}"
            net.cpt(source)[:] = [table(finding, finding.reads.table[a]) for a in target.answer_ids]
        net.add(gum.LabelizedVariable(told, "", list(finding.answer_ids)))
        net.addArc(source, told)
        net.cpt(told)[:] = reported(finding)
        given[told] = report.answer
    return net, given
