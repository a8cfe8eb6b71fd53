"""The same model once more, written for the tests as plain sums over what remains; `networks` has it as Bayesian networks.

Nothing here uses the project's belief; only the knowledge base and the evidence are shared. Published formulas: noisy-MAX with a
leak, Díez 1993 (UAI, "Parameter adjustment in Bayes networks: the generalized noisy OR-gate"); virtual evidence, Pearl 1988.
The reference itself is held against published posteriors in `test_published.py`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

from nopost.diagnosis.belief.evidence import Evidence, Report
from nopost.knowledge.model import Cause, Combine, Finding, Knowledge

Row = list[float]
Set = frozenset[str]
LEAST_PERSISTENCE = 0.005
"""A fix was done badly with at least this probability."""


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


def persistence(cause: Cause, action: str) -> float:
    """P(the cause is present after a fix | it was present)."""
    return max(1 - cause.fixes.get(action, 0.0), LEAST_PERSISTENCE)


def unlisted_likelihood(knowledge: Knowledge, evidence: Evidence) -> float:
    """P(reports | something that nobody wrote down): it looks like the mean listed cause, blurred towards all answers alike."""
    weights = share_out([c.weight for c in knowledge.causes.values()])
    spread = knowledge.base.unlisted_spread
    result = 1.0
    for epoch in range(len(evidence.failed_repairs) + 1):
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

    def from_epoch(left: Set, epoch: int) -> float:
        """P(everything from this epoch on | these causes are left)."""
        here = likelihood(knowledge, [r for r in evidence.reports if r.epoch == epoch], left)
        if epoch == len(evidence.failed_repairs):
            return here
        rest = {name: persistence(knowledge.causes[name], evidence.failed_repairs[epoch]) for name in left}
        later = 0.0
        for size in range(1, len(left) + 1):
            for kept in map(frozenset, itertools.combinations(sorted(left), size)):
                later += math.prod(rest[n] if n in kept else 1 - rest[n] for n in left) * from_epoch(kept, epoch + 1)
        return here * later

    def by_rules(present: Set) -> float:
        """Factor that the rules put on it."""
        return (
            0.0
            if present & evidence.ruled_out
            else math.prod(10 ** (d / 10) for c, d, _ in evidence.rule_weights if c in present)
        )

    share = knowledge.base.unlisted_share
    total = {present: (1 - share) * p * by_rules(present) * from_epoch(present, 0) for present, p in priors(knowledge).items()}
    total[frozenset()] = share * unlisted_likelihood(knowledge, evidence)
    return {present: weight / sum(total.values()) for present, weight in total.items()}
